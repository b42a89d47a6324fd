"""``cablewalk asrun watch``: the live view."""

from __future__ import annotations

import shutil
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

HOME_AND_CLEAR: Final = "\x1b[H\x1b[2J"


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
    from cablewalk.cli.asrun_now_page import now_page

    while True:
        rows = now_page(view.report()).rows
        if once or not sys.stdout.isatty():
            print_rows(rows)
            return
        height = shutil.get_terminal_size().lines
        click.echo(HOME_AND_CLEAR, nl=False)
        print_rows(rows[: max(1, height - 1)])
        time.sleep(every)
