"""Outages on a timeline: bars against their clocks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from cablewalk.drawings.lanes_ink import UNPLANNED, Sheet, pattern
from cablewalk.drawings.look import PAPER
from cablewalk.drawings.metrics import clipped, width_pt
from cablewalk.reports.base import deadline_or_none
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import Reading, tightest
from cablewalk.timeline.spells import Spell
from cablewalk.units import clock, clock_down, clock_up, seconds

ROW: Final = 24.0
HIGH: Final = 13.0
BENEATH: Final = 13.0
"""How much higher a row is whose words have no room beside the bar and stand beneath it."""


@dataclass(frozen=True, slots=True)
class Dark:
    """One outage as a phase shows it. Mission elapsed seconds."""

    name: str
    kind: str
    spell: Spell
    tightest: Reading | None
    end_s: int
    by: str
    """The latest moment to reconnect, rounded down: on this phase's clock, or with the phase whose
    clock it is on; empty where there is none."""


def dark_rows(account: Account, phase: int, start_s: int, end_s: int) -> list[Dark]:
    """Return the outages that a phase's clock shows, by the time they begin."""
    trace = account.trace
    rows = []
    for n, spell in enumerate(account.outages):
        over = trace.end_s if spell.to_s is None else spell.to_s
        if over < start_s or spell.from_s > end_s:
            continue
        row = trace.wiring.services[spell.service]
        main = tightest(account.readings[n])
        by = deadline_or_none(trace, main.reconnect_by_s if main is not None else None)
        told = "" if by is None else by.pet
        if by is not None and by.phase_number != phase + 1:
            told = f"P{by.phase_number} {told}"
        rows.append(Dark(row.id, row.kind, spell, main, over, told))
    return sorted(rows, key=lambda d: (d.spell.from_s, d.spell.service))


def draw_dark(
    sheet: Sheet,
    rows: Sequence[Dark],
    y: float,
    x_of: Callable[[float], float],
    sides: tuple[float, float, float],
) -> float:
    """Draw outages from ``y`` down; return where they end.

    ``sides``: where names begin, where the clock begins, where it ends.
    """
    edge, _left, right = sides
    sheet.line(edge, y, right, y, "hour")
    sheet.text(edge + 4, y + 14, "OUTAGES" if rows else "NO SERVICE GOES DOWN", "head")
    y += 24
    for row in rows:
        y += ROW + _row(sheet, row, y, x_of, sides)
    return y


def _row(
    sheet: Sheet,
    row: Dark,
    y: float,
    x_of: Callable[[float], float],
    sides: tuple[float, float, float],
) -> float:
    """Draw one outage; return how much higher than others its row is."""
    edge, left, right = sides
    spell, reading = row.spell, row.tightest
    begin, end = max(left, x_of(spell.from_s)), min(right, x_of(row.end_s))
    middle = y + HIGH / 2
    sheet.text(edge + 4, y + 7, clipped(row.name, left - edge - 12, 10, bold=True), "name")
    sheet.text(edge + 4, y + 16, row.kind, "soft")
    planned = spell.planned or spell.lost_by is None
    tail = end
    by = reading.reconnect_by_s if reading is not None else None
    out = reading.runs_out_s if reading is not None else None
    if reading is not None and out is not None:
        tail = _allowed(sheet, reading, out, middle, x_of, (left, right))
    beyond = f"by {row.by} →" if by is not None and x_of(by) > right else ""
    at_edge = right - max(end, begin) > width_pt(beyond, 9, bold=True) + 24
    fill = pattern("planned") if planned else UNPLANNED
    limit = right if out is None else min(right, max(begin, x_of(out)))
    sheet.rect(begin, y, min(end, limit) - begin, HIGH, "lost", fill)
    if spell.to_s is not None and spell.lead_s:
        again = max(begin, min(right, x_of(spell.to_s - spell.lead_s)))
        sheet.rect(again, y, max(min(end, limit) - again, 0), HIGH, "lost", pattern("recovering"))
    if end > limit and reading is not None and reading.margin_s < 0:
        sheet.rect(limit, y, end - limit, HIGH, "lost", pattern("over"))
    _ends(sheet, row, begin, end, y, x_of, sides)
    if by is not None and left <= x_of(by) <= right:
        flag = x_of(by)
        sheet.line(flag, y - 4, flag, y + HIGH + 3, "by")
        sheet.path(f"M{flag:.2f} {y - 5:.2f}H{flag - 7:.2f}L{flag:.2f} {y + 2:.2f}Z", "diamond")
    free = right
    if beyond and at_edge:
        wide = width_pt(beyond, 9, bold=True)
        free = right - wide - 8
        sheet.rect(right - wide - 14, middle - 6, wide + 6, 12, "part", PAPER)
        sheet.text(right - 11, middle + 3, beyond, "step", "end")
    words = (edge, left, free)
    return _tell(sheet, row, begin, max(end, tail), middle, words, "" if at_edge else beyond)


