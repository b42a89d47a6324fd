"""What came new, what ended, what runs another way, and who only stood by."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from cablewalk.continuity.services import State
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.spells import Spell, history
from cablewalk.walk.trace import Event, Trace

Steps = frozenset[frozenset[int]]


@dataclass(frozen=True, slots=True)
class Turn:
    """A service first established, retired, or re-routed (same ends, new path)."""

    service: int
    kind: str
    """``established``, ``retired`` or ``re-routed``."""
    event: Event | None
    string: int | None = None


def turns(trace: Trace) -> list[Turn]:
    """Return every establishment, retirement and re-routing, in time order.

    A string is re-routed when it is up at the end over other conductors than at the start; the
    event named is the last that made a join of its new path.
    """
    found: list[Turn] = []
    for n, service in enumerate(trace.wiring.services):
        life = trace.start_views[n].life
        first: dict[int, Steps] = {}
        last: dict[int, Steps] = {}
        for moment in history(trace, n):
            view = moment.view
            if life == AWAITED and view.life == ALIVE:
                found.append(Turn(n, "established", moment.event))
            if life != RETIRED and view.life == RETIRED:
                found.append(Turn(n, "retired", moment.event))
            life = view.life
            for s, paths in zip(service.strings, view.via, strict=True):
                if paths:
                    last[s] = frozenset(frozenset(p) for path in paths for p in pairwise(path))
                    first.setdefault(s, last[s])
        if life == ALIVE:
            for s, steps in last.items():
                if steps != first[s]:
                    found.append(Turn(n, "re-routed", _joined_by(trace, steps), s))
    return sorted(found, key=lambda t: (t.event.time_s if t.event else -(10**12), t.service))


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
