"""``cablewalk outages``."""

from __future__ import annotations

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import replayed, report_arguments


@click.command("outages")
@report_arguments
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
) -> None:
    """Tell what goes down, from when to when, and against which clock.

    BASELINE is the hardware as it is now; each PROCEDURE starts from what the one before left.

    \b
    Examples:
      cablewalk outages configs/outpost.yaml configs/outing-1.yaml
      cablewalk outages --json configs/outpost.yaml configs/outing-1.yaml configs/outing-2.yaml
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.cli.outages_page import outages_page
    from cablewalk.reports.outages import outages_report

    report = outages_report(run.account, run.sources)
    publish(report, lambda: outages_page(report), as_json)
    context.exit(run.exit_code)
