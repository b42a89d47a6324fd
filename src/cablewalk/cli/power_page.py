"""The loads as text: what surviving strings carry against their ratings, then all others."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import Moments, opening, tell_all
from cablewalk.reports.electrical import LoadsReport, MarginRow, StringLoadRow

_WORDS = {
    "feed": ("feed", "A"),
    "wire": ("wire", "A"),
    "contact": ("contact", "A"),
    "volts": ("at load", "V"),
    "drop": ("drop", "V"),
}
_HEAD = f"    {'':<8} {'IS':>9} {'MAY BE':>9} {'LEFT':>9} {'USED':>6}  {'OF':<20} {'AT':<10} STEP"


def loads_page(report: LoadsReport) -> Page:
    """Return the report as a page."""
    page, when = Page(), Moments(report)
    opening(page, "LOADS on", report)
    page.blank()
    page.add(
        f"How it stands after step {report.after_step}."
        if report.after_step
        else "The worst over the whole replay, every load drawing all it may.",
        hang=0,
    )
    add_strings(page, when, report)
    if report.after_step:
        _state(page, report)
    add_worth(page, report)
    tell_all(page, report.findings)
    return page


def add_strings(page: Page, when: Moments, report: LoadsReport, in_brief: bool = False) -> None:
    """Add what each string carries, the surviving ones first; in brief: these alone."""
    alone = [row for row in report.strings if row.surviving]
    others = [row for row in report.strings if not row.surviving]
    _strings(page, when, "SURVIVING STRINGS: a sister string was down", alone)
    if in_brief:
        return
    if not report.strings:
        page.head("No string carries power.")
    _strings(page, when, "STRINGS while no sister was down" if alone else "STRINGS", others)


def _strings(page: Page, when: Moments, title: str, rows: Sequence[StringLoadRow]) -> None:
    if not rows:
        return
    page.head(title)
    page.add(_HEAD)
    for row in rows:
        page.add(row.string, 2)
        lacking = {margin.missing for margin in row.margins}
        if len(lacking) == 1 and all(margin.value is None for margin in row.margins):
            page.field("NOT JUDGED", f"missing: {lacking.pop()}", 6, 12)
            continue
        for margin in row.margins:
            _margin(page, when, margin)


def _margin(page: Page, when: Moments, row: MarginRow) -> None:
    name, unit = _WORDS[row.kind]
    past = row.left is not None and row.left < 0
    used = "-" if row.used_percent is None else f"{row.used_percent:.0f} %"
    page.add(
        f"{name:<8} {_number(row.value, unit):>9} {_number(row.limit, unit):>9} "
        f"{_number(row.left, unit):>9} {used:>6}  {row.on:<20} {when.at(row.at_pet):<10} "
        f"{row.by_step or 'the start'}{'  !! PAST IT' if past else ''}",
        4,
        style="loud" if past else "",
    )
    if row.limit is None:
        page.field("NOT JUDGED", f"missing: {row.missing}", 6, 12)
    elif row.missing:
        page.field("but", row.missing, 6, 12)
    page.field("for", row.limit_basis, 6, 12)


def _number(value: float | None, unit: str) -> str:
    return "-" if value is None else f"{value:.2f} {unit}"


def _state(page: Page, report: LoadsReport) -> None:
    page.head("FEEDS")
    for feed in report.feeds:
        page.add(
            f"{feed.feed:<16} {feed.volts:g} V  {_number(feed.amps, 'A'):>9} of "
            f"{_number(feed.limit_a, 'A')}",
            2,
        )
    page.head("LOADS FED")
    for load in report.loads:
        page.add(f"{load.load:<24} {load.volts:>9.2f} V {load.amps:>9.2f} A", 2)
    page.head("CURRENTS")
    for row in report.currents:
        page.add(f"{row.kind:<8} {row.amps:>9.2f} A  {row.name}", 2)


def add_worth(page: Page, report: LoadsReport, in_brief: bool = False) -> None:
    """Add who set the limits, each once, and what is not known; in brief: of surviving strings."""
    found: dict[str, None] = {}
    for row in report.strings:
        if in_brief and not row.surviving:
            continue
        for margin in row.margins:
            if margin.limit_source and not margin.limit_source.startswith("limit_a of feed"):
                found[margin.limit_source] = None
    if found:
        page.head("WHO SET THE LIMITS (those of feeds: the baseline)")
    for source in found:
        page.add(f"- {source}", 2)
    for text in report.not_known:
        page.field("not known", f"{text}: counted as no resistance, volts are upper bounds", 2, 12)
