"""Spells: how long a service was down, reduced, or unproven."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.documents.now import Now
from cablewalk.replay.configuration import ALIVE
from cablewalk.replay.wiring import ServiceLine
from cablewalk.units import seconds
from cablewalk.walk.trace import Event, Reason, Shift, Trace, View


@dataclass(slots=True)
class Spell:
    """A time in which a service was down, reduced or unproven. Times are mission elapsed seconds.

    ``to_s`` of an outage is when power is predicted back (recovery included); None while it lasts.
    """

    service: int
    kind: str
    """``outage``, ``reduced`` or ``unproven``."""
    from_s: int
    lost_by: Event | None
    """None: it was so at the start."""
    reasons: tuple[Reason, ...] = ()
    planned: bool = True
    to_s: int | None = None
    restored_by: Event | None = None
    verified_s: int | None = None
    retired: bool = False
    """It ended because the service was retired, not because it came back."""
    said: str = ""
    """The service, itself or one it needs, that the baseline says is dark though all it needs is
    joined, or was found down: it is so until that is verified. Empty: not so."""
    said_as: str = "dark_min"
    """What says so under ``now``, where something does: ``dark_min`` or ``found_down``."""
    lead_s: int = 0
    """From the end of the action that brings it back until it counts as back: its recovery, after
    that of what it needs. Where it is not back: if that action ended with the replay."""
    own_s: int = 0
    """Its own recovery."""
    waits_for: tuple[Spell, ...] = ()
    """Outages of services it needs that come back with it, or are not back yet."""
    ready: tuple[Spell, ...] = ()
    """Outages of services it needs that were reconnected before it and still recovered then."""

    def latest_s(self, runs_out_s: float) -> float:
        """Return the latest end of the action that brings it back, to be back by a moment.

        Where what it needs is too late already, that had to be reconnected sooner.
        """
        by = runs_out_s - self.own_s
        late = [s for s in self.ready if s.to_s is not None and s.to_s > by]
        return min([by, *(other.latest_s(by) for other in (*self.waits_for, *late))])

    def lasts_at(self, time_s: int) -> bool:
        """Return whether it lasts at a moment; as it ends, it does no longer."""
        return self.from_s <= time_s and (self.to_s is None or time_s < self.to_s)

    def duration_s(self, end_s: int) -> int:
        """Return how long it lasted, up to ``end_s`` where it lasts still."""
        return max(0, (end_s if self.to_s is None else self.to_s) - self.from_s)


class Moment(NamedTuple):
    """How a service stood from a time on."""

    time_s: int
    view: View
    event: Event | None
    shift: Shift | None


def histories(trace: Trace) -> list[list[Moment]]:
    """Return how each service stood at the start and after each event that altered it."""
    at_s = start_s(trace)
    found = [[Moment(at_s, view, None, None)] for view in trace.start_views]
    for event in trace.events:
        for shift in event.shifts:
            found[shift.service].append(Moment(event.time_s, shift.after, event, shift))
    return found


NEVER_S = 10**12
"""End of an outage that does not end. Mission elapsed seconds."""


def start_s(trace: Trace) -> int:
    """Return the mission elapsed time at which the replay starts."""
    return trace.phases[0].start_s if trace.phases else 0


def outages(
    trace: Trace,
    dark_min: Mapping[str, float],
    said: Collection[str] = (),
    found_down: Collection[str] = (),
) -> list[Spell]:
    """Return every outage, by service and time.

    A service that is down when the replay starts has been so for ``dark_min`` already. One that
    comes back counts as back ``recovery_min`` after all it needs are; a loss before or at that
    moment continues the outage.

    Args:
        trace: the replay.
        dark_min: service to the minutes it was down before, if it was down at the start.
        said: services that are said to be dark at the start. One that is joined, switched and fed
            all the same is down until it is verified: why, nobody knows.
        found_down: services that are down until they are verified, whatever has them down too.
    """
    found: list[Spell] = []
    of: dict[int, list[Spell]] = {}
    moments = histories(trace)
    for n in trace.wiring.service_order:
        service = trace.wiring.services[n]
        own = of.setdefault(n, [])
        needed = [s for need in service.needs for s in of.get(need, ())]
        current: Spell | None = None
        since = moments[n]
        holder = _holder(service, said, found_down, of, is_up(since[0]))
        if holder and since[0].view.life == ALIVE:
            earlier = seconds(dark_min.get(service.id, 0))
            current = Spell(
                n, "outage", since[0].time_s - earlier, None, planned=False, said=holder
            )
            current.said_as = "found_down" if holder in found_down else "dark_min"
            own.append(current)
            since = _held(trace, current, since, _until(trace, service, holder, of), needed)
            current = None if current.retired else current
        for moment in since:
            view = moment.view
            down = view.life == ALIVE and view.state is State.DOWN
            if down:
                if current is not None and (current.to_s is None or moment.time_s <= current.to_s):
                    if current.to_s is not None:
                        current.to_s, current.restored_by = None, None
                    continue
                earlier = seconds(dark_min.get(service.id, 0)) if moment.event is None else 0
                current = Spell(
                    n,
                    "outage",
                    moment.time_s - earlier,
                    moment.event,
                    moment.shift.reasons if moment.shift else (),
                    moment.shift.planned if moment.shift else False,
                )
                own.append(current)
            elif current is not None and view.life != ALIVE:
                if current.to_s is None or moment.time_s < current.to_s:
                    current.retired, current.to_s = True, moment.time_s
                    current.restored_by = moment.event
                current = None
            elif current is not None and current.to_s is None:
                base = max((back_by(s, moment.time_s) for s in needed), default=moment.time_s)
                if base < NEVER_S:  # else what it needs is lost again before it counts as back
                    current.to_s = base + service.recovery_s
                    current.restored_by = moment.event
        for spell in own:
            if not spell.retired and spell.said != service.id:  # a verify brings back at once
                _lead(spell, service.recovery_s, needed, trace.end_s)
    for n in range(len(trace.wiring.services)):
        found.extend(of.get(n, ()))
    _verify(trace, found)
    return found


def outages_of(trace: Trace, now: Now) -> list[Spell]:
    """Return every outage of a plan that begins as a baseline's ``now`` says."""
    dark = [name for name, minutes in now.dark_min.items() if minutes]
    return outages(trace, now.dark_min, dark, now.found_down)


