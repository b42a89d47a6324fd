"""``cablewalk asrun now``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import as_of, facts_of, read, report_options, show


@click.command("now")
@report_options
@click.pass_context
def command(
    context: click.Context, log: Path, pet: str | None, utc: str | None, as_json: bool
) -> None:
    """Tell where we are: who is where, what is down with clocks running, what comes next.

    What really happened may have made planned steps impossible, or wrong as planned (bare contacts
    that a switch-on would make live, a test that will fail): that is told too, with what is legal.

    \b
    Examples:
      cablewalk asrun now outing-1.log
      cablewalk asrun now outing-1.log --json
    """
    run = read(log)
    from cablewalk.cli.asrun_now_page import now_page
    from cablewalk.reports.asrun_now import now_report

    report = now_report(run.tracked, facts_of(log, run), as_of(run, pet, utc))
    show(context, report, as_json, now_page)
