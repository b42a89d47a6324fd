"""Estimates beneath the outages: temperatures, and what the power strings carry."""

from __future__ import annotations

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import Moments
from cablewalk.cli.power_page import add_strings, add_worth
from cablewalk.cli.thermal_page import add_zones
from cablewalk.reports.electrical import LoadsReport
from cablewalk.reports.thermal import ZonesReport
from cablewalk.timeline.thermal_limits import ESTIMATE


def add_estimates(
    page: Page, zones: ZonesReport | None, loads: LoadsReport | None, in_brief: bool
) -> None:
    """Add both to a page; each says what it is worth.

    In brief: only what surviving strings carry; how cold a loss gets stands beside it already.
    """
    if not in_brief:
        page.head("ESTIMATES")
    if zones is not None and not in_brief:
        add_zones(page, Moments(zones), zones)
    if loads is not None:
        add_strings(page, Moments(loads), loads, in_brief)
        if not in_brief or any(row.surviving for row in loads.strings):
            add_worth(page, loads, in_brief)
    if in_brief and (zones is not None or loads is not None):
        page.blank()
        page.add(f"Temperatures and loads are an {ESTIMATE}. All of them: --estimates.", hang=0)
