"""``cablewalk asrun begin``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import BY, LOG, Fail, clean, now_utc_s, opened, utc_of, writer
from cablewalk.cli.console import say


@click.command("begin")
@LOG
@click.option("--zero", metavar="TIME", help="UTC at which PET is 0:00 (first step now).")
@BY
def command(log: Path, zero: str | None, by: str | None) -> None:
    """Begin the next phase of a log that was opened with several procedures.

    \b
    Example:
      cablewalk asrun begin week.log --zero 2031-05-09T14:00:00Z
    """
    with opened(log, write=True) as file:
        from cablewalk.logbook.run import run_of
        from cablewalk.units import clock, parse_clock
        from cablewalk.walk.asrun_entry import Entry

        run = run_of(file)
        number = len(run.tracked.phases)
        if number == len(run.plans.procedures):
            raise Fail(f"all {number} procedures of this log have begun: hand over, open the next")
        procedure = run.plans.procedures[number]
        start = parse_clock(procedure.start_pet)
        now = now_utc_s()
        zero_s = utc_of(zero) if zero is not None else now - start
        if run.tracked.mission_s(zero_s + start) < run.tracked.trace.end_s:
            raise Fail("the next phase cannot begin before the last entry was over")
        begin = Entry(number, 1, "begin", zero_s, 0, now, clean(writer(by)))
        file.append([begin], run.reading.seq)
    say(f"{procedure.procedure} begins at PET {clock(start)}")
