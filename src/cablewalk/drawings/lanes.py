"""The timeline: a lane an actor on the phase clock, the outages beneath against their clocks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from cablewalk.drawings.lanes_dark import dark_rows, draw_dark
from cablewalk.drawings.lanes_holds import BAR, LANE, draw_go, draw_holds
from cablewalk.drawings.lanes_ink import PALE, Sheet, pattern
from cablewalk.drawings.lanes_wait import draw_waits, waiting_line
from cablewalk.drawings.metrics import clipped, width_pt
from cablewalk.schedule.order import LIKELY, Timed
from cablewalk.schedule.tasks import PlannedStep, Task
from cablewalk.timeline.account import Account
from cablewalk.units import clock

MARGIN: Final = 24.0
GUTTER: Final = 150.0
"""Width of the names left of the clock."""
WIDE: Final = 1120.0
"""Width aimed at for the longest phase's clock."""
LEAST_PX_PER_MIN: Final = 2.5
KINDS: Final = ("ground", "inside", "outside", "vehicle")
"""Lanes from top to bottom."""
TICKS_MIN: Final = (5, 10, 15, 30, 60, 120, 240, 480, 1440)


@dataclass(frozen=True, slots=True)
class Scale:
    """From mission elapsed seconds to px, for one phase."""

    start_s: int
    end_s: int
    zero_s: int
    px_per_s: float

    def x(self, time_s: float) -> float:
        """Return where a moment stands."""
        return MARGIN + GUTTER + (time_s - self.start_s) * self.px_per_s

    @property
    def left(self) -> float:
        """Where the clock begins."""
        return self.x(self.start_s)

    @property
    def right(self) -> float:
        """Where the clock ends."""
        return self.x(self.end_s)


def timeline_svg(account: Account) -> str:
    """Return the timeline of a replay with at least one phase as SVG; phases one below another."""
    trace = account.trace
    spans = [_span(account, phase) for phase in range(len(trace.phases))]
    longest = max(end - start for start, end in spans)
    px_per_s = max(WIDE / max(longest, 60), LEAST_PX_PER_MIN / 60)
    sheet = Sheet()
    y = MARGIN
    base = account.ground.baseline
    sheet.text(MARGIN, y + 12, f"TIMELINE  {base.title or base.baseline}", "title")
    y += 26
    for phase, timed in enumerate(trace.phases):
        start, end = spans[phase]
        scale = Scale(start, end, timed.zero_s, px_per_s)
        y = _phase(sheet, account, phase, scale, y) + 26
    y = _legend(sheet, y)
    right = MARGIN + GUTTER + longest * px_per_s + MARGIN + 10
    return sheet.svg(max(right, 760), y + MARGIN, f"Timeline of {base.title or base.baseline}")


