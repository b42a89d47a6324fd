"""``cablewalk asrun compare``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import as_of, facts_of, read, report_options, show


@click.command("compare")
@report_options
@click.pass_context
def command(
    context: click.Context, log: Path, pet: str | None, utc: str | None, as_json: bool
) -> None:
    """Set what was done beside what was planned: order, times, deviations.

    \b
    Examples:
      cablewalk asrun compare outing-1.log
      cablewalk asrun compare outing-1.log --json
    """
    run = read(log)
    from cablewalk.cli.asrun_pages import compare_page
    from cablewalk.reports.asrun_compare import compare_report

    report = compare_report(run.tracked, facts_of(log, run), as_of(run, pet, utc))
    show(context, report, as_json, compare_page)
