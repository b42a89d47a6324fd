"""``cablewalk replay``."""

from __future__ import annotations

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import replayed, report_arguments


@click.command("replay")
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
    """Walk through the steps in time order and tell what each one does.

    BASELINE is the hardware as it is now; each PROCEDURE starts from what the one before left.
    Services are marked LOST, BACK, REDUCED, FULL, UNPROVEN, PROVEN, FIRST UP, RETIRED, or SWAP
    (the same state by other strings).

    \b
    Examples:
      cablewalk replay configs/outpost.yaml configs/outing-1.yaml
      cablewalk replay --keep-going configs/faulty/bench.yaml configs/faulty/swap.yaml
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.cli.replay_page import replay_page
    from cablewalk.reports.replay import replay_report

    report = replay_report(run.account, run.sources)
    publish(report, lambda: replay_page(report), as_json)
    context.exit(run.exit_code)