def _allowed(
    sheet: Sheet,
    reading: Reading,
    out: int,
    middle: float,
    x_of: Callable[[float], float],
    sides: tuple[float, float],
) -> float:
    """Draw the time a clock allows as an empty span; return where it ends."""
    left, right = sides
    assert reading.runs_from_s is not None, "a clock that runs out runs"
    begin = max(left, x_of(reading.runs_from_s))
    end = min(right, x_of(out))
    if end > begin:
        sheet.rect(begin, middle - 4, end - begin, 8, "clock")
    if x_of(out) > right:
        sheet.path(
            f"M{right - 6:.2f} {middle - 5:.2f}L{right:.2f} {middle:.2f}"
            f"L{right - 6:.2f} {middle + 5:.2f}",
            "edge",
        )
    return end


def _ends(
    sheet: Sheet,
    row: Dark,
    begin: float,
    end: float,
    y: float,
    x_of: Callable[[float], float],
    sides: tuple[float, float, float],
) -> None:
    """Mark an outage that began before the clock shown, or goes on after it."""
    _, left, right = sides
    middle = y + HIGH / 2
    if x_of(row.spell.from_s) < left:
        sheet.path(
            f"M{left + 6:.2f} {y:.2f}L{left:.2f} {middle:.2f}L{left + 6:.2f} {y + HIGH:.2f}", "edge"
        )
    if row.spell.to_s is None or x_of(row.end_s) > right:
        sheet.path(
            f"M{end - 6:.2f} {y:.2f}L{end:.2f} {middle:.2f}L{end - 6:.2f} {y + HIGH:.2f}", "edge"
        )


def _tell(
    sheet: Sheet,
    row: Dark,
    begin: float,
    tail: float,
    middle: float,
    sides: tuple[float, float, float],
    beyond: str,
) -> float:
    """Write how long it is dark, against what is allowed; return how much higher the row is.

    The words stand right of the bar, else left of it, else beneath it: never on it.

    ``beyond``: the latest moment to be back, where its mark lies past the edge; else empty.
    """
    _, left, right = sides
    length = clock_up(row.spell.duration_s(row.end_s))
    text = f"dark {length}" if row.spell.to_s is not None else f"dark {length}, not back"
    look = "words"
    if row.tightest is not None:
        allowed = clock(seconds(row.tightest.clock.allowed_min))
        if row.tightest.clock.starts == "demate":
            text += f", {clock_up(row.tightest.total_s)} used from the demate on"
        text += f" of {allowed}"
        if row.tightest.margin_s < 0:
            text += f", OVER by {clock_up(-row.tightest.margin_s)}"
            look = "loud"
        else:
            text += f", {clock_down(row.tightest.margin_s)} left"
    if beyond:
        text += f", {beyond}"
    if not row.spell.planned and row.spell.lost_by is not None:
        text += ", NOBODY PLANNED IT"
        look = "loud"
    wide = width_pt(text, 9, bold=look == "loud")
    if right - tail > wide + 8:
        sheet.text(tail + 7, middle + 3, text, look)
    elif begin - left > wide + 8:
        sheet.text(begin - 6, middle + 3, text, look, "end")
    else:
        sheet.text(max(left, min(begin, right - wide)), middle + HIGH / 2 + 11, text, look)
        return BENEATH
    return 0.0
