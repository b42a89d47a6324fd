"""The outages as text: what a flight controller needs at a glance, then why."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import (
    PREDICTED,
    Moments,
    celsius,
    chain,
    h_mm,
    left_h_mm,
    opening,
    used_h_mm,
)
from cablewalk.cli.spread_gaps import add_gaps, add_missing_limits, often
from cablewalk.reports.lesser import SpellRow, StringsLeftRow
from cablewalk.reports.life import TurnRow
from cablewalk.reports.outage import ClockRow, OutageRow
from cablewalk.reports.outages import OutagesReport, colder
from cablewalk.reports.spread_gaps import error_of_a_share
from cablewalk.reports.thermal import ZoneLossRow, ZoneRow

_NAME_WIDE = 22
_HEAD = (
    f"  {'SERVICE':<{_NAME_WIDE}}  {'DOWN AT':<10} {'BACK AT':<10} {'DARK':>7} {'CLOCK':>7} "
    f"{'MARGIN':>7}  {'RECONNECT BY':<12} {'VERIFIED':<10}"
)


def outages_page(report: OutagesReport) -> Page:
    """Return the report as a page, but for its findings."""
    page, when = Page(), Moments(report)
    opening(page, "OUTAGES on", report)
    unplanned = [row for row in report.outages if row.planned is False]
    planned = [row for row in report.outages if row.planned]
    before = [row for row in report.outages if row.at_start]
    if not report.outages:
        page.head("No service goes down.")
    if unplanned:
        title = f"!! NOBODY PLANNED THIS: {len(unplanned)} {_losses(unplanned)}"
        page.head(title, style="loud")
        _table(page, when, report, unplanned, loud=True)
    if planned:
        page.head(f"PLANNED: {len(planned)} {_losses(planned)}")
        _table(page, when, report, planned)
    if before:
        page.head("DOWN ALREADY AT THE START")
        _table(page, when, report, before)
    _in_some_runs(page, report)
    _never_down(page, when, report)
    if report.runs is not None:
        page.blank()
        page.add(
            f"{report.runs:,} samples, each judged in its own order; a share is known to within "
            f"{100 * error_of_a_share(report.runs):.2f} % (one standard error).",
            hang=0,
        )
    add_gaps(page, report)
    if report.outages or report.in_some_runs:
        page.blank()
        page.add(PREDICTED, hang=0)
    if report.outages and report.not_sampled:
        page.add(f"How sure these minutes are was not sampled: {report.not_sampled}.", hang=0)
    add_missing_limits(page, report.limits_not_judged)
    _spells(page, when, "REDUCED: fewer strings than it has", report.reduced)
    _spells(page, when, "UNPROVEN: up, but disturbed and not verified since", report.unproven)
    _strings(page, when, report.strings_left)
    if report.bystanders:
        page.head("LOST ONLY BECAUSE THEY SHARE A FEED OR CONNECTOR WITH THE WORK")
        for row in report.bystanders:
            page.add(_titled(row.service, row.kind, row.label), 2)
    _turns(page, when, "FIRST UP", report.established)
    _turns(page, when, "RE-ROUTED: the same ends by another way", report.rerouted)
    _turns(page, when, "RETIRED", report.retired)
    return page


def _losses(rows: Sequence[OutageRow]) -> str:
    return "loss" if len(rows) == 1 else "losses"


def _titled(service: str, kind: str, label: str) -> str:
    return f"{service} ({kind})" + (f"  {label}" if label else "")


def _table(
    page: Page,
    when: Moments,
    report: OutagesReport,
    rows: Sequence[OutageRow],
    loud: bool = False,
) -> None:
    page.add(_HEAD)
    for row in rows:
        _outage(page, when, row, loud)
        for zone, loss in colder(report, row):
            page.field("cold", _cold(when, zone, loss), 6, 10)


def _outage(page: Page, when: Moments, row: OutageRow, loud: bool) -> None:
    back = "retired" if row.retired else when.at(row.to_pet, "not back")
    dark = used_h_mm(row.duration_min) + ("+" if row.to_min is None else "")
    margin = "-" if row.margin_min is None else left_h_mm(row.margin_min)
    allowed = "-" if row.clock_min is None else h_mm(row.clock_min)
    by = when.at(row.reconnect_by_pet, "-")
    verified = "-" if row.retired else when.at(row.verified_pet)
    name = row.service
    if len(name) > _NAME_WIDE:
        page.add(name, 2, style="loud" if loud else "")
        name = ""
    page.add(
        f"{name:<{_NAME_WIDE}}  {when.at(row.from_pet):<10} {back:<10} "
        f"{dark:>7} {allowed:>7} {margin:>7}  {by:<12} {verified:<10}",
        2,
        style="loud" if loud else "",
    )
    if row.margin_min is not None and row.margin_min < 0:
        page.add(_exceeded(row, row.margin_min), 6, style="loud")
    page.add(row.kind + (f": {row.label}" if row.label else ""), 6)
    for n, reason in enumerate(row.reasons):
        page.field("why" if n == 0 else "", chain(reason), 6, 10)
    page.field("planned", row.planned_because, 6, 10)
    if row.recovery_min:
        page.field("recovery", _recovery(when, row), 6, 10)
    if row.to_min is None and row.margin_min is not None:
        page.field("open", "margin and used are as of the end of the plan, and running", 6, 10)
    if row.retired:
        page.field("retired", f"{when.at(row.to_pet)} by step {row.retired_by_step}", 6, 10)
    elif row.restored_by_step is not None:
        page.field("back", f"by step {row.restored_by_step}", 6, 10)
    if row.chance is not None:
        page.field("sure", _sure(row), 6, 10)
    for clock in row.clocks:
        page.field("clock", _clock(when, clock, len(row.clocks) > 1), 6, 10)


def _exceeded(row: OutageRow, margin_min: float) -> str:
    """Return that a clock is exceeded, or sure to be."""
    used = (row.used_min or 0) + (row.used_before_min or 0)
    if row.to_min is None and row.clock_min is not None and used <= row.clock_min:
        late = used_h_mm(-margin_min)
        return f"!! ITS CLOCK CANNOT BE KEPT: {late} over if it is reconnected as the plan ends"
    return f"!! CLOCK EXCEEDED by {used_h_mm(-margin_min)}"


def _recovery(when: Moments, row: OutageRow) -> str:
    """Return what an outage lasts on after the action that ends it, and what that leaves."""
    text = f"{used_h_mm(row.recovery_min)} after it is reconnected"
    if row.runs_out_pet is None:
        return text
    if row.reconnect_by_min is not None and row.reconnect_by_min < row.from_min:
        return f"{text}: that alone is longer than its clock has left"
    return f"{text}: reconnect by counts it, the clock runs out at {when.at(row.runs_out_pet)}"


def _sure(row: OutageRow) -> str:
    """Return what sampling tells of an outage."""
    parts = [] if row.p90_min is None else [f"P90 {used_h_mm(row.p90_min)} dark"]
    parts += often(row)
    if row.chance is not None and row.chance < 1:
        parts.append(f"occurs in {100 * row.chance:.1f} % of them")
    return ", ".join(parts)


def _cold(when: Moments, zone: ZoneRow, loss: ZoneLossRow) -> str:
    """Return how cold a zone gets in an outage, and until when it may last by that estimate."""
    text = f"{zone.zone} falls to {celsius(loss.lowest_c)} °C at {when.at(loss.lowest_pet)}"
    if zone.limit_low_c is None:
        return f"{text} by estimate; no limit is given"
    text += f" by estimate, limit {zone.limit_low_c:g} °C"
    if loss.estimated_by_pet is None:
        return f"{text}, which it would never reach"
    governs = ": the clock governs" if loss.governs == "given clock" else ""
    return f"{text}; reconnect by {when.at(loss.estimated_by_pet)} by that estimate{governs}"


def _in_some_runs(page: Page, report: OutagesReport) -> None:
    if not report.in_some_runs:
        return
    page.head("!! DOWN IN SOME SAMPLES ONLY: another order of events", style="loud")
    for row in report.in_some_runs:
        page.add(
            f"{row.service:<{_NAME_WIDE}}  in {100 * row.chance:.1f} %, by step "
            + ", ".join(
                (row.lost_by_step or "none", f"P90 {used_h_mm(row.p90_min)} dark", *often(row))
            ),
            2,
            4,
        )


def _never_down(page: Page, when: Moments, report: OutagesReport) -> None:
    """Add the heaters that stay up, with how cold their zones get all the same."""
    down = {row.service for row in report.outages} | {r.service for r in report.in_some_runs}
    rows = [
        (name, zone) for zone in report.zones or () for name in zone.services if name not in down
    ]
    if rows:
        page.head("HEATERS NOT DOWN AT ANY TIME")
    for name, zone in rows:
        text = "not in any sample; " if report.runs is not None else ""
        if zone.judged:
            text += f"{zone.zone} lowest {celsius(zone.lowest_c)} °C at {when.at(zone.lowest_pet)}"
            text += " by estimate"
            if zone.limit_low_c is not None:
                text += f", limit {zone.limit_low_c:g} °C"
        else:
            text += f"{zone.zone} not judged: {'; '.join(zone.not_judged_because)}"
        page.add(f"{name:<{_NAME_WIDE}}  {text}", 2, 4)


def _clock(when: Moments, clock: ClockRow, several: bool) -> str:
    """Return a clock in words; what the table shows of a single one is left out."""
    parts = [f"{h_mm(clock.clock_min)} allowed, {used_h_mm(clock.used_min)} used"]
    if clock.used_before_min:
        parts.append(f"{used_h_mm(clock.used_before_min)} used before")
    if several:
        parts.append(f"margin {left_h_mm(clock.margin_min)}")
        parts.append(f"reconnect by {when.at(clock.reconnect_by_pet, '-')}")
    if clock.clock_starts == "demate":
        parts.append("from the demate on")
    if clock.accumulates:
        parts.append("outages add up: no time resets it")
    text = f"{', '.join(parts)}; source: {clock.clock_source}"
    return f"{text}; conditions: {clock.clock_conditions}" if clock.clock_conditions else text


def _spells(page: Page, when: Moments, title: str, rows: Sequence[SpellRow]) -> None:
    if not rows:
        return
    page.head(title)
    for row in rows:
        why = "; ".join(chain(reason) for reason in row.reasons)
        page.add(
            f"{row.service:<{_NAME_WIDE}}  {when.at(row.from_pet):<10} "
            f"{when.at(row.to_pet, 'still so'):<10} {used_h_mm(row.duration_min):>7}  "
            f"{why or 'so at the start' if row.by_step is None else why or row.by_step}",
            2,
            4,
        )


def _strings(page: Page, when: Moments, rows: Sequence[StringsLeftRow]) -> None:
    changed = [
        (service, list(group)) for service, group in groupby(rows, key=lambda row: row.service)
    ]
    if not any(len(group) > 1 for _, group in changed):
        return
    page.head("STRINGS LEFT, from when on")
    for service, group in changed:
        if len(group) == 1:
            continue
        page.add(f"{service}, needs {group[0].need}", 2)
        for row in group:
            spare = f"   available: {' '.join(row.available)}" if row.available else ""
            step = f"   {row.by_step}" if row.by_step else ""
            page.add(
                f"{when.at(row.from_pet):<10} up: {' '.join(row.up) or 'none'}{spare}{step}", 6
            )


def _turns(page: Page, when: Moments, title: str, rows: Sequence[TurnRow]) -> None:
    if not rows:
        return
    page.head(title)
    for row in rows:
        string = f", string {row.string}" if row.string and row.string != row.service else ""
        page.add(
            f"{row.service + string:<{_NAME_WIDE}}  {when.at(row.at_pet, 'at the start'):<10} "
            f"{row.by_step or '':<10} {row.label}",
            2,
            4,
        )
