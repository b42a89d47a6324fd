"""Spells: how long a service was down, reduced, or unproven."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.findings import Address, Findings
from cablewalk.replay.configuration import ALIVE
from cablewalk.units import clock, minutes, seconds
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
    said: bool = False
    """The baseline says that it is dark, though all it needs is joined: so until it is verified."""
    lead_s: int = 0
    """From the end of the action that brings it back until it counts as back: its recovery, and
    that of the services it needs and that come back no sooner."""

    def duration_s(self, end_s: int) -> int:
        """Return how long it lasted, up to ``end_s`` where it lasts still."""
        return (end_s if self.to_s is None else self.to_s) - self.from_s


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


def outages(trace: Trace, dark_min: Mapping[str, float], said: Collection[str] = ()) -> list[Spell]:
    """Return every outage, by service and time.

    A service that is down when the replay starts has been so for ``dark_min`` already. One that
    comes back counts as back ``recovery_min`` after all it needs are; a loss before or at that
    moment continues the outage.

    Args:
        trace: the replay.
        dark_min: service to the minutes it was down before, if it was down at the start.
        said: services that are said to be dark at the start. One that is joined, switched and fed
            all the same is down until it is verified: why, nobody knows.
    """
    found: list[Spell] = []
    of: dict[int, list[Spell]] = {}
    moments = histories(trace)
    for n in trace.wiring.service_order:
        service = trace.wiring.services[n]
        own = of.setdefault(n, [])
        current: Spell | None = None
        since = moments[n]
        if service.id in said and is_up(since[0]):
            earlier = seconds(dark_min.get(service.id, 0))
            current = Spell(n, "outage", since[0].time_s - earlier, None, planned=False, said=True)
            own.append(current)
            since = _held(trace, current, since)
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
                needed = (s for need in service.needs for s in of.get(need, ()))
                base = max((back_by(s, moment.time_s) for s in needed), default=moment.time_s)
                current.to_s = base + service.recovery_s
                current.restored_by = moment.event
        for spell in own:
            spell.lead_s = _lead_s(spell, service.recovery_s, service.needs, of)
    for n in range(len(trace.wiring.services)):
        found.extend(of.get(n, ()))
    _verify(trace, found)
    return found


def is_up(moment: Moment) -> bool:
    """Return whether a service lives then and is not down."""
    return moment.view.life == ALIVE and moment.view.state is not State.DOWN


def _held(trace: Trace, spell: Spell, moments: Sequence[Moment]) -> list[Moment]:
    """End an outage that only a verify ends, or its retirement; return the moments after it."""
    name = trace.wiring.services[spell.service].id
    seen = next((at for service, at in trace.verified if service == spell.service), None)
    for moment in moments:
        if seen is not None and moment.time_s >= seen:
            break
        if moment.view.life != ALIVE:
            spell.retired, spell.to_s, spell.restored_by = True, moment.time_s, moment.event
            return [m for m in moments if m.time_s > moment.time_s]
    if seen is None:
        return []
    spell.to_s = seen
    spell.restored_by = next(
        e
        for e in trace.events
        if e.time_s == seen and not e.begins and e.task.action.verify == name
    )
    return [m for m in moments if m.time_s >= seen]


def _lead_s(
    spell: Spell, recovery_s: int, needs: Sequence[int], of: Mapping[int, Sequence[Spell]]
) -> int:
    """Return how long an outage lasts on after it was reconnected, or would if it were now."""
    if spell.retired or spell.said:
        return 0
    if spell.to_s is not None and spell.restored_by is not None:
        return spell.to_s - spell.restored_by.time_s
    waits = (s.lead_s for need in needs for s in of.get(need, ()) if s.to_s is None)
    return recovery_s + max(waits, default=0)


def back_by(spell: Spell, time_s: int) -> int:
    """Return when a needed service is back, seen from a moment at which it may still recover."""
    if spell.to_s is not None and spell.from_s <= time_s < spell.to_s:
        return spell.to_s
    return time_s


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


def said_dark(trace: Trace, spells: Sequence[Spell], findings: Findings) -> None:
    """Note each service that the baseline says is dark, and that nothing in it explains."""
    for spell in spells:
        if not spell.said:
            continue
        row = trace.wiring.services[spell.service]
        findings.warning(
            "dark-unexplained",
            Address(0, row.path),
            f"{row.id} is said to be dark (dark_min), and all it needs is joined, on and fed",
            expected="a join, a switch or a feed that says why it is dark",
            difference="it is taken to be down until the plan verifies it"
            if spell.to_s is None
            else f"it is taken to be down until it is verified at {clock(spell.to_s)}",
            way_out="find out why, and write it under 'now'; or verify it, or take dark_min out",
            items=(row.id,),
        )


def verified_early(trace: Trace, spells: Sequence[Spell], findings: Findings) -> None:
    """Note each verify that comes while a service still recovers: it proves nothing."""
    for spell in spells:
        event = spell.restored_by
        if spell.to_s is None or spell.retired or event is None:
            continue
        for service, time_s in trace.verified:
            if service == spell.service and event.time_s <= time_s < spell.to_s:
                row = trace.wiring.services[service]
                findings.warning(
                    "verified-early",
                    Address(0, row.path),
                    f"{row.id} is verified at {clock(time_s)}, before it is back",
                    expected=f"a verify at {clock(spell.to_s)} or later",
                    difference=f"recovery_min is {minutes(row.recovery_s):g}",
                    way_out="wait for its recovery, then verify",
                    items=(row.id,),
                )
