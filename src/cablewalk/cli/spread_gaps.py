"""What sampling could not judge as it should, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cablewalk.cli.page import Page
    from cablewalk.reports.outages import OutagesReport
    from cablewalk.reports.spread import SpreadReport


def add_gaps(page: Page, report: SpreadReport | OutagesReport) -> None:
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
