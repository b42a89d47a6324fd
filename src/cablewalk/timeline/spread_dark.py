"""Outages of many runs at once; the same rules as for one replay.

:mod:`cablewalk.timeline.spells` has the rules; a test holds the two against each other, run by
run.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cablewalk.documents.service import Clock
from cablewalk.orders.course import DOWN, GONE, SEEN, UP, Course
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.handed import Handed
from cablewalk.timeline.spread_courses import Rows
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.timeline.spread_times import Times

Mask = NDArray[np.bool_]

NEVER = np.int32(2**30)
"""End of an outage that does not end, in seconds: 34 years."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What the baseline says of a service that its outages depend on. Seconds."""

    service: int
    recovery_s: int
    needs: tuple[int, ...]
    """The services it needs that may come back later than what restores them."""
    dark_s: int
    handed: Handed
    """How its clocks stand as the runs begin."""
    clocks: tuple[Clock, ...]
    is_said: bool = False
    """The baseline says that it is dark and nothing says why, or that it was found down: it is so
    until it is verified."""
    held_by: tuple[int, ...] = ()
    """Services it needs that are held dark at the start: it is so too until they are back."""

    @property
    def is_held(self) -> bool:
        """Whether it is held dark at the start, whatever the model has."""
        return self.is_said or bool(self.held_by)


class Dark(NamedTuple):
    """One outage in some runs, an entry a run."""

    lost: int
    """The event that took the service down; NONE where it was down at the start."""
    from_s: Seconds
    to_s: Seconds | None
    """When it counts as back; None: not within the runs."""
    back: int
    """The event that brought it back or retired it, or NONE."""
    retired: bool = False

    def lasted(self, end_s: Seconds) -> Seconds:
        """Return how long it lasts, up to ``end_s`` where it lasts still."""
        result: Seconds = (end_s if self.to_s is None else self.to_s) - self.from_s
        return result

    def only(self, places: Rows) -> Dark:
        """Return the same for some of its runs."""
        to_s = None if self.to_s is None else self.to_s.take(places)
        return self._replace(from_s=self.from_s.take(places), to_s=to_s)


class Part(NamedTuple):
    """Runs in which a service has the same outages, one after the other."""

    rows: Rows
    outages: tuple[Dark, ...]
    at: int = 0
    current: Dark | None = None
    is_held: bool = False
    """It is held dark still, whatever the model has."""
    is_down: bool = False
    """While it is held: whether the model has it down."""

    def only(self, places: Rows) -> Part:
        """Return the same for some of its runs."""
        return self._replace(
            rows=self.rows.take(places),
            outages=tuple(dark.only(places) for dark in self.outages),
            current=self.current.only(places) if self.current else None,
        )


class Backs:
    """When services that others need were down, and when they were back, in every run."""

    def __init__(self, runs: int) -> None:
        self._runs = runs
        self._of: dict[int, list[tuple[Seconds, Seconds]]] = {}
        """Service to (from, to) of its first outage, its second … an entry a run each."""
        self._late: dict[int, Seconds] = {}
        """Service to how long after the end it is back, if it is reconnected then at the latest."""

    def still_s(self, facts: Facts, part: Part) -> Seconds:
        """Return how long an outage that is not back lasts on if it is reconnected at the end."""
        rows = part.rows
        late = np.zeros(rows.size, np.int32)
        if facts.is_said and len(part.outages) == 1:
            return late  # a verify brings back at once
        for need in facts.needs:
            if need in self._late:
                late = np.maximum(late, self._late[need][rows])
        result: Seconds = late + np.int32(facts.recovery_s)
        return result

    def note(self, facts: Facts, part: Part, times: Times) -> None:
        """Keep the outages of a service in some runs, and how long the last goes on."""
        known = self._of.setdefault(facts.service, [])
        if part.outages and not part.outages[-1].retired:
            to_s = part.outages[-1].to_s
            late = self._late.setdefault(facts.service, np.zeros(self._runs, np.int32))
            late[part.rows] = (
                self.still_s(facts, part)
                if to_s is None
                else np.maximum(0, to_s - times.of(times.end, part.rows))
            )
        for n, dark in enumerate(part.outages):
            if n == len(known):
                known.append((np.zeros(self._runs, np.int32), np.zeros(self._runs, np.int32)))
            known[n][0][part.rows] = dark.from_s
            known[n][1][part.rows] = NEVER if dark.to_s is None else dark.to_s

    def base(self, facts: Facts, now: Seconds, times: Times, rows: Rows) -> Seconds:
        """Return when all that a service needs is back, seen from a moment of each run."""
        base = now
        for service in facts.needs:
            for from_s, to_s in self._of.get(service, ()):
                begun, back = times.of(from_s, rows), times.of(to_s, rows)
                base = np.where((begun <= now) & (now < back), np.maximum(base, back), base)
        return base

    def held_until(self, facts: Facts, course: Course, times: Times) -> Seconds:
        """Return until when a service is held dark in every run; ``NEVER``: to the end."""
        if facts.is_said:
            seen = next((event for event, kind in course.turns if kind == SEEN), NONE)
            return np.full(times.runs, NEVER, np.int32) if seen == NONE else times.events[seen]
        until, *more = (self._of[need][0][1] for need in facts.held_by)
        for other in more:
            until = np.maximum(until, other)
        return until


