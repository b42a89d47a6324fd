"""The moments a picture is drawn of: the start, and after each step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.schedule.tasks import PlannedStep
from cablewalk.timeline.account import Account
from cablewalk.timeline.spells import start_s
from cablewalk.walk.trace import Event, Shift, Trace, View

SEEN: Final = frozenset({Field.STATE, Field.LINK, Field.COUNT, Field.TIES, Field.ALONG})
"""Fields whose changes a picture shows."""


@dataclass(frozen=True, slots=True)
class Moment:
    """How everything stands when a step is over; ``step`` is None at the start of the replay."""

    config: Configuration
    views: tuple[View, ...]
    time_s: int
    """Mission elapsed seconds."""
    phase: int = 0
    step: PlannedStep | None = None
    changed: frozenset[int] = frozenset()
    """Items that the step itself changed."""
    shifts: tuple[Shift, ...] = ()
    """What the step did to services."""
    stirred: frozenset[int] | None = None
    """Items that anything changed since the moment before; None: not known."""

    @property
    def matters(self) -> bool:
        """Whether the step changed an item, or how a service stands."""
        return bool(self.changed or self.shifts)


def moments(account: Account) -> list[Moment]:
    """Return the start and every replayed step, each step where its last task ended.

    An action that was refused counts as ended: a step of which nothing could be done has its
    moment too.
    """
    trace = account.trace
    every = _told(trace)
    last: dict[tuple[int, int], int] = {}
    for n, event in enumerate(every):
        last[event.task.phase, event.task.step] = n
    found = [Moment(trace.start, trace.start_views, start_s(trace))]
    config = trace.start.copy()
    views = list(trace.start_views)
    changed: dict[tuple[int, int], set[int]] = {}
    shifts: dict[tuple[int, int], list[Shift]] = {}
    stirred: set[int] = set()
    for n, event in enumerate(every):
        key = event.task.phase, event.task.step
        config.apply(event.changes)
        stirred.update(change.item for change in event.changes)
        for shift in event.shifts:
            views[shift.service] = shift.after
        seen = (c.item for c in event.changes if _is_seen(trace, c))
        changed.setdefault(key, set()).update(seen)
        shifts.setdefault(key, []).extend(event.shifts)
        if last[key] == n:
            found.append(
                Moment(
                    config.copy(),
                    tuple(views),
                    event.time_s,
                    key[0],
                    trace.phases[key[0]].plan.steps[key[1]],
                    frozenset(changed[key]),
                    tuple(shifts[key]),
                    frozenset(stirred),
                )
            )
            stirred.clear()
    return found


def _told(trace: Trace) -> list[Event]:
    """Return the events, with one that changes nothing for each refusal."""
    waiting = [Event(r.time_s, True, r.task, (), ()) for r in trace.refused]
    found: list[Event] = []
    for event in trace.events:
        while waiting and waiting[0].time_s < event.time_s:
            found.append(waiting.pop(0))
        found.append(event)
    return found + waiting


def _is_seen(trace: Trace, change: Change) -> bool:
    """Return whether a picture shows a change: not that somebody was busy."""
    busy = change.field is Field.STATE and trace.wiring.items[change.item].kind == "person"
    return change.field in SEEN and not busy


def ending(trace: Trace, last: Moment) -> Moment:
    """Return how everything stands when the replay is over."""
    config = trace.end if trace.end is not None else last.config
    return Moment(config, trace.end_views or last.views, trace.end_s, last.phase)
