"""Stops as text: what stands how if work stops, as each step is over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import (
    PREDICTED,
    Moments,
    left_h_mm,
    opening,
    tell,
    used_h_mm,
)
from cablewalk.reports.halt import DownRow, HaltReport, HaltRow

_WIDE = 11
_BEFORE = "before the first step"


def halt_page(report: HaltReport, in_full: bool = False) -> Page:
    """Return the report as a page; ``in_full``: what is left unfinished with its ways out."""
    page, when = Page(), Moments(report)
    opening(page, "HALT on", report)
    if len(report.stops) > 1:
        _glance(page, when, report)
    for stop in report.stops:
        _stop(page, when, stop, in_full)
    page.blank()
    page.add(
        "Work stops as a step is over: no further action begins, what others are at stays half "
        "done. What people would still do to make things safe is not in these minutes.",
        hang=0,
    )
    page.add(PREDICTED, hang=0)
    return page


def _glance(page: Page, when: Moments, report: HaltReport) -> None:
    good = [stop for stop in report.stops if stop.good]
    page.head(f"GOOD STOPS: {len(good)} of {len(report.stops)}")
    for stop in good:
        page.add(f"{when.phase(stop.at_pet)}{stop.at_pet.pet:>6}  {after(stop)}", 2)
    away = [s for s in report.stops if s.next_good_min is not None]
    far = max(away, key=lambda s: s.next_good_min or 0, default=None)
    if far is not None and not far.good:
        page.add(f"Farthest, {after(far)}: {used_h_mm(far.next_good_min or 0)} to the next.", 2)
    timed = [s for s in report.stops if s.pause_min is not None]
    tight = min(timed, key=lambda s: s.pause_min or 0, default=None)
    if tight is not None:
        page.add(f"Least room for a pause, {after(tight)}: {pause_words(tight)}.", 2)


def after(stop: HaltRow) -> str:
    """Return after which steps a stop is."""
    return f"after {', '.join(stop.after_steps)}" if stop.after_steps else _BEFORE


def pause_words(stop: HaltRow) -> str:
    """Return how long work may stand still at a stop, and what ends that."""
    if stop.pause_min is None:
        return "no clock runs, and no limit of the phase is to come: nothing here ends it"
    if stop.pause_min < 0:
        return f"none: {stop.pause_ends} is overrun by {used_h_mm(-stop.pause_min)} without one"
    return f"{left_h_mm(stop.pause_min)}, then {stop.pause_ends} is overrun"


def _stop(page: Page, when: Moments, stop: HaltRow, in_full: bool) -> None:
    said = "GOOD STOP" if stop.good else "NOT A GOOD STOP"
    page.head(f"{when.phase(stop.at_pet)}PET {stop.at_pet.pet}  {after(stop)}: {said}")
    if not stop.good:
        page.field("good stops", _good_stops(stop), 4, _WIDE)
    page.field("pause", pause_words(stop), 4, _WIDE)
    for n, (text, late) in enumerate(_down(when, stop.down)):
        page.field("" if n else "down", text, 4, _WIDE, "loud" if late else "")
    coming = [f"{row.service} by {when.at(row.back_pet)}" for row in stop.recovering]
    page.field("comes back", ", ".join(coming), 4, _WIDE)
    for n, half in enumerate(stop.live):
        label = f" ({half.label})" if half.label and half.label != half.half else ""
        text = f"{half.half}{label} is open, and may be live from {', '.join(half.feeds)}"
        page.field("" if n else "LIVE", text, 4, _WIDE, "loud")
    doing = [f"{', '.join(row.by)}: {row.text} (step {row.step})" for row in stop.under_way]
    page.field("half done", "\n".join(doing), 4, _WIDE)
    page.field("holds", _held(stop.inhibits), 4, _WIDE)
    if in_full:
        for finding in stop.left:
            tell(page, finding, 4)
        return
    page.field("left", "\n".join(finding.found for finding in stop.left), 4, _WIDE)


def _good_stops(stop: HaltRow) -> str:
    parts = []
    if stop.next_good_min is not None:
        name = _spot(stop, stop.next_good_phase, stop.next_good_steps)
        parts.append(f"the next {name}, {used_h_mm(stop.next_good_min)} of work on")
    if stop.last_good_min is not None:
        name = _spot(stop, stop.last_good_phase, stop.last_good_steps)
        parts.append(f"the last {name}, {left_h_mm(stop.last_good_min)} ago")
    return "; ".join(parts) or "none before, and none to come"


def _spot(stop: HaltRow, phase: str | None, steps: Sequence[str]) -> str:
    if not steps:
        return _BEFORE
    of = "" if phase == stop.phase else f" of {phase}"
    return f"after {', '.join(steps)}{of}"


def _down(when: Moments, rows: Sequence[DownRow]) -> Iterator[tuple[str, bool]]:
    """Yield what is down, and whether it is too late for it; what has no clock comes last."""
    for row in rows:
        if row.clock_min is not None:
            yield f"{row.service} ({row.kind}): {_clock(when, row)}{_back(row)}", _late(row)
    bare = [row for row in rows if row.clock_min is None]
    for back in dict.fromkeys(map(_back, bare)):
        names = ", ".join(f"{row.service} ({row.kind})" for row in bare if _back(row) == back)
        yield f"{names}: no clock, so nobody says for how long{back}", False


def _back(row: DownRow) -> str:
    return (
        f"; back by {row.restored_by_step}" if row.restored_by_step else "; nothing brings it back"
    )


def _clock(when: Moments, row: DownRow) -> str:
    allowed = f"{left_h_mm(row.clock_min or 0)} by {row.clock_source}"
    if row.left_min is None:
        return f"its clock of {allowed} does not run yet"
    by = f"reconnect by {when.at(row.reconnect_by_pet)}"
    if _late(row):
        return f"{by}, {used_h_mm(-row.left_min)} too late (clock {allowed})"
    return f"{by}, in {left_h_mm(row.left_min)} (clock {allowed})"


def _late(row: DownRow) -> bool:
    return row.left_min is not None and row.left_min < 0


def _held(inhibits: Sequence[str]) -> str:
    return f"{', '.join(inhibits)}: keep what it holds off so" if inhibits else ""
