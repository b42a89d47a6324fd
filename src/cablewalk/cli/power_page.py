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
_SO = "volts are upper bounds, currents may divide otherwise"
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
    used = "-" if row.used_percent is None else f"{round(row.used_percent) + 0:d} %"
    page.add(
        f"{name:<8} {_number(row.value, unit):>9} {_number(row.limit, unit):>9} "
        f"{_number(row.left, unit):>9} {used:>6}  {row.on:<20} {when.at(row.at_pet):<10} "
        f"{row.by_step or 'the start'}{'  !! PAST IT' if row.past else ''}",
        4,
        style="loud" if row.past else "",
    )
    if row.left is None:
        page.field("NOT JUDGED", f"missing: {row.missing}", 6, 12)
    elif row.missing:
        page.field("but", row.missing, 6, 12)
    page.field("for", row.limit_basis, 6, 12)


def _number(value: float | None, unit: str) -> str:
    return "-" if value is None else f"{round(value, 2) + 0.0:.2f} {unit}"


def _state(page: Page, report: LoadsReport) -> None:
    page.head("FEEDS")
    for feed in report.feeds:
        amps, most = feed.amps, feed.limit_a
        notes = []
        if amps is None:
            notes.append("NOT JUDGED")
        elif most is not None and abs(amps) > most:
            notes.append("!! PAST IT")
        if amps is not None and amps < 0:
            notes.append("!! DRIVEN BACKWARDS")
        page.add(
            f"{feed.feed:<16} {feed.volts:g} V  {_number(amps, 'A'):>9} of "
            f"{_number(most, 'A')}{''.join(f'  {note}' for note in notes)}",
            2,
            style="loud" if notes else "",
        )
    page.head("LOADS FED")
    for load in report.loads:
        least = load.min_volts
        low = least is not None and load.volts < least
        need = "" if least is None else f"  at least {least:.2f} V"
        page.add(
            f"{load.load:<24} {load.volts:>9.2f} V {load.amps:>9.2f} A{need}"
            f"{'  !! PAST IT' if low else ''}",
            2,
            style="loud" if low else "",
        )
    page.head("CURRENTS")
    for row in report.currents:
        conductor = f"  {row.conductor}" if row.conductor else ""
        page.add(f"{row.kind:<8} {row.amps:>9.2f} A  {row.name}{conductor}", 2)


def add_worth(page: Page, report: LoadsReport, in_brief: bool = False) -> None:
    """Add who set the limits of which kind, each once, who gave resistances, what is not known.

    In brief: of surviving strings alone.
    """
    found: dict[tuple[str, str], None] = {}
    silent: dict[str, None] = {}
    given: set[str] = set()
    for row in report.strings:
        if in_brief and not row.surviving:
            continue
        for margin in row.margins:
            given.update(margin.resistances)
            if margin.limit_source == f"limit_a of feed {margin.on}":
                silent[margin.on] = None
            elif margin.limit_source:
                found[(_WORDS[margin.kind][0], margin.limit_source)] = None
    if silent:
        text = f"the baseline, which says no source (limit_source) for {', '.join(sorted(silent))}"
        found[(_WORDS["feed"][0], text)] = None
    if found:
        page.head("WHO SET THE LIMITS")
    order = [name for name, _ in _WORDS.values()]
    for name, source in sorted(found, key=lambda one: order.index(one[0])):
        page.field(name, source, 2, 10)
    if not in_brief:
        given.update(report.resistances)
    if given or report.not_known:
        page.head("WHO GAVE THE RESISTANCES")
    for text in sorted(given):
        page.add(text, 2)
    for text in report.not_known:
        page.field("not known", f"{text}: counted as no resistance: {_SO}", 2, 12)
