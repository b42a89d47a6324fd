"""Spells: how long a service was down, reduced, or unproven."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
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


def start_s(trace: Trace) -> int:
    """Return the mission elapsed time at which the replay starts."""
    return trace.phases[0].start_s if trace.phases else 0


def outages(trace: Trace, dark_min: dict[str, float]) -> list[Spell]:
    """Return every outage, by service and time.

    A service that is down when the replay starts has been so for ``dark_min`` already. One that
    comes back counts as back ``recovery_min`` after all it needs are; a loss before or at that
    moment continues the outage.
    """
    found: list[Spell] = []
    of: dict[int, list[Spell]] = {}
    moments = histories(trace)
    for n in trace.wiring.service_order:
        service = trace.wiring.services[n]
        own = of.setdefault(n, [])
        current: Spell | None = None
        for moment in moments[n]:
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


def _lead_s(
    spell: Spell, recovery_s: int, needs: Sequence[int], of: Mapping[int, Sequence[Spell]]
) -> int:
    """Return how long an outage lasts on after it was reconnected, or would if it were now."""
    if spell.retired:
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


def lesser_spells(trace: Trace, back_s: Mapping[int, Sequence[tuple[int, int]]]) -> list[Spell]:
    """Return the times each service was reduced, and those it was up but unproven.

    ``back_s``: service to (from, to) of each time in which it was not up yet, recovery included:
    such a time is no time of being reduced or unproven. Mission elapsed seconds.
    """
    found: list[Spell] = []
    for n, moments in enumerate(histories(trace)):
        for kind in ("reduced", "unproven"):
            current: Spell | None = None
            for moment in moments:
                view = moment.view
                alive = view.life == ALIVE
                so = alive and (
                    view.state is State.REDUCED if kind == "reduced" else bool(view.unproven)
                )
                if so and current is None:
                    current = Spell(
                        n,
                        kind,
                        moment.time_s,
                        moment.event,
                        moment.shift.reasons if moment.shift else (),
                    )
                    found.append(current)
                elif not so and current is not None:
                    current.to_s, current.restored_by = moment.time_s, moment.event
                    current = None
    for spell in found:
        for from_s, to_s in back_s.get(spell.service, ()):
            if from_s <= spell.from_s < to_s:
                spell.from_s = to_s
    return [s for s in found if s.to_s is None or s.from_s < s.to_s]


@dataclass(frozen=True, slots=True)
class StringsLeft:
    """Which strings of a service could carry it from a time on."""

    service: int
    time_s: int
    step: str | None
    phase: int | None
    up: tuple[int, ...]
    available: tuple[int, ...]
    need: int


def strings_left(trace: Trace) -> list[StringsLeft]:
    """Return, for each living service of several strings, every change of the set that is left.

    Swapping one string for another is a change even where their number stays.
    """
    found: list[StringsLeft] = []
    moments = histories(trace)
    for n, service in enumerate(trace.wiring.services):
        if len(service.strings) < 2:
            continue
        last: tuple[Standing, ...] | None = None
        for moment in moments[n]:
            if moment.view.life != ALIVE or moment.view.strings == last:
                continue
            last = moment.view.strings
            pairs = list(zip(service.strings, last, strict=True))
            found.append(
                StringsLeft(
                    n,
                    moment.time_s,
                    moment.event.task.step_id if moment.event else None,
                    moment.event.task.phase if moment.event else None,
                    tuple(s for s, standing in pairs if standing is Standing.UP),
                    tuple(s for s, standing in pairs if standing is Standing.AVAILABLE),
                    service.need,
                )
            )
    return found
