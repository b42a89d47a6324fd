"""Estimates beneath the outages: temperatures, and what the power strings carry."""

from __future__ import annotations

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import Moments
from cablewalk.cli.power_page import add_strings, add_worth
from cablewalk.cli.thermal_page import add_zones
from cablewalk.reports.electrical import LoadsReport
from cablewalk.reports.thermal import ZonesReport


def add_estimates(page: Page, zones: ZonesReport, loads: LoadsReport) -> None:
    """Add both to a page; each says what it is worth."""
    when = Moments(zones)
    page.head("ESTIMATES")
    add_zones(page, when, zones)
    add_strings(page, when, loads)
    add_worth(page, loads)
