"""Sampling for commands: how many runs, with a bar on a terminal, or why there are none."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import click

from cablewalk.cli.inputs import UNUSABLE, refuse

if TYPE_CHECKING:
    from cablewalk.files.place import Source
    from cablewalk.reports.outage import Sureness
    from cablewalk.reports.thermal import Beyond
    from cablewalk.timeline.account import Account
    from cablewalk.timeline.spread import Spread

RUNS: Final = 10_000
SEED: Final = 1
RUNS_AT_MOST: Final = 10_000_000


class NotSampled(click.ClickException):
    """The plan could not be sampled; the text says why."""

    exit_code = UNUSABLE


class Sampled(NamedTuple):
    """A plan that was sampled, or why it was not."""

    found: Spread | None
    why_not: str

    def sureness(self) -> tuple[Sureness | None, Beyond | None]:
        """Return how sure each outage is, and how often it lasts how long; None: not sampled."""
        if self.found is None:
            return None, None
        from cablewalk.reports.spread_sure import beyond_of, sureness

        return sureness(self.found), beyond_of(self.found)


def runs_option(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command the option that says how often to sample."""
    return click.option(
        "--runs",
        metavar="N",
        type=click.IntRange(0, RUNS_AT_MOST),
        help="Sample the estimates N times: P90, and how often each clock is overrun. Left out: "
        f"{RUNS:,} where every procedure says how its minutes vary ('spread'); 0: never.",
    )(function)


def sampled(
    account: Account, sources: Sequence[Source], runs: int | None, usual: int = RUNS
) -> Sampled:
    """Return the spread of a plan.

    ``runs``: None takes as many as is ``usual`` where the procedures say how their minutes vary.

    Raises:
        NotSampled: it was asked for, and the replay stopped.
        click.exceptions.Exit: it was asked for, and a procedure does not say how its minutes vary.
    """
    if runs is None:
        silent = [p.procedure for p in account.procedures if p.spread is None]
        if not account.procedures or account.trace.stopped:
            return Sampled(None, "the replay stopped" if account.trace.stopped else "no procedure")
        if silent:
            return Sampled(None, f"how minutes vary (spread) is not said in {', '.join(silent)}")
    elif runs == 0:
        return Sampled(None, "--runs 0")
    shapes = shapes_of(account, sources, None, "write it there")
    from cablewalk.timeline.spread import spread  # numpy: only where something is sampled

    number = usual if runs is None else runs
    with progress(number) as tell:
        return Sampled(spread(account, shapes, number, SEED, tell), "")


def shapes_of(
    account: Account, sources: Sequence[Source], shape: str | None, way_out: str
) -> Sequence[str]:
    """Return the distribution of each phase; ``shape`` stands in where a procedure has none.

    Raises:
        NotSampled: the replay stopped, so that what comes after is not known.
        click.exceptions.Exit: a procedure does not say how its minutes vary, nor does the caller.
    """
    from cablewalk.findings import Address, Findings

    trace = account.trace
    if trace.stopped:
        at = trace.refused[-1]
        raise NotSampled(
            f"the replay stopped at step {at.task.step_id}: {at.text}. Correct the plan, or "
            "--keep-going skips what is impossible."
        )
    found = Findings()
    shapes = []
    for n, procedure in enumerate(account.procedures):
        chosen = procedure.spread or shape
        if chosen is None:
            found.error(
                "no-spread",
                Address(n + 1, ("procedure",)),
                f"{procedure.procedure} does not say how its minutes vary",
                expected="'spread: beta' or 'spread: triangular' in the procedure",
                way_out=way_out,
            )
        else:
            shapes.append(str(chosen))
    if found.has_errors:
        refuse(found, sources)
    return shapes


@contextlib.contextmanager
def progress(runs: int) -> Iterator[Callable[[int], None] | None]:
    """Show a bar on a terminal while runs are sampled; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=runs, label="Sampling", file=sys.stderr) as bar:
        yield lambda done: bar.update(done - bar.pos)