def is_up(moment: Moment) -> bool:
    """Return whether a service lives then and is not down."""
    return moment.view.life == ALIVE and moment.view.state is not State.DOWN


def _holder(
    service: ServiceLine,
    said: Collection[str],
    found_down: Collection[str],
    of: Mapping[int, list[Spell]],
    up: bool,
) -> str:
    """Return the service that is said to be dark and so holds this one dark at the start, or none.

    ``of``: the outages of those it needs; ``up``: the model has it up: one that it has down is held
    only by what was found down.
    """
    holding = {*said, *found_down} if up else found_down
    if service.id in holding:
        return service.id
    needed = (s.said for need in service.needs for s in of.get(need, ())[:1])
    return next((name for name in needed if name in holding), "")


def _until(
    trace: Trace, service: ServiceLine, holder: str, of: Mapping[int, list[Spell]]
) -> tuple[int | None, Event | None]:
    """Return when a service is no longer held dark, and the verify that shows it."""
    if holder != service.id:
        first = [of[need][0] for need in service.needs if of.get(need) and of[need][0].said]
        last = max(first, key=lambda s: NEVER_S if s.to_s is None else s.to_s)
        return last.to_s, last.restored_by
    number = trace.wiring.service_by_id[holder]
    seen = next((at for n, at in trace.verified if n == number), None)
    for event in trace.events:
        if event.time_s == seen and not event.begins and event.task.action.verify == holder:
            return seen, event
    return None, None


def _held(
    trace: Trace,
    spell: Spell,
    moments: Sequence[Moment],
    until: tuple[int | None, Event | None],
    waits: Sequence[Spell],
) -> list[Moment]:
    """End an outage that only a verify ends, or its retirement; return the moments after it.

    ``waits``: the outages of what it needs, which may recover still as it is held no longer.
    """
    seen, event = until
    for moment in moments:
        if seen is not None and moment.time_s >= seen:
            break
        if moment.view.life != ALIVE:
            spell.retired, spell.to_s, spell.restored_by = True, moment.time_s, moment.event
            return [m for m in moments if m.time_s > moment.time_s]
    if seen is None:
        return []
    before = [m for m in moments if m.time_s < seen]
    row = trace.wiring.services[spell.service]
    if spell.said == row.id:
        spell.to_s, spell.restored_by = seen, event
    elif not before or is_up(before[-1]):
        base = max((back_by(s, seen) for s in waits), default=seen)
        if base < NEVER_S:
            spell.to_s, spell.restored_by = base + row.recovery_s, event
    return [m for m in moments if m.time_s >= seen]


def _lead(spell: Spell, recovery_s: int, needed: Sequence[Spell], end_s: int) -> None:
    """Set what an outage lasts on for after it was reconnected, or would if it were at the end."""
    spell.own_s = recovery_s
    back = spell.restored_by.time_s if spell.to_s is not None and spell.restored_by else None
    at = end_s if back is None else back
    lasting = [s for s in needed if s.lasts_at(at)]
    ready: list[Spell] = []
    waits_for: list[Spell] = []
    for other in lasting:
        again = other.restored_by
        is_before = other.to_s is not None and (back is None or (again and again.time_s < back))
        (ready if is_before else waits_for).append(other)
    spell.ready, spell.waits_for = tuple(ready), tuple(waits_for)
    if back is not None and spell.to_s is not None:
        spell.lead_s = spell.to_s - back
        return
    waits = [s.lead_s if s.to_s is None else s.to_s - end_s for s in lasting]
    spell.lead_s = recovery_s + max(waits, default=0)


def back_by(spell: Spell, time_s: int) -> int:
    """Return when a needed service is back, seen from a moment at which it may still recover.

    ``NEVER_S`` where it was lost again before it counted as back, and is not back after.
    """
    to_s = NEVER_S if spell.to_s is None else spell.to_s
    return to_s if spell.from_s <= time_s < to_s else time_s


def _verify(trace: Trace, spells: list[Spell]) -> None:
    """Set when each outage's end was verified: the first verify after it with nothing unproven."""
    verifies: dict[int, list[int]] = {}
    for service, time_s in trace.verified:
        verifies.setdefault(service, []).append(time_s)
    following = {id(a): b for a, b in pairwise(spells) if a.service == b.service}
    for spell in spells:
        if spell.to_s is None or spell.retired:
            continue
        until = following[id(spell)].from_s if id(spell) in following else None
        times = [
            t
            for t in verifies.get(spell.service, ())
            if t >= spell.to_s and (until is None or t <= until)
        ]
        spell.verified_s = times[0] if times else None
