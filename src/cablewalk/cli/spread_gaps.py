"""What sampling tells of an outage, and what it could not judge as it should, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cablewalk.cli.phrases import h_mm

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cablewalk.cli.page import Page
    from cablewalk.reports.limits_missing import MissingRow
    from cablewalk.reports.outage import OutageRow, SomeRunsRow
    from cablewalk.reports.outages import OutagesReport
    from cablewalk.reports.spread import SpreadReport
    from cablewalk.reports.thermal import ZonesReport


def often(row: OutageRow | SomeRunsRow) -> Iterator[str]:
    """Yield how often an outage overruns a clock, and how often it is not back."""
    if row.chance_over is not None:
        yield f"{overruns(row.over_clock_min)} in {100 * row.chance_over:.1f} % of the samples"
    if row.chance_not_back:
        yield f"not back at the end in {100 * row.chance_not_back:.1f} % of the samples"


def overruns(clock_min: float | None) -> str:
    """Return which clock is overrun; None: there is none, or it is not told which."""
    return "overruns its clock" if clock_min is None else f"overruns its clock of {h_mm(clock_min)}"


def add_missing_limits(page: Page, rows: Sequence[MissingRow], indent: int = 0) -> None:
    """Tell which phase limits are not judged, and what is missing, in one sentence."""
    phases: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        phases.setdefault((row.what, row.because), []).append(row.phase)
    told = [f"{what} of {', '.join(names)}: {because}" for (what, because), names in phases.items()]
    if told:
        page.add(f"Phase limits not judged: {'; '.join(told)}.", indent, indent)


def add_gaps(page: Page, report: SpreadReport | OutagesReport | ZonesReport) -> None:
    """Tell what is impossible in some orders, and what was not judged for too many orders."""
    for row in report.impossible:
        page.blank()
        page.add(
            f"!! {row.phase} step {row.step}: {row.verb} is impossible in "
            f"{100 * row.chance:.1f} % of the runs: another worker is there first or not yet done",
            style="loud",
        )
    if report.not_judged_in_own_order:
        page.blank()
        page.add(
            "!! JUDGED ALONG THE LIKELY ORDER ONLY, too many orders: "
            + ", ".join(report.not_judged_in_own_order),
            style="loud",
        )
    if report.runs_given_up and report.runs:
        page.blank()
        page.add(
            f"!! {report.runs_given_up} OF {report.runs} RUNS NOT JUDGED, too many orders of work "
            f"that gets in each other's way: for {', '.join(report.given_up_services)} chances may "
            f"be too low by {report.runs_given_up / report.runs:.1%}",
            style="loud",
        )
