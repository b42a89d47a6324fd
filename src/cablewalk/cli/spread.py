"""``cablewalk spread``."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final

import click

from cablewalk.cli.console import publish
from cablewalk.cli.inputs import ERRORS, UNUSABLE, Replayed, refuse, replayed, report_arguments

if TYPE_CHECKING:
    from cablewalk.timeline.account import Account
    from cablewalk.timeline.spread import Spread

RUNS: Final = 10_000
SEED: Final = 1
RUNS_AT_MOST: Final = 10_000_000


class NotSampled(click.ClickException):
    """The plan could not be sampled; the text says why."""

    exit_code = UNUSABLE


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
    shapes = shapes_of(run, shape, "write it there, or give --shape")
    from cablewalk.cli.spread_page import spread_page
    from cablewalk.reports.spread import spread_report
    from cablewalk.timeline.account import account
    from cablewalk.timeline.limits import fitting
    from cablewalk.timeline.spread import spread
    from cablewalk.timeline.spread_slip import slips

    with progress(runs) as tell:
        found = spread(run.account, shapes, runs, seed, tell)

    def with_aheads(count: int) -> Account:
        return account(run.account.ground.baseline, run.account.procedures, keep_going, count)

    def spread_of(other: Account) -> Spread:
        return spread(other, shapes, runs, seed)

    fits = fitting(run.account.procedures, with_aheads, spread_of)
    report = spread_report(found, slips(found.engine), fits, run.sources)
    publish(report, lambda: spread_page(report), as_json)
    bad = any(finding.severity == "error" for finding in report.findings)
    context.exit(ERRORS if bad else run.exit_code)


def shapes_of(run: Replayed, shape: str | None, way_out: str) -> Sequence[str]:
    """Return the distribution of each phase; ``shape`` stands in where a procedure has none.

    Raises:
        NotSampled: the replay stopped, so that what comes after is not known.
        click.exceptions.Exit: a procedure does not say how its minutes vary, nor does the caller.
    """
    from cablewalk.findings import Address, Findings

    trace = run.account.trace
    if trace.stopped:
        at = trace.refused[-1]
        raise NotSampled(
            f"the replay stopped at step {at.task.step_id}: {at.text}. Correct the plan, or "
            "--keep-going skips what is impossible."
        )
    found = Findings()
    shapes = []
    for n, procedure in enumerate(run.account.procedures):
        chosen = procedure.spread or shape
        if chosen is None:
            found.error(
                "no-spread",
                Address(n + 1, ("procedure",)),
                f"{procedure.procedure} does not say how its minutes vary",
                expected="'spread: beta' or 'spread: triangular' in the procedure",
                way_out=way_out,
            )
        else:
            shapes.append(str(chosen))
    if found.has_errors:
        refuse(found, run.sources)
    return shapes


@contextlib.contextmanager
def progress(runs: int) -> Iterator[Callable[[int], None] | None]:
    """Show a bar on a terminal while runs are sampled; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=runs, label="Sampling", file=sys.stderr) as bar:
        yield lambda done: bar.update(done - bar.pos)
