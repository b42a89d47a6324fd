"""What came new, what ended, what runs another way, and who only stood by."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.spells import NEVER_S, Spell, back_by, histories
from cablewalk.walk.trace import Event, Trace

Steps = frozenset[frozenset[int]]


class Turn(NamedTuple):
    """A service first established, retired, or re-routed (same ends, new path)."""

    service: int
    kind: str
    """``established``, ``retired`` or ``re-routed``."""
    event: Event | None
    string: int | None = None
    at_s: int | None = None
    """When. Mission elapsed seconds; None for a re-routing that no event made."""


def turns(trace: Trace, spells: Sequence[Spell]) -> list[Turn]:
    """Return every establishment, retirement and re-routing, in time order.

    Like one that comes back, a service is first up ``recovery_min`` after all it needs are;
    ``spells`` are the outages.

    A string is re-routed when it is up at the end over other conductors than at the start; the
    event named is the last that made a join of its new path.
    """
    found: list[Turn] = []
    first_up: dict[int, int] = {}
    moments = histories(trace)
    for n in trace.wiring.service_order:
        service = trace.wiring.services[n]
        life = trace.start_views[n].life
        first: dict[int, Steps] = {}
        last: dict[int, Steps] = {}
        for moment in moments[n]:
            view = moment.view
            if life == AWAITED and view.life == ALIVE:
                first_up[n] = service.recovery_s + max(
                    [
                        moment.time_s,
                        *(first_up.get(need, moment.time_s) for need in service.needs),
                        *(
                            back_by(s, moment.time_s)
                            for s in spells
                            if s.service in service.needs and s.to_s is not None
                        ),
                    ]
                )
                found.append(Turn(n, "established", moment.event, at_s=first_up[n]))
            if life != RETIRED and view.life == RETIRED:
                found.append(Turn(n, "retired", moment.event, at_s=moment.time_s))
            life = view.life
            for s, paths in zip(service.strings, view.via, strict=True):
                if paths:
                    last[s] = frozenset(frozenset(p) for path in paths for p in pairwise(path))
                    first.setdefault(s, last[s])
        if life == ALIVE:
            for s, steps in last.items():
                if steps != first[s]:
                    made = _joined_by(trace, steps)
                    found.append(Turn(n, "re-routed", made, s, made.time_s if made else None))
    return sorted(found, key=lambda t: (-(10**12) if t.at_s is None else t.at_s, t.service))


def _joined_by(trace: Trace, steps: Steps) -> Event | None:
    """Return the last event that ended with a join of these steps made."""
    for event in reversed(trace.events):
        if event.begins:
            continue
        for change in event.changes:
            if change.field is not Field.STATE or trace.wiring.items[change.item].kind != "half":
                continue
            mate = event.mates.get(change.item, NONE)
            if mate != NONE and any(
                frozenset(pair) in steps for pair in trace.wiring.joins(change.item, mate)
            ):
                return event
    return None


def bystanders(trace: Trace, spells: list[Spell], turned: list[Turn]) -> list[int]:
    """Return the services that went down although nothing of theirs was changed.

    They came back over the very conductors they had: they were lost only because they share a
    feed or a connector with the work.
    """
    altered = {turn.service for turn in turned}
    lost = {spell.service for spell in spells if spell.lost_by is not None}
    found = []
    for n in sorted(lost - altered):
        end = trace.end_views[n]
        if end.life == ALIVE and end.state is not State.DOWN:
            found.append(n)
    return found


def not_yet_up(spells: Sequence[Spell], turned: Sequence[Turn]) -> dict[int, list[tuple[int, int]]]:
    """Return service to the times in which it was down or only coming up: (from, to) each."""
    found: dict[int, list[tuple[int, int]]] = {}
    for spell in spells:
        until = NEVER_S if spell.to_s is None else spell.to_s
        found.setdefault(spell.service, []).append((spell.from_s, until))
    for turn in turned:
        if turn.kind == "established" and turn.event is not None and turn.at_s is not None:
            found.setdefault(turn.service, []).append((turn.event.time_s, turn.at_s))
    return found
