"""Idle time on a timeline: from when an actor is free until the next step, and what holds it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from cablewalk.drawings.lanes_holds import BAR, LANE, Span
from cablewalk.drawings.lanes_ink import Sheet
from cablewalk.drawings.metrics import width_pt
from cablewalk.schedule.order import Timed
from cablewalk.schedule.tasks import PlannedStep
from cablewalk.units import clock, parse_clock, seconds

LEAST: Final = 5.0
"""Idle time narrower than this, in px, is not drawn."""


class Wait(NamedTuple):
    """An actor who is free, and a step that cannot begin yet. Mission elapsed seconds."""

    worker: str
    from_s: int
    to_s: int
    reasons: tuple[str, ...]
    """What is over, or comes, as the step begins."""


def waits(timed: Timed) -> Iterator[Wait]:
    """Yield the idle times before the steps of a phase, step by step."""
    free = dict.fromkeys(
        (worker for step in timed.plan.steps for worker in step.workers), timed.start_s
    )
    for step in timed.plan.steps:
        begin = timed.step_start_s[step.position]
        for worker in step.workers:
            if free[worker] < begin:
                yield Wait(worker, free[worker], begin, tuple(_reasons(timed, step, worker, free)))
        for worker in step.workers:
            free[worker] = timed.step_end_s[step.position]


def _reasons(
    timed: Timed, step: PlannedStep, worker: str, free: Mapping[str, int]
) -> Iterator[str]:
    """Yield what ends at the very moment a step begins, the decisions first."""
    begin = timed.step_start_s[step.position]
    ends = {other.id: timed.step_end_s[other.position] for other in timed.plan.steps}
    for call in step.document.go:
        givers = (s for s in timed.plan.steps for t in s.tasks if t.action.go_call == call)
        giver = next(givers, None)
        if giver is not None and ends[giver.id] == begin:
            yield f"GO {call}"
    yield from (name for name in step.document.after if ends.get(name) == begin)
    for name, lead in step.document.lead_min.items():
        if name in ends and ends[name] + seconds(lead) == begin:
            yield f"{clock(seconds(lead))} after {name}"
    moment = step.document.not_before
    if moment is not None and timed.zero_s + parse_clock(moment) == begin:
        yield f"PET {clock(begin - timed.zero_s)}"
    yield from (other for other in step.workers if other != worker and free[other] == begin)


def draw_waits(
    sheet: Sheet,
    timed: Timed,
    lane_y: Mapping[str, float],
    x_of: Callable[[float], float],
    taken: Mapping[float, Sequence[Span]],
    until_s: int,
) -> None:
    """Draw each idle time as a thin line between ticks, with what ends it where there is room.

    Args:
        sheet: where it is drawn.
        timed: the phase.
        lane_y: worker to the top of the lane.
        x_of: where a moment stands.
        taken: middle of a lane to what is written on it already.
        until_s: nothing that ends after this is drawn.
    """
    for wait in waits(timed):
        if wait.worker not in lane_y or wait.to_s > until_s:
            continue
        y = lane_y[wait.worker] + LANE - BAR / 2 - 4
        begin, end = x_of(wait.from_s), x_of(wait.to_s)
        begin = max([begin, *(b + 3 for a, b in taken.get(y, ()) if a < end and b > begin)])
        if end - begin < LEAST:
            continue
        sheet.path(waiting_line(begin, end, y), "idle")
        name = " and ".join(dict.fromkeys(wait.reasons))
        for text in (f"waits for {name}", name) if name else ():
            if width_pt(text, 8.5) + 6 <= end - begin:
                sheet.text((begin + end) / 2, y - 3, text, "soft", "middle")
                break


def waiting_line(begin: float, end: float, y: float) -> str:
    """Return the path of a thin line between two ticks."""
    return (
        f"M{begin + 1:.2f} {y - 2.5:.2f}V{y + 2.5:.2f}M{begin + 1:.2f} {y:.2f}"
        f"H{end - 1:.2f}M{end - 1:.2f} {y - 2.5:.2f}V{y + 2.5:.2f}"
    )
