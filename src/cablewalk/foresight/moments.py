"""Moments at which work may stop: before each phase, and as each action ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import Trace


@dataclass(frozen=True, slots=True)
class Moment:
    """A place in a replay: so many of its events have happened.

    Events at one time have an order, so a moment is told by its position, not by its time.

    Attributes:
        position: how many events have happened.
        time_s: mission elapsed seconds.
        phase: the phase under way, or about to begin.
        ended: the actions that end here; none where a phase is about to begin.
        steps: ids of the steps that end with them.
    """

    position: int
    time_s: int
    phase: int
    ended: tuple[Task, ...]
    steps: tuple[str, ...]


def moments(trace: Trace) -> Iterator[Moment]:
    """Yield each moment at which work may stop, by time; actions that end together share one.

    Where an action ends and the same worker's next begins at the same time, work stops between
    the two. Of different workers at one time, the one that begins has begun.
    """
    events = trace.events
    last = {(event.task.phase, event.task.step): n for n, event in enumerate(events)}
    ended: list[Task] = []
    phase = -1
    for n, event in enumerate(events):
        while phase < event.task.phase:
            phase += 1
            yield Moment(n, trace.phases[phase].start_s, phase, (), ())
        if event.begins:
            continue
        ended.append(event.task)
        following = events[n + 1] if n + 1 < len(events) else None
        if following and not following.begins and following.time_s == event.time_s:
            continue
        keys = [(task.phase, task.step) for task in ended]
        steps = [t.step_id for t, key in zip(ended, keys, strict=True) if last[key] <= n]
        yield Moment(n + 1, event.time_s, phase, tuple(ended), tuple(dict.fromkeys(steps)))
        ended = []
    if not events and trace.phases:
        yield Moment(0, trace.phases[0].start_s, 0, (), ())
