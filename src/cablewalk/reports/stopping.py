"""What of a plan could not be done, in sentences: where a replay stopped, what it skipped."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.files.describe import HasLines
from cablewalk.files.wording import inert
from cablewalk.reports.deed import deed
from cablewalk.timeline.account import Account
from cablewalk.walk.trace import Refused


def stopped_at(account: Account) -> Refused | None:
    """Return the action at which the replay stopped, None where it did not."""
    trace = account.trace
    return trace.refused[-1] if trace.stopped and trace.refused else None


def skipped(account: Account) -> list[Refused]:
    """Return the actions that were skipped in a replay that went on."""
    return [] if account.trace.stopped else account.trace.refused


def why_not(account: Account, refused: Refused) -> str:
    """Return an action and why it could not be done."""
    return f"{deed(account.trace.wiring, refused.task.action)} is not possible: {refused.text}"


def step_name(account: Account, refused: Refused) -> str:
    """Return the id of the step, with its procedure where several are replayed."""
    task = refused.task
    if len(account.procedures) < 2:
        return task.step_id
    return f"{account.procedures[task.phase].procedure}/{task.step_id}"


def stop_words(account: Account) -> str:
    """Return the sentence that says where and why the replay stopped; empty where it did not."""
    last = stopped_at(account)
    if last is None:
        return ""
    return f"THE REPLAY STOPPED at step {step_name(account, last)}: {why_not(account, last)}"


def skip_words(account: Account) -> str:
    """Return how many actions were skipped, with the first; empty where none was."""
    missing = skipped(account)
    if not missing:
        return ""
    count = f"{len(missing)} ACTION{'S' if len(missing) > 1 else ''}"
    first = f"{step_name(account, missing[0])}: {why_not(account, missing[0])}"
    return f"{count} NOT DONE, skipped{', the first' if len(missing) > 1 else ''} at step {first}"


def warnings(account: Account, sources: Sequence[HasLines]) -> list[str]:
    """Return a line for standard error where the replay stopped, or for each skipped action.

    ``sources`` are the files, the baseline's first. Control characters are escaped.
    """
    last = stopped_at(account)
    if last is not None:
        rest = "what comes after it is not known (--keep-going skips it)"
        return [inert(f"{_where(last, sources)}: {stop_words(account)}; {rest}")]
    return [
        inert(
            f"{_where(refused, sources)}: NOT DONE at step {step_name(account, refused)}, "
            f"skipped: {why_not(account, refused)}"
        )
        for refused in skipped(account)
    ]


def _where(refused: Refused, sources: Sequence[HasLines]) -> str:
    address = refused.task.address
    if not 0 <= address.document < len(sources):
        return f"document {address.document}"
    source = sources[address.document]
    line = source.line(address.path)
    return source.name if line is None else f"{source.name}:{line}"