def outages_of(
    course: Course, facts: Facts, times: Times, rows: Rows, backs: Backs
) -> Iterator[Part]:
    """Yield the outages of one service in runs that have one course.

    Whether a loss soon after a return continues the outage is a matter of time: the runs part
    there, so that there may be several parts.
    """
    left = [Part(rows, ())]
    until: Seconds | None = None
    if facts.is_held:
        first = times.of(times.phase_start[0], rows) - np.int32(facts.dark_s)
        left = [Part(rows, (), current=Dark(NONE, first, None, NONE), is_held=True)]
        until = backs.held_until(facts, course, times)
    while left:
        part = left.pop()
        if part.is_held and until is not None:
            parts = _held_turn(part, course, facts, times, until, backs)
        elif part.at == len(course.turns):
            last = (part.current,) if part.current else ()
            yield part._replace(outages=(*part.outages, *last), current=None)
            continue
        else:
            parts = _turn(part, course, facts, times, backs)
        left.extend(p for p in parts if p.rows.size)


def _held_turn(
    part: Part, course: Course, facts: Facts, times: Times, until: Seconds, backs: Backs
) -> tuple[Part, ...]:
    """Return the runs after one more turn, or the end of the hold where that comes first.

    What is retired is so whoever holds it dark; that it goes down or comes back shows only once
    it is held no longer. ``until``: when that is, an entry a run of all.
    """
    assert part.current is not None, "what is held is dark"
    ends = times.of(until, part.rows)
    if part.at == len(course.turns):
        on, waiting = part._replace(is_held=False), ends == NEVER
    elif course.turns[part.at][0] == NONE:
        return (part._replace(at=part.at + 1, is_down=True),)
    else:
        event, kind = course.turns[part.at]
        now = times.of(times.events[event], part.rows)
        on, waiting = part._replace(at=part.at + 1), now < ends
        if kind == GONE:
            gone = part.current._replace(to_s=now, back=event, retired=True)
            on = on._replace(outages=(gone,), current=None, is_held=False)
        elif kind != SEEN:
            on = on._replace(is_down=kind == DOWN)
    held, free = np.flatnonzero(waiting), np.flatnonzero(~waiting)
    freed = _let_go(part.only(free), facts, ends.take(free), times, backs) if free.size else ()
    return (on.only(held), *freed)


def _let_go(
    part: Part, facts: Facts, until: Seconds, times: Times, backs: Backs
) -> tuple[Part, ...]:
    """Return the runs as a service is held no longer: back, unless the model has it down."""
    assert part.current is not None, "what is held is dark"
    free = part._replace(is_held=False)
    if facts.is_said:  # a verify brings back at once
        return (free._replace(current=part.current._replace(to_s=until)),)
    if part.is_down:
        return (free,)
    base = backs.base(facts, until, times, part.rows)
    back = part.current._replace(to_s=base + np.int32(facts.recovery_s))
    return _by(base < NEVER, free._replace(current=back), free)


def _turn(part: Part, course: Course, facts: Facts, times: Times, backs: Backs) -> tuple[Part, ...]:
    """Return the runs after one more turn."""
    event, kind = course.turns[part.at]
    current = part.current
    if kind == SEEN:
        return (part._replace(at=part.at + 1),)
    if event == NONE:
        first = times.of(times.phase_start[0], part.rows) - facts.dark_s
        return (part._replace(at=part.at + 1, current=Dark(NONE, first, None, NONE)),)
    now = times.of(times.events[event], part.rows)
    if kind == DOWN:
        fresh = part._replace(at=part.at + 1, current=Dark(event, now, None, NONE))
        if current is None:
            return (fresh,)
        if current.to_s is None:
            return (part._replace(at=part.at + 1),)
        fresh = fresh._replace(outages=(*part.outages, current))
        still = part._replace(at=part.at + 1, current=current._replace(to_s=None, back=NONE))
        return _by(now <= current.to_s, still, fresh)
    if current is None or (kind == UP and current.to_s is not None):
        # Up before it was verified, at the same moment: the verify has brought it back.
        return (part._replace(at=part.at + 1),)
    if kind == GONE:
        ended = current._replace(to_s=now, back=event, retired=True)
        gone = part._replace(at=part.at + 1, current=None, outages=(*part.outages, ended))
        if current.to_s is None:
            return (gone,)
        over = gone._replace(outages=(*part.outages, current))
        return _by(now < current.to_s, gone, over)
    base = backs.base(facts, now, times, part.rows) if facts.needs else now
    back = current._replace(to_s=base + np.int32(facts.recovery_s), back=event)
    done = part._replace(at=part.at + 1, current=back)
    if not facts.needs:
        return (done,)
    # What it needs may be lost again before it counts as back, and not be back after.
    return _by(base < NEVER, done, part._replace(at=part.at + 1))


def _by(mask: Mask, yes: Part, no: Part) -> tuple[Part, ...]:
    if mask.all():
        return (yes,)
    if not mask.any():
        return (no,)
    return yes.only(np.flatnonzero(mask)), no.only(np.flatnonzero(~mask))
