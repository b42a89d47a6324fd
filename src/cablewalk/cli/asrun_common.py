"""What the commands of a log share: times, names, opening and reading it."""

from __future__ import annotations

import getpass
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from cablewalk.cli.console import say
from cablewalk.cli.inputs import ERRORS, UNUSABLE
from cablewalk.units import parse_clock

if TYPE_CHECKING:
    from cablewalk.cli.page import Page
    from cablewalk.logbook.drafts import Said
    from cablewalk.logbook.log import Log
    from cablewalk.logbook.run import Run
    from cablewalk.reports.asrun_log import LogFacts, LogReport
    from cablewalk.walk.asrun_state import Phase, Tracked


class Fail(click.ClickException):
    """A sentence for the user; nothing was recorded."""

    exit_code = UNUSABLE


AHEAD_NOTED_S: Final = 5 * 60
AHEAD_REFUSED_S: Final = 12 * 3600
"""Seconds ahead of this computer's clock: a slip of the pen rather than a clock that is wrong.
Common practice, no source."""
BEFORE_NOTED_S: Final = 12 * 3600
"""Seconds before a phase begins at which an entry of it is noted. Common practice, no source."""

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
        return utc_seconds(text)
    except ValueError:
        raise Fail(f"'{text}' is not a UTC time of the form 2031-05-06T14:03:10Z") from None


def moment(tracked: Tracked, pet: str | None, utc: str | None, phase: int | None = None) -> int:
    """Return a moment as UTC seconds: as told, or now; PET is that of a phase, or of the last."""
    if pet is not None and utc is not None:
        raise click.UsageError("give --pet or --utc, not both")
    if utc is not None:
        return utc_of(utc)
    if pet is not None:
        last = _phase(tracked)
        own = (
            last if phase is None else next((p for p in tracked.phases if p.number == phase), last)
        )
        return tracked.zero_utc_s + own.zero_s + pet_seconds(pet)
    return now_utc_s()


def _phase(tracked: Tracked) -> Phase:
    from cablewalk.logbook.drafts import phase_now

    return phase_now(tracked)


@dataclass(frozen=True, slots=True)
class Telling:
    """The options of :func:`record_options`, as they were typed."""

    reason: str
    pet: str | None
    utc: str | None
    began: str | None
    took: float | None
    who: tuple[str, ...]
    witness: str
    inspection: str
    lock: bool | None
    cap: bool | None
    by: str | None
    seen: int | None

    def said(self, tracked: Tracked) -> Said:
        """Return what was said, its times worked out."""
        from cablewalk.logbook.drafts import Said

        end = moment(tracked, self.pet, self.utc)
        if self.began is not None and self.took is not None:
            raise click.UsageError("give --began or --took, not both")
        _not_to_come(tracked, end)
        _not_long_before(tracked, end)
        began = None
        if self.began is not None:
            began = moment(tracked, self.began, None)
        elif self.took is not None:
            if not 0 <= self.took <= 100_000:
                raise Fail("--took is a number of minutes")
            began = end - round(self.took * 60)
        if began is not None and began > end:
            raise Fail("it cannot have begun after it was over")
        return Said(
            end, now_utc_s(), clean(writer(self.by)), began, clean(self.reason), self.who,
            clean(self.witness), clean(self.inspection), self.lock, self.cap,
        )  # fmt: skip


def _not_to_come(tracked: Tracked, end_s: int) -> None:
    """Refuse, or note, a time that lies ahead of this computer's clock.

    Not in a rehearsal: there the phase itself begins in time to come.
    """
    ahead = end_s - now_utc_s()
    start_s = tracked.zero_utc_s + _phase(tracked).start_s
    if ahead <= AHEAD_NOTED_S or start_s > now_utc_s():
        return
    hours = f"{ahead // 3600}:{ahead % 3600 // 60:02d}"
    if ahead > AHEAD_REFUSED_S:
        raise Fail(
            f"that lies {hours} hours ahead of this computer's clock: look at --pet or --utc, "
            "and at the time the phase began ('cablewalk asrun now')"
        )
    say(f"note: that lies {hours} hours ahead of this computer's clock", err=True)


def _not_long_before(tracked: Tracked, end_s: int) -> None:
    """Note a time that lies long before the phase can have begun."""
    before = tracked.zero_utc_s + _phase(tracked).start_s - end_s
    if before > BEFORE_NOTED_S:
        hours = f"{before // 3600}:{before % 3600 // 60:02d}"
        say(
            f"note: that lies {hours} hours before this phase begins: look at --pet or --utc, and "
            "at the time the phase began ('cablewalk asrun now')",
            err=True,
        )


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
        _phase(run.tracked)
        return run


def as_of(run: Run, pet: str | None, utc: str | None) -> int:
    """Return the moment a report is for, mission elapsed seconds: never before the last entry."""
    tracked = run.tracked
    return max(tracked.mission_s(moment(tracked, pet, utc)), tracked.trace.end_s)


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
