"""``cablewalk spread``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import ERRORS, replayed, report_arguments
from cablewalk.cli.sampling import RUNS, RUNS_AT_MOST, SEED, progress, shapes_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cablewalk.documents.procedure import Procedure
    from cablewalk.timeline.account import Account
    from cablewalk.timeline.spread import Spread


@click.command("spread")
@report_arguments
@click.option(
    "--runs",
    metavar="N",
    type=click.IntRange(1, RUNS_AT_MOST),
    default=RUNS,
    show_default=True,
    help="How many samples.",
)
@click.option(
    "--seed",
    metavar="N",
    type=click.IntRange(min=0),
    default=SEED,
    show_default=True,
    help="Where the random numbers start: the same seed gives the same report.",
)
@click.option(
    "--shape",
    type=click.Choice(("beta", "triangular")),
    help="How minutes vary in procedures that do not say 'spread'.",
)
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
    runs: int,
    seed: int,
    shape: str | None,
) -> None:
    """Tell how sure the outages, clocks and finishes are.

    Best, likely and worst minutes are sampled for every action on its own, and each sample is
    judged in the order in which its events fall. Minutes of one day that are all slow or all
    fast together are not modelled: then the true spread is wider.

    \b
    Examples:
      cablewalk spread configs/outpost.yaml configs/outing-1.yaml --shape beta
      cablewalk spread --json --runs 1000 configs/outpost.yaml configs/outing-1.yaml --shape beta
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    shapes = shapes_of(run.account, run.sources, shape, "write it there, or give --shape")
    from cablewalk.cli.spread_page import spread_page
    from cablewalk.reports.spread import spread_report
    from cablewalk.timeline.account import account
    from cablewalk.timeline.limits_fit import fitting
    from cablewalk.timeline.spread import spread
    from cablewalk.timeline.spread_slip import slips

    with progress(runs) as tell:
        found = spread(run.account, shapes, runs, seed, tell)

    def with_aheads(procedures: Sequence[Procedure], count: int) -> Account:
        return account(run.account.ground.baseline, procedures, keep_going, count)

    def spread_of(other: Account) -> Spread:
        return spread(other, shapes, runs, seed)

    fits = fitting(run.account.procedures, with_aheads, spread_of)
    report = spread_report(found, slips(found.engine), fits, run.sources)
    publish(report, lambda: spread_page(report), as_json)
    bad = any(finding.severity == "error" for finding in report.findings)
    context.exit(ERRORS if bad else run.exit_code)
