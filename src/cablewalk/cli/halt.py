"""``cablewalk halt``."""

from __future__ import annotations

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import replayed, report_arguments, spot_of


@click.command("halt")
@report_arguments
@click.option(
    "--after",
    "step",
    metavar="STEP",
    help="Only in and after this step (PROCEDURE/STEP where several have it), told in full.",
)
@click.option(
    "--every-action", "every", is_flag=True, help="Tell the stops within steps in full too."
)
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
    step: str | None,
    every: bool,
) -> None:
    """Tell what happens if work stops: what is down, left open or live, and for how long it may be.

    Work stops as an action is over: no further one begins, what is under way stays half done,
    switches and clocks go on. A stop is good where nothing is under way, left open or live by the
    work, no clock runs, what the work took down has a clock, and inhibits hold. Told are the stops
    as steps end, those in a row at which everything stands alike together, and what is worse on
    the way; --json has the stop after each action.

    \b
    Examples:
      cablewalk halt configs/outpost.yaml configs/outing-1.yaml
      cablewalk halt configs/outpost.yaml configs/outing-1.yaml --after 1-32
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.cli.halt_page import halt_page
    from cablewalk.files.wording import inert
    from cablewalk.reports.halt import halt_report

    spot = spot_of(run.account, step)
    report = halt_report(run.account, run.sources, spot)
    if spot is not None and not report.stops:
        raise click.UsageError(inert(f"step {step!r} does nothing: work cannot stop as it is over"))
    publish(report, lambda: halt_page(report, every, in_full=spot is not None), as_json)
    context.exit(run.exit_code)
