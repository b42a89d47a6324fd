"""What the commands of a log share: times, names, opening and reading it."""

from __future__ import annotations

import getpass
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cablewalk.cli.console import say
from cablewalk.cli.inputs import ERRORS, UNUSABLE
from cablewalk.units import parse_clock

if TYPE_CHECKING:
    from cablewalk.cli.page import Page
    from cablewalk.logbook.log import Log
    from cablewalk.logbook.run import Run
    from cablewalk.reports.asrun_log import LogFacts, LogReport
    from cablewalk.walk.asrun_state import Phase, Tracked


class Fail(click.ClickException):
    """A sentence for the user; nothing was recorded."""

    exit_code = UNUSABLE


FIRST_YEAR, LAST_YEAR = 1900, 9000
"""Years of a time that is typed: what is worked out from it still has four digits. Common practice,
no source."""
LOG = click.argument("log", metavar="LOG", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
NOW = (
    click.option("--pet", metavar="H:MM", help="As of this phase elapsed time, instead of now."),
    click.option("--utc", metavar="TIME", help="As of this UTC time, 2031-05-06T14:03:10Z."),
)


def decorated(function: Callable[..., None], *decorators: Any) -> Callable[..., None]:
    """Apply decorators so that they stand in the help in this order."""
    for decorate in reversed(decorators):
        function = decorate(function)
    return function


def report_options(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of all reports on a log."""
    return decorated(function, LOG, *NOW, JSON)


def record_options(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of what is recorded beside an action."""
    return decorated(
        function,
        click.option("-m", "--reason", default="", help="Why, or how it went."),
        click.option("--pet", metavar="H:MM[:SS]", help="When it was over, PET (now)."),
        click.option("--utc", metavar="TIME", help="When it was over, UTC (now)."),
        click.option("--began", metavar="H:MM[:SS]", help="When it began, PET."),
        click.option("--took", metavar="MIN", type=float, help="Minutes it took."),
        click.option("--who", multiple=True, metavar="NAME", help="Role or person who did it."),
        click.option("--witness", default="", metavar="NAME", help="Who witnessed it."),
        click.option("--inspection", default="", metavar="TEXT", help="How it looked."),
        click.option("--lock/--no-lock", default=None, help="Whether the lock was verified."),
        click.option("--cap/--no-cap", default=None, help="Whether a cap was fitted."),
        BY,
        SEEN,
    )


BY = click.option("--by", metavar="NAME", help="Who writes this (your login name).")
SEEN = click.option(
    "--seen",
    metavar="N",
    type=click.IntRange(min=0),
    help="How many events you have seen: newer ones that bear on this are told first, whose ever.",
)


@contextmanager
def told() -> Iterator[None]:
    """Turn what a log cannot do into a sentence and exit code 2."""
    from cablewalk.logbook.trouble import CannotLog

    try:
        yield
    except CannotLog as problem:
        raise Fail(str(problem)) from problem


def now_utc_s() -> int:
    """Return the present moment, UTC seconds."""
    return int(time.time())


def writer(by: str | None) -> str:
    """Return who writes: as told, else the login name."""
    if by:
        return by
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return f"user {os.getuid()}" if hasattr(os, "getuid") else "unknown"


def pet_seconds(text: str) -> int:
    """Return ``H:MM`` or ``H:MM:SS``, perhaps negative, as seconds."""
    whole, _, secs = text.rpartition(":") if text.count(":") == 2 else (text, "", "0")
    if not (secs.isascii() and secs.isdigit() and int(secs[:3]) < 60):
        raise Fail(f"'{text}' is not a time of the form H:MM or H:MM:SS")
    try:
        minutes = parse_clock(whole)
    except ValueError:
        raise Fail(f"'{text}' is not a time of the form H:MM or H:MM:SS") from None
    negative = text.strip().startswith("-")
    return minutes - int(secs) if negative else minutes + int(secs)


def utc_of(text: str) -> int:
    """Return a UTC time as seconds since 1970."""
    from cablewalk.logbook.codec import utc_seconds

    try:
        seconds = utc_seconds(text)
    except ValueError:
        raise Fail(f"'{text}' is not a UTC time of the form 2031-05-06T14:03:10Z") from None
    if not FIRST_YEAR <= int(text[:4]) < LAST_YEAR:
        raise Fail(f"'{text}' is in no year from {FIRST_YEAR} to {LAST_YEAR - 1}")
    return seconds


def moment(tracked: Tracked, pet: str | None, utc: str | None, phase: int | None = None) -> int:
    """Return a moment as UTC seconds: as told, or now; PET is that of a phase, or of the last."""
    if pet is not None and utc is not None:
        raise click.UsageError("give --pet or --utc, not both")
    if utc is not None:
        return utc_of(utc)
    if pet is not None:
        last = phase_begun(tracked)
        own = (
            last if phase is None else next((p for p in tracked.phases if p.number == phase), last)
        )
        return tracked.zero_utc_s + own.zero_s + pet_seconds(pet)
    return now_utc_s()


def phase_begun(tracked: Tracked) -> Phase:
    """Return the phase begun last; that none has is a sentence."""
    from cablewalk.logbook.drafts import phase_now

    return phase_now(tracked)


def clean(text: str) -> str:
    """Return typed text as text that can be stored: bytes that are no UTF-8 are replaced."""
    return text.encode("utf-8", "replace").decode()


@contextmanager
def opened(path: Path, write: bool = False) -> Iterator[Log]:
    """Open a log; what goes wrong is a sentence and exit code 2."""
    with told():
        from cablewalk.logbook.log import Log

        with Log(path, write) as log:
            yield log


def facts_of(path: Path, run: Run) -> LogFacts:
    """Return what reports tell of the log's file."""
    from cablewalk.reports.asrun_log import LogFacts, number

    reading = run.reading
    faults = [*reading.faults]
    faults += [
        f"log {number(link.entry.key)}: {link.fault}" for link in reading.links if link.fault
    ]
    return LogFacts(str(path), reading.head.hex(), reading.seq, tuple(faults), run.plans.sources)


def read(path: Path) -> Run:
    """Return a log read whole and folded; a phase has begun."""
    with opened(path) as log:
        from cablewalk.logbook.run import run_of

        run = run_of(log)
        phase_begun(run.tracked)
        return run


def as_of(run: Run, pet: str | None, utc: str | None) -> int:
    """Return the moment a report is for, mission elapsed seconds: never before the last entry."""
    tracked = run.tracked
    wanted, last = tracked.mission_s(moment(tracked, pet, utc)), tracked.trace.end_s
    if wanted < last and (pet is not None or utc is not None):
        from cablewalk.reports.asrun_log import pet as pet_text

        say(
            f"note: entries go on to PET {pet_text(phase_begun(tracked), last)}: told as of then, "
            f"not as of {pet or utc}",
            err=True,
        )
    return max(wanted, last)


def show(
    context: click.Context, report: LogReport, as_json: bool, page: Callable[[Any], Page]
) -> None:
    """Print a report, and leave with its exit code."""
    from cablewalk.cli.console import print_rows

    if as_json:
        from cablewalk.reports.text import report_json

        say(report_json(report))
    else:
        print_rows(page(report).rows)
    context.exit(ERRORS if report.has_errors else 0)
