"""``cablewalk outages``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from cablewalk.cli.beside import given, told_of_samples, told_of_shorts
from cablewalk.cli.console import publish
from cablewalk.cli.inputs import ERRORS, replayed, report_arguments
from cablewalk.cli.sampling import runs_option, sampled

if TYPE_CHECKING:
    from cablewalk.cli.page import Page


@click.command("outages")
@report_arguments
@runs_option
@click.option(
    "--estimates/--no-estimates",
    default=None,
    help="Estimated temperatures and loads, not for go/no-go: every table of them, or none. Left "
    "out: in brief, where the baseline gives thermal data or draws.",
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
    estimates: bool | None,
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

    sample = sampled(run.account, run.sources, runs)
    sure, beyond = sample.sureness()
    zones = loads = None
    has_zones, has_loads = given(run.account.ground.baseline)
    if estimates or (estimates is None and has_zones):
        from cablewalk.reports.thermal import zones_report

        zones = zones_report(run.account, run.sources, beyond, sure)
    if estimates or (estimates is None and has_loads):
        from cablewalk.reports.electrical import loads_report

        loads = loads_report(run.account, run.sources)
    told = told_of_samples(run.account, sample)
    if loads is None and estimates is not False:
        told = told_of_shorts(told)
    report = outages_report(told, run.sources, sure, sample.why_not, zones, loads)

    def page() -> Page:
        from cablewalk.cli.phrases import tell_all

        told = outages_page(report)
        if zones is not None or loads is not None:
            from cablewalk.cli.estimates_page import add_estimates

            add_estimates(told, zones, loads, in_brief=not estimates)
        tell_all(told, report.findings)
        return told

    publish(report, page, as_json)
    # What the estimates found is in the report beside what the replay did.
    bad = any(finding.severity == "error" for finding in report.findings)
    context.exit(ERRORS if bad else run.exit_code)
