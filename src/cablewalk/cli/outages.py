"""``cablewalk outages``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import ERRORS, replayed, report_arguments

if TYPE_CHECKING:
    from cablewalk.cli.page import Page


@click.command("outages")
@report_arguments
@click.option(
    "--runs",
    metavar="N",
    type=click.IntRange(1, 1_000_000),
    help="Sample the estimates N times for P90 and the chance of overrunning each clock. "
    "Takes seconds; left out, nothing is sampled.",
)
@click.option(
    "--estimates",
    is_flag=True,
    help="Tell estimated temperatures and loads too: not for go/no-go.",
)
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
    runs: int | None,
    estimates: bool,
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

    sure = beyond = None
    if runs is not None:
        from cablewalk.cli.spread import SEED, progress, shapes_of
        from cablewalk.reports.spread_sure import beyond_of, sureness
        from cablewalk.timeline.spread import spread

        shapes = shapes_of(run, None, "write it there")
        with progress(runs) as tell:
            found = spread(run.account, shapes, runs, SEED, tell)
        sure, beyond = sureness(found), beyond_of(found)
    zones = loads = None
    if estimates:
        from cablewalk.reports.electrical import loads_report
        from cablewalk.reports.thermal import zones_report

        zones = zones_report(run.account, run.sources, beyond)
        loads = loads_report(run.account, run.sources)
    report = outages_report(run.account, run.sources, sure, zones, loads)

    def page() -> Page:
        from cablewalk.cli.estimates_page import add_estimates

        told = outages_page(report)
        if zones is not None and loads is not None:
            add_estimates(told, zones, loads)
        return told

    publish(report, page, as_json)
    # What the estimates found is in the report beside what the replay did.
    bad = any(finding.severity == "error" for finding in report.findings)
    context.exit(ERRORS if bad else run.exit_code)
