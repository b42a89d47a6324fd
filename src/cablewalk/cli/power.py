"""``cablewalk loads``."""

from __future__ import annotations

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import ERRORS, replayed, report_arguments, spot_of


@click.command("loads")
@report_arguments
@click.option("--at", "step", metavar="STEP", help="After this step, instead of the worst.")
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
    step: str | None,
) -> None:
    """Work out volts, amperes and margins of every string that carries power.

    Without --at the worst of the whole replay is told, that of surviving strings first. What the
    documents give no limit for is not judged.

    \b
    Examples:
      cablewalk loads configs/outpost.yaml configs/outing-1.yaml
      cablewalk loads configs/outpost.yaml configs/outing-1.yaml --at 1-02
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.cli.power_page import loads_page
    from cablewalk.reports.electrical import loads_report

    spot = spot_of(run.account, step)
    report = loads_report(run.account, run.sources, spot)
    publish(report, lambda: loads_page(report), as_json)
    bad = any(finding.severity == "error" for finding in report.findings)
    context.exit(ERRORS if bad else 0)
