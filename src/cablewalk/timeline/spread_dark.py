"""Outages and clocks of many runs at once; the same rules as for one replay.

:mod:`cablewalk.timeline.spells` and :mod:`cablewalk.timeline.clocks` have the rules; a test holds
the two against each other, run by run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cablewalk.documents.service import Clock
from cablewalk.orders.table import DOWN, GONE, Course
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.spells import Spell
from cablewalk.timeline.spread_courses import Rows
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.timeline.spread_times import Times
from cablewalk.units import seconds

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
    used_s: int
    """What its clocks have used before; with what the baseline says it was dark until verified."""
    clocks: tuple[Clock, ...]
    held_s: int = 0
    """How long after the start it is held dark, as the baseline says, by likely minutes."""


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

    def only(self, places: Rows) -> Part:
        """Return the same for some of its runs."""
        return self._replace(
            rows=self.rows.take(places),
            outages=tuple(dark.only(places) for dark in self.outages),
            current=self.current.only(places) if self.current else None,
        )


class Backs:
    """When services that others need were down, and when they were back, in every run."""

    def __init__(self, runs: int, held: Sequence[Spell] = ()) -> None:
        """``held``: outages that are no matter of the samples (:attr:`Spell.said`)."""
        self._runs = runs
        self._held = [(s.service, s.from_s, int(NEVER) if s.to_s is None else s.to_s) for s in held]
        self._of: dict[int, list[tuple[Seconds, Seconds]]] = {}
        """Service to (from, to) of its first outage, its second … an entry a run each."""
        self._late: dict[int, Seconds] = {}
        """Service to how long after the end it is back, if it is reconnected then at the latest."""
        for spell in held:
            if spell.to_s is None:
                self._late[spell.service] = np.full(runs, spell.lead_s, np.int32)

    def still_s(self, facts: Facts, rows: Rows) -> Seconds:
        """Return how long an outage that is not back lasts on if it is reconnected at the end."""
        late = np.zeros(rows.size, np.int32)
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
                self.still_s(facts, part.rows)
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
        for held, since_s, until_s in self._held:
            if held in facts.needs:
                lasts = (since_s <= now) & (now < until_s)
                base = np.where(lasts, np.maximum(base, np.int32(until_s)), base)
        for service in facts.needs:
            for from_s, to_s in self._of.get(service, ()):
                begun, back = times.of(from_s, rows), times.of(to_s, rows)
                base = np.where((begun <= now) & (now < back), np.maximum(base, back), base)
        return base


def outages_of(
    course: Course, facts: Facts, times: Times, rows: Rows, backs: Backs
) -> Iterator[Part]:
    """Yield the outages of one service in runs that have one course.

    Whether a loss soon after a return continues the outage is a matter of time: the runs part
    there, so that there may be several parts.
    """
    left = [Part(rows, ())]
    while left:
        part = left.pop()
        if part.at == len(course.turns):
            last = (part.current,) if part.current else ()
            yield part._replace(outages=(*part.outages, *last), current=None)
            continue
        left.extend(p for p in _turn(part, course, facts, times, backs) if p.rows.size)


def _turn(part: Part, course: Course, facts: Facts, times: Times, backs: Backs) -> tuple[Part, ...]:
    """Return the runs after one more turn."""
    event, kind = course.turns[part.at]
    current = part.current
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
    if current is None:
        return (part._replace(at=part.at + 1),)
    if kind == GONE:
        ended = current._replace(to_s=now, back=event, retired=True)
        gone = part._replace(at=part.at + 1, current=None, outages=(*part.outages, ended))
        if current.to_s is None:
            return (gone,)
        over = gone._replace(outages=(*part.outages, current))
        return _by(now < current.to_s, gone, over)
    assert current.to_s is None, "a service comes back only when it was down"
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


class Used(NamedTuple):
    """One clock at one outage, an entry a run. Seconds."""

    before_s: Seconds
    used_s: Seconds

    @property
    def total_s(self) -> Seconds:
        """All that is used, this outage included."""
        result: Seconds = self.before_s + self.used_s
        return result


def read(clock: Clock, part: Part, course: Course, facts: Facts, times: Times) -> list[Used]:
    """Return what each outage of some runs uses of a clock."""
    used = np.full(part.rows.size, facts.used_s, np.int32)
    last_end: Seconds | None = times.of(times.phase_start[0], part.rows) + np.int32(facts.held_s)
    if part.outages and part.outages[0].lost == NONE:
        last_end = None
    found = []
    for dark in part.outages:
        reset = clock.resets_after_up_min
        if reset is not None and last_end is not None:
            used = np.where(dark.from_s - last_end >= seconds(reset), np.int32(0), used)
        end = times.of(times.end, part.rows) if dark.to_s is None else dark.to_s
        spent = _spent(clock, dark, course.breaks, end, times, part.rows)
        found.append(Used(used, spent))
        used = used + spent
        last_end = dark.to_s
    return found


def _spent(
    clock: Clock, dark: Dark, breaks: Sequence[int], end: Seconds, times: Times, rows: Rows
) -> Seconds:
    if clock.starts == "power_off" or dark.lost == NONE:
        whole: Seconds = np.maximum(0, end - dark.from_s)
        return whole
    spent = np.zeros(rows.size, np.int32)
    running = np.zeros(rows.size, bool)
    for event in breaks:
        now = times.of(times.events[event], rows)
        inside = ~running & (now >= dark.from_s)
        if dark.to_s is not None:
            inside &= now < dark.to_s
        spent = np.where(inside, np.maximum(0, end - now), spent)
        running |= inside
    return spent
