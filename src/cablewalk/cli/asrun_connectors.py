"""``cablewalk asrun connectors``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import as_of, facts_of, read, report_options, show


@click.command("connectors")
@report_options
@click.pass_context
def command(
    context: click.Context, log: Path, pet: str | None, utc: str | None, as_json: bool
) -> None:
    """Print the connector log: every mate and demate of each half, counts against limits.

    \b
    Examples:
      cablewalk asrun connectors outing-1.log
      cablewalk asrun connectors outing-1.log --json
    """
    run = read(log)
    from cablewalk.cli.asrun_pages import connector_page
    from cablewalk.reports.asrun_connectors import connector_report

    report = connector_report(run.tracked, facts_of(log, run), as_of(run, pet, utc))
    show(context, report, as_json, connector_page)
