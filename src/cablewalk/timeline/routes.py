"""What came new, what ended, what runs another way, and who only stood by."""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.continuity.services import State
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED
from cablewalk.timeline.spells import Spell, history
from cablewalk.walk.trace import Event, Trace


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
    event named is the last that altered its path.
    """
    found: list[Turn] = []
    for n, service in enumerate(trace.wiring.services):
        life = trace.start_views[n].life
        first: dict[int, frozenset[frozenset[int]]] = {}
        last: dict[int, tuple[frozenset[frozenset[int]], Event | None]] = {}
        for moment in history(trace, n):
            view = moment.view
            if life == AWAITED and view.life == ALIVE:
                found.append(Turn(n, "established", moment.event))
            if life != RETIRED and view.life == RETIRED:
                found.append(Turn(n, "retired", moment.event))
            life = view.life
            for s, paths in zip(service.strings, view.via, strict=True):
                if not paths:
                    continue
                via = frozenset(frozenset(path) for path in paths)
                first.setdefault(s, via)
                if s not in last or last[s][0] != via:
                    last[s] = (via, moment.event)
        if life == ALIVE:
            for s, (via, event) in last.items():
                if via != first[s]:
                    found.append(Turn(n, "re-routed", event, s))
    return sorted(found, key=lambda t: (t.event.time_s if t.event else -(10**12), t.service))


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
