"""``cablewalk asrun forecast``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import as_of, facts_of, read, report_options, show


@click.command("forecast")
@report_options
@click.pass_context
def command(
    context: click.Context, log: Path, pet: str | None, utc: str | None, as_json: bool
) -> None:
    """Tell what the rest of the plan comes to, from how everything really stands.

    Phases that have not begun are in it: each begins from what the one before will leave. Clocks
    that likely or worst estimates overrun are at risk; get-aheads are tried in turn.

    \b
    Examples:
      cablewalk asrun forecast outing-1.log
      cablewalk asrun forecast outing-1.log --json
    """
    run = read(log)
    from cablewalk.cli.asrun_forecast_page import forecast_page
    from cablewalk.reports.asrun_forecast import forecast_report

    report = forecast_report(run.tracked, facts_of(log, run), as_of(run, pet, utc))
    show(context, report, as_json, forecast_page)
