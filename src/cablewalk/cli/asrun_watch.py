"""``cablewalk asrun watch``: the live view."""

from __future__ import annotations

import os
import shutil
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cablewalk.cli.asrun_common import LOG, Fail, facts_of, now_utc_s, opened
from cablewalk.cli.console import print_rows, say

if TYPE_CHECKING:
    from cablewalk.logbook.run import Run
    from cablewalk.reports.asrun_now import NowReport

ENTER: Final = "\x1b[?1049h\x1b[?25l"
LEAVE: Final = "\x1b[0m\x1b[?25h\x1b[?1049l"
"""To a screen of its own and back: the shell's stays as it was. The cursor is hidden meanwhile."""
HOME: Final = "\x1b[H"
CLEAR: Final = "\x1b[2J"
REST: Final = "\x1b[J"
"""Clears what stands below."""
LOOK_S: Final = 0.2
"""Seconds between two looks at the size of the window."""
ENDED: Final = 128
"""Exit code of a process that a signal ended, without the signal's number, as shells have it."""


class View:
    """Reads a log again and again; what was folded is kept until something is added."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.run: Run | None = None

    def report(self) -> NowReport:
        """Return how everything stands now."""
        from cablewalk.logbook.run import run_of
        from cablewalk.reports.asrun_now import now_report

        with opened(self.path) as log:
            if self.run is None or log.count() != self.run.reading.seq:
                self.run = run_of(log, self.run.plans if self.run else None)
        tracked = self.run.tracked
        if not tracked.phases:
            raise Fail("no phase has begun: the log's first entry cannot be read")
        now_s = max(tracked.mission_s(now_utc_s()), tracked.trace.end_s)
        return now_report(tracked, facts_of(self.path, self.run), now_s)


@click.command("watch")
@LOG
@click.option(
    "--every",
    metavar="S",
    type=click.FloatRange(0.5, 3600),
    default=5.0,
    help="Seconds between two looks (5).",
)
@click.option("--once", is_flag=True, help="Show it once and end.")
@click.option(
    "--page",
    metavar="PORT",
    type=click.IntRange(0, 65535),
    help="Serve it as a page on 127.0.0.1 instead, read-only; 0 takes any free port.",
)
def command(log: Path, every: float, once: bool, page: int | None) -> None:
    """Show where we are on a wall screen, and redraw it every few seconds; Ctrl-C ends it.

    The most urgent stands first and no line is wider than the window. In a pipe, 'now' is printed
    once.

    \b
    Examples:
      cablewalk asrun watch outing-1.log
      cablewalk asrun watch outing-1.log --page 8080
    """
    view = View(log)
    if page is not None:
        from cablewalk.cli.asrun_web import serve

        view.report()
        serve(view.report, page, every, lambda address: say(f"{address}  (Ctrl-C ends it)"))
        return
    if once or not _is_screen():
        from cablewalk.cli.asrun_now_page import now_page

        print_rows(now_page(view.report()).rows)
        return
    _show(view, every)


def _is_screen() -> bool:
    return sys.stdout.isatty() and os.environ.get("TERM", "") != "dumb"


def _show(view: View, every: float) -> None:
    """Draw the screen again and again, until interrupted; the terminal is left as it was."""
    report = view.report()  # what is wrong with the log from the start is told on the usual screen
    signal.signal(signal.SIGTERM, _end)
    trouble, drawn, next_look = "", os.terminal_size((0, 0)), time.monotonic() + every
    try:
        click.echo(ENTER, nl=False)
        while True:
            size = _size()
            again = time.monotonic() >= next_look
            if again:
                trouble = ""
                try:
                    report = view.report()
                except Fail as problem:
                    trouble = problem.format_message()
                next_look = time.monotonic() + every
            if again or size != drawn:
                _draw(report, size, trouble, size != drawn)
                drawn = size
            time.sleep(min(LOOK_S, every))
    finally:
        click.echo(LEAVE, nl=False)


def _end(number: int, _: object) -> None:
    raise SystemExit(ENDED + number)


def _size() -> os.terminal_size:
    """Return the size of the terminal itself: COLUMNS and LINES do not follow the window."""
    try:
        return os.get_terminal_size(sys.stdout.fileno())
    except OSError:
        return shutil.get_terminal_size()


def _draw(report: NowReport, size: os.terminal_size, trouble: str, clear: bool) -> None:
    from cablewalk.cli.asrun_wall import wall_rows
    from cablewalk.sheets.cell import width

    rows = wall_rows(report, size.columns, size.lines, trouble)
    # Each line is filled up with blanks over the one that stood there: nothing flickers.
    full = [
        row._replace(text=row.text + " " * (size.columns - 1 - width(row.text))) for row in rows
    ]
    click.echo(HOME + (CLEAR if clear else ""), nl=False)
    print_rows(full)
    click.echo(REST, nl=False)