def _span(account: Account, phase: int) -> tuple[int, int]:
    """Return first and last second a phase's clock shows, on whole quarters of an hour."""
    timed = account.trace.phases[phase]
    quarter = 900
    start = min([timed.start_s, *timed.step_start_s]) - timed.zero_s
    end = max(timed.end_s, timed.start_s + 60) - timed.zero_s
    return (
        timed.zero_s + start // quarter * quarter,
        timed.zero_s + -(-end // quarter) * quarter,
    )


def _phase(sheet: Sheet, account: Account, phase: int, scale: Scale, y: float) -> float:
    """Draw one phase from ``y`` down; return where it ends."""
    timed = account.trace.phases[phase]
    procedure = timed.plan.procedure
    number = f"P{phase + 1}  " if len(account.trace.phases) > 1 else ""
    sheet.text(MARGIN, y + 10, f"{number}{procedure.procedure}  {procedure.title}", "head")
    stopped = account.trace.stopped and phase == len(account.trace.phases) - 1
    until_s = account.trace.end_s if stopped else scale.end_s
    y += 20
    actors = _actors(account, timed)
    top = y + 16
    rows = dark_rows(account, phase, scale.start_s, scale.end_s)
    lanes_end = top + LANE * len(actors)
    _clock_face(sheet, scale, y + 10, top, lanes_end)
    lane_y = {name: top + LANE * n for n, (name, _) in enumerate(actors)}
    for n, (name, kind) in enumerate(actors):
        _lane(sheet, timed, name, kind, scale, top + LANE * n, n % 2 == 0, until_s)
    _joints(sheet, timed, lane_y, scale, until_s)
    taken = draw_go(sheet, timed, lane_y, scale.x, until_s)
    draw_waits(sheet, timed, lane_y, scale.x, taken, until_s)
    if stopped:
        _stop(sheet, scale.x(until_s), top, lanes_end)
    y = draw_holds(sheet, timed, lanes_end + 8, scale.x, scale.left, scale.right)
    return draw_dark(sheet, rows, y + 8, scale.x, (MARGIN, scale.left, scale.right))


def _actors(account: Account, timed: Timed) -> list[tuple[str, str]]:
    """Return (person, kind) of everyone who acts in a phase, from ground to outside."""
    acting = {worker for step in timed.plan.steps for worker in step.workers}
    people = account.ground.baseline.people
    kinds = {name: str(row.kind) for name, row in people.items() if name in acting}
    rank = {kind: n for n, kind in enumerate(KINDS)}
    return sorted(kinds.items(), key=lambda row: rank.get(row[1], len(KINDS)))


def _clock_face(sheet: Sheet, scale: Scale, y: float, top: float, bottom: float) -> None:
    room = width_pt("00:00", 9) + 8
    step = next((t for t in TICKS_MIN if t * 60 * scale.px_per_s >= room), TICKS_MIN[-1])
    sheet.text(MARGIN + 4, y, "PET, H:MM", "soft")
    first = -(-(scale.start_s - scale.zero_s) // (step * 60)) * step * 60
    for pet in range(first, scale.end_s - scale.zero_s + 1, step * 60):
        x = scale.x(scale.zero_s + pet)
        sheet.line(x, top - 3, x, bottom, "hour" if pet % 3600 == 0 else "grid")
        sheet.text(x, y, clock(pet), "words" if pet % 3600 == 0 else "soft", "middle")


def _lane(
    sheet: Sheet,
    timed: Timed,
    name: str,
    kind: str,
    scale: Scale,
    top: float,
    banded: bool,
    until_s: int,
) -> None:
    """Draw one actor's lane; nothing that would begin after ``until_s``."""
    if banded:
        sheet.beneath(MARGIN, top, scale.right - MARGIN, LANE)
    roles = {person: role for role, person in timed.plan.procedure.roles.items()}
    role = roles.get(name, "")
    middle = top + LANE - BAR / 2 - 4
    sheet.text(MARGIN + 4, middle - 2, f"{role.upper()}  {name}" if role else name, "name")
    sheet.text(MARGIN + 4, middle + 9, kind, "soft")
    sheet.line(scale.left, middle, scale.right, middle, "rail")
    labels: list[tuple[float, str]] = []
    for step in timed.plan.steps:
        own = [task for task in step.tasks if name in task.workers]
        begun = timed.step_start_s[step.position] < until_s or until_s == scale.end_s
        if own and begun:
            fill = PALE.get(kind, "#eeeeee")
            outside = _bar(sheet, timed, step, own, fill, scale, middle - BAR / 2, until_s)
            labels.extend([(outside, step.id)] if outside is not None else [])
    _outside_labels(sheet, labels, middle - BAR / 2 - 3)


def _bar(
    sheet: Sheet,
    timed: Timed,
    step: PlannedStep,
    own: Sequence[Task],
    fill: str,
    scale: Scale,
    top: float,
    until_s: int,
) -> float | None:
    """Draw a step in one lane; where its id does not fit inside, return where it belongs."""
    start = timed.step_start_s[step.position]
    end = min(timed.step_end_s[step.position], until_s)
    x, wide = scale.x(start), (end - start) * scale.px_per_s
    if wide < 1.5:
        sheet.diamond(x, top + BAR / 2, 5)
        return x
    tip = f"{step.id}  {clock(start - scale.zero_s)} to {clock(end - scale.zero_s)}  "
    sheet.rect(x, top, wide, BAR, "bar", fill, tip + step.document.say, 1.5)
    at = start
    for task in step.tasks:
        over = min(at + task.durations_s[LIKELY], end)
        if task in own and task.verb in ("walk", "wait"):
            long = (over - at) * scale.px_per_s
            sheet.rect(scale.x(at), top + BAR - 7, long, 7, "part", pattern(task.verb))
        at = over
    room = wide - 4
    if width_pt(step.id, 8.5, bold=True) > room:
        return x + wide / 2
    text = step.id
    if room > 70:
        text = clipped(f"{step.id}  {step.document.say}", room, 8.5, bold=True)
    sheet.text(x + 3, top + 10, text, "step")
    return None


def _stop(sheet: Sheet, x: float, top: float, bottom: float) -> None:
    """Mark where the replay stopped."""
    sheet.line(x, top - 3, x, bottom, "by")
    sheet.text(x + 5, top + 11, "REPLAY STOPPED: what follows is not known", "loud")


def _outside_labels(sheet: Sheet, labels: Sequence[tuple[float, str]], y: float) -> None:
    """Write ids above their bars, in as many rows as it takes for none to overlap."""
    ends: list[float] = []
    for x, text in sorted(labels):
        half = width_pt(text, 8.5, bold=True) / 2 + 2
        row = next((n for n, end in enumerate(ends) if end <= x - half), len(ends))
        if row == len(ends):
            ends.append(0)
        ends[row] = x + half
        sheet.text(x, y - 9 * row, text, "step", "middle")


def _joints(
    sheet: Sheet, timed: Timed, lane_y: dict[str, float], scale: Scale, until_s: int
) -> None:
    """Tie the bars of a joint step together."""
    for step in timed.plan.steps:
        lanes = sorted(lane_y[w] for w in step.workers if w in lane_y)
        start = timed.step_start_s[step.position]
        if len(lanes) < 2 or not step.tasks or start > until_s:
            continue
        x = scale.x(start)
        sheet.line(x, lanes[0] + LANE - BAR - 4, x, lanes[-1] + LANE - 4, "joint")


def _legend(sheet: Sheet, y: float) -> float:
    """Draw what the marks mean."""
    x = MARGIN
    sheet.line(MARGIN, y - 10, MARGIN + 700, y - 10, "grid")
    items: list[tuple[str, Callable[[float], None]]] = [
        ("work", lambda at: sheet.rect(at, y, 26, 12, "bar", PALE["outside"])),
        ("walking", lambda at: _swatch(sheet, at, y, "walk")),
        ("waiting", lambda at: _swatch(sheet, at, y, "wait")),
        ("idle, waits", lambda at: sheet.path(waiting_line(at, at + 26, y + 6), "idle")),
        ("joint step", lambda at: sheet.line(at + 13, y - 2, at + 13, y + 14, "joint")),
        ("GO call", lambda at: sheet.diamond(at + 13, y + 6, 5)),
        ("planned outage", lambda at: sheet.rect(at, y, 26, 12, "lost", pattern("planned"))),
        ("recovering", lambda at: sheet.rect(at, y, 26, 12, "lost", pattern("recovering"))),
        ("nobody planned it", lambda at: sheet.rect(at, y, 26, 12, "lost", "#1a1a1a")),
        ("past its clock", lambda at: sheet.rect(at, y, 26, 12, "lost", pattern("over"))),
        ("time allowed", lambda at: sheet.rect(at, y + 2, 26, 8, "clock")),
        ("reconnect by", lambda at: _flag(sheet, at + 13, y)),
    ]
    for text, mark in items:
        mark(x)
        sheet.text(x + 32, y + 10, text, "words")
        x += 32 + width_pt(text, 9) + 18
    sheet.text(
        MARGIN,
        y + 30,
        "Likely minutes; predictions from estimates. The certified procedure and the flight rules "
        "decide.",
        "soft",
    )
    return y + 30


def _swatch(sheet: Sheet, x: float, y: float, name: str) -> None:
    sheet.rect(x, y, 26, 12, "bar", PALE["outside"])
    sheet.rect(x, y + 5, 26, 7, "part", pattern(name))


def _flag(sheet: Sheet, x: float, y: float) -> None:
    sheet.line(x, y - 2, x, y + 14, "by")
    sheet.path(f"M{x:.2f} {y - 3:.2f}H{x - 7:.2f}L{x:.2f} {y + 4:.2f}Z", "diamond")
