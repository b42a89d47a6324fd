"""The summary timeline: a lane for each actor, and beneath them one for each service that is dark.

All in percent of the phase, so that a browser sets it out at any width.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from cablewalk.book.turns import Turn
from cablewalk.reports.heading import PhaseRow
from cablewalk.reports.outage import OutageRow
from cablewalk.reports.step import StepRow
from cablewalk.units import clock, clock_up, seconds

_TICKS_MIN: Final = (5, 10, 15, 30, 60, 120, 240, 480, 1440)
_MOST_TICKS: Final = 12
_ROOM_PERCENT: Final = 0.75
"""Room that a character takes, in percent of the narrowest chart (42 rem wide, 12 px type)."""


@dataclass(frozen=True, slots=True)
class Bar:
    """Something that lasts. Percent of the phase's length."""

    left: float
    width: float
    text: str
    tells: str
    step: int | None = None
    """Frame of the player, for a step."""
    planned: bool = True
    open_left: bool = False
    open_right: bool = False
    fit: str = ""
    """``thin``: the words stand behind the bar; ``under``: beneath it; ``tight``: nowhere."""


@dataclass(slots=True)
class Lane:
    """One actor or one service."""

    name: str
    under: str
    bars: list[Bar] = field(default_factory=list)


@dataclass(slots=True)
class Chart:
    """One phase."""

    phase: PhaseRow
    ticks: list[tuple[float, str]]
    people: list[Lane]
    services: list[Lane]
    retired: list[Lane]
    """Services off for good, by plan: from when in this phase on."""


def chart_of(
    phase: PhaseRow,
    steps: Sequence[StepRow],
    outages: Sequence[OutageRow],
    frames: dict[tuple[int, str], int],
    turns: Sequence[Turn] = (),
) -> Chart:
    """Return the chart of one phase.

    Args:
        phase: the phase.
        steps: all steps of the replay; those of other phases are passed over.
        outages: all outages; those that touch the phase are shown, cut to it.
        frames: (number of the phase, step) to its frame in the player.
        turns: services that are retired, first up or re-routed; the first alone are shown.
    """
    scale = _Scale(phase.start_min, max(phase.end_min, phase.start_min + 1))
    own = [s for s in steps if s.phase_number == phase.number]
    role = {person: name for name, person in phase.roles.items()}
    people: dict[str, Lane] = {p: Lane(p, role[p].upper()) for p in role}
    for step in own:
        for person in step.people:
            lane = people.setdefault(person, Lane(person, ""))
            left, width = scale.span(step.begin_min, step.end_min)
            tells = f"{step.id}, PET {step.begin_pet.pet} to {step.end_pet.pet}: {step.say}"
            frame = frames.get((phase.number, step.id))
            lane.bars.append(Bar(left, width, step.id, tells.rstrip(": "), frame))
    services: dict[str, Lane] = {}
    for row in outages:
        end = row.to_min if row.to_min is not None else float("inf")
        if row.from_min >= phase.end_min or end <= phase.start_min:
            continue
        left, width = scale.span(row.from_min, end)
        lane = services.setdefault(row.service, Lane(row.service, row.label))
        lane.bars.append(
            Bar(
                left,
                width,
                clock_up(seconds(row.duration_min)),
                f"{row.service} dark {clock_up(seconds(row.duration_min))}",
                planned=row.planned is not False,
                open_left=row.from_min < phase.start_min,
                open_right=end > phase.end_min,
            )
        )
    for lane in people.values():
        lane.bars = fitted_bars(lane.bars)
    retired = [
        Lane(turn.service, turn.label, [_off(scale, turn)])
        for turn in turns
        if turn.kind == "retired" and turn.phase_number == phase.number
    ]
    ticks = scale.ticks(phase.zero_min)
    return Chart(phase, ticks, list(people.values()), list(services.values()), retired)


def _off(scale: _Scale, turn: Turn) -> Bar:
    left, width = scale.span(turn.at_min, float("inf"))
    words = f"off for good, step {turn.step}"
    return Bar(left, width, words, f"{turn.service} {words}, by plan", open_right=True)


def fitted_bars(bars: Sequence[Bar]) -> list[Bar]:
    """Return bars that say where their words have room; in the order in which they begin."""
    ordered = sorted(bars, key=lambda bar: bar.left)
    found = []
    free = 0.0  # from where the row beneath the bars is
    for n, bar in enumerate(ordered):
        needed = _ROOM_PERCENT * (len(bar.text) + 1)
        until = ordered[n + 1].left if n + 1 < len(ordered) else 100.0 + needed
        if bar.width >= needed:
            fit = ""
        else:
            fit = "thin" if until - bar.left - bar.width >= needed else "tight"
        if fit == "tight" and bar.left >= free:
            fit, free = "under", bar.left + needed
        found.append(replace(bar, fit=fit))
    return found


@dataclass(frozen=True, slots=True)
class _Scale:
    start: float
    end: float

    def at(self, minute: float) -> float:
        cut = min(max(minute, self.start), self.end)
        return round(100 * (cut - self.start) / (self.end - self.start), 3)

    def span(self, begin: float, end: float) -> tuple[float, float]:
        left = self.at(begin)
        return left, round(max(self.at(end) - left, 0.15), 3)

    def ticks(self, zero: float) -> list[tuple[float, str]]:
        length = self.end - self.start
        every = next((t for t in _TICKS_MIN if length / t <= _MOST_TICKS), _TICKS_MIN[-1])
        first = -int(-(self.start - zero) // every) * every
        found: list[tuple[float, str]] = []
        minute = float(first)
        while zero + minute <= self.end and len(found) < 400:
            found.append((self.at(zero + minute), clock(seconds(minute))))
            minute += every
        return found
