"""Services seen up: they count as back since then, whatever their recovery was to take."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import replace

from cablewalk.continuity.services import State
from cablewalk.findings import Address, Finding, Severity
from cablewalk.timeline.spells import Moment, Spell, back_by, histories, is_up
from cablewalk.units import minutes
from cablewalk.walk.trace import Trace


def as_seen(trace: Trace, outages: Sequence[Spell], seen: Iterable[tuple[int, int]]) -> list[Spell]:
    """Return the outages of a log, those that recovered ended as their service was seen up.

    What needs such a service counts as back sooner with it. An outage that went on because the
    service was lost again before it counted as back is two, where it was seen up between.

    Args:
        trace: what was recorded, perhaps with what is to come.
        outages: every outage, as the model has it; they are altered.
        seen: (service, mission elapsed seconds) of each time somebody saw a service up.
    """
    times: dict[int, list[int]] = {}
    for n, time_s in sorted(seen, key=lambda pair: pair[1]):
        times.setdefault(n, []).append(time_s)
    if not times:
        return list(outages)
    moments = histories(trace)
    of: dict[int, list[Spell]] = {}
    for spell in outages:
        of.setdefault(spell.service, []).append(spell)
    for n in trace.wiring.service_order:
        own, service = of.get(n, []), trace.wiring.services[n]
        for spell in list(own):
            if spell.to_s is None or spell.retired or spell.restored_by is None:
                continue
            back_s = spell.restored_by.time_s
            needed = (s for need in service.needs for s in of.get(need, ()))
            base = max((back_by(s, back_s) for s in needed), default=back_s)
            _end(trace, moments[n], own, spell, base + service.recovery_s)
        for time_s in times.get(n, ()):
            at = bisect_right(own, time_s, key=lambda spell: spell.from_s) - 1
            if at >= 0:
                _end(trace, moments[n], own, own[at], time_s)
    return [spell for n in range(len(moments)) for spell in of.get(n, ())]


def _end(
    trace: Trace, moments: Sequence[Moment], own: list[Spell], spell: Spell, to_s: int
) -> None:
    """End an outage at a time at which the service was reconnected, if that is sooner."""
    if spell.to_s is not None and spell.to_s <= to_s:
        return
    up = None
    for moment in (m for m in moments if m.time_s <= to_s):
        if not is_up(moment):
            up = None
        elif up is None:
            up = moment
    if up is None or up.event is None:
        return
    lost = next((m for m in moments if m.time_s > to_s and m.view.state is State.DOWN), None)
    if lost is not None and (spell.to_s is None or lost.time_s <= spell.to_s):
        shift = lost.shift
        rest = replace(
            spell,
            from_s=lost.time_s,
            lost_by=lost.event,
            reasons=shift.reasons if shift else (),
            planned=shift.planned if shift else False,
        )
        own.insert(own.index(spell) + 1, rest)
    until_s = lost.time_s if lost is not None else trace.end_s
    tests = (t for s, t in trace.verified if s == spell.service and to_s <= t <= until_s)
    spell.to_s, spell.restored_by, spell.retired = to_s, up.event, False
    spell.lead_s = to_s - up.time_s
    spell.verified_s = next(tests, None)


def seen_sooner(
    trace: Trace, outages: Iterable[Spell], seen: Iterable[tuple[int, int]]
) -> list[Finding]:
    """Return a finding for each service seen up before the model had it back."""
    times = set(seen)
    found = []
    for spell in outages:
        row = trace.wiring.services[spell.service]
        if (spell.service, spell.to_s) not in times or not 0 < spell.lead_s < row.recovery_s:
            continue
        event = spell.restored_by
        found.append(
            Finding(
                "seen-sooner",
                Severity.WARNING,
                event.task.address if event else Address(0, row.path),
                f"{row.id} was seen up {minutes(spell.lead_s):g} min after it was reconnected",
                expected=f"{minutes(row.recovery_s):g} min by its recovery_min",
                difference="what was seen counts: it is back since then",
                way_out="look whether recovery_min is right; if it was no sound test, correct it",
                step=event.task.step_id if event else None,
                items=(row.id,),
            )
        )
    return found
