"""What the reports are given: documents and options, read and replayed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple, NoReturn

import click

from cablewalk.cli.console import say
from cablewalk.cli.interrupt import stop_if_interrupted

if TYPE_CHECKING:
    from cablewalk.files.place import Source
    from cablewalk.findings import Finding
    from cablewalk.timeline.account import Account
    from cablewalk.walk.scene import Spot

ERRORS: Final = 1
"""Exit code: there is a finding of severity error."""
UNUSABLE: Final = 2
"""Exit code: bad usage, or documents that cannot be read or replayed."""


class Replayed(NamedTuple):
    """Documents that were replayed; ``sources`` are their files, the baseline's first."""

    account: Account
    sources: tuple[Source, ...]

    @property
    def exit_code(self) -> int:
        """1 where any finding is of severity error, else 0."""
        return ERRORS if self.account.findings.has_errors else 0


def going_on_options(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that say how a replay goes on."""
    for decorate in reversed(
        (
            click.option(
                "--keep-going",
                is_flag=True,
                help="Skip what is not possible instead of stopping there.",
            ),
            click.option(
                "--get-aheads",
                metavar="N",
                type=click.IntRange(min=0),
                default=0,
                help="Let in the first N get-aheads of each procedure, by priority.",
            ),
        )
    ):
        function = decorate(function)
    return function


def report_arguments(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command the arguments that all reports take."""
    for decorate in reversed(
        (
            click.argument("baseline", metavar="BASELINE"),
            click.argument("procedures", metavar="PROCEDURE...", nargs=-1, required=True),
            click.option("--json", "as_json", is_flag=True, help="Print one JSON object."),
            going_on_options,
        )
    ):
        function = decorate(function)
    return function


def replayed(
    baseline: str, procedures: Sequence[str], keep_going: bool, get_aheads: int
) -> Replayed:
    """Return the documents replayed.

    Raises:
        click.exceptions.Exit: a document cannot be used; its findings were written to stderr.
    """
    from cablewalk.files.load import load_baseline, load_procedure
    from cablewalk.timeline.account import account

    base = load_baseline(baseline)
    rest = [load_procedure(path, n + 1) for n, path in enumerate(procedures)]
    sources = (base.source, *(loaded.source for loaded in rest))
    models = [loaded.model for loaded in rest if loaded.model is not None]
    if base.model is None or len(models) < len(rest):
        refuse([*base.findings, *(f for loaded in rest for f in loaded.findings)], sources)
    found = account(base.model, models, keep_going, get_aheads)
    if found.trace.unusable:
        refuse(found.findings, sources)
    return Replayed(found, sources)


def spot_of(account: Account, step: str | None, option: str = "") -> Spot | None:
    """Return where a step is over, None for no step.

    Raises:
        click.UsageError: it is not known where; the text names the ``option``, where one is given.
    """
    if step is None:
        return None
    from cablewalk.walk.scene import find_spot

    found = find_spot(account.trace, account.procedures, step)
    if isinstance(found, str):
        raise click.UsageError(f"{option}: {found}" if option else found)
    return found


def refuse(findings: Iterable[Finding], sources: Sequence[Source]) -> NoReturn:
    """Write findings to standard error, a line each, and leave.

    Raises:
        click.exceptions.Exit: always, with the exit code for unusable documents.
    """
    from cablewalk.files.describe import describe

    stop_if_interrupted()
    for finding in findings:
        say(describe(finding, sources), err=True)
    raise click.exceptions.Exit(UNUSABLE)
