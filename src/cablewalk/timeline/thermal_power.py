"""Which services have power to heat with, from when on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from cablewalk.continuity.services import State
from cablewalk.replay.configuration import ALIVE, RETIRED
from cablewalk.timeline.spells import history
from cablewalk.walk.trace import Trace


def powered(trace: Trace, services: Iterable[str]) -> list[tuple[float, frozenset[str]]]:
    """Return (time, services with power from then on), from where one of them is alive.

    Power counts as back when the service does: ``recovery_min`` after its strings. Empty where
    none of them comes alive.
    """
    turns: dict[float, dict[str, bool]] = {}
    alive_s = inf
    for name in services:
        alive_s = min(alive_s, _turns(trace, name, turns))
    if alive_s == inf:
        return []
    now: dict[str, bool] = {}
    rows: list[tuple[float, frozenset[str]]] = []
    for at in sorted(turns):
        now.update(turns[at])
        having = frozenset(name for name, has in now.items() if has)
        if at <= alive_s:
            rows = [(alive_s, having)]
        elif not rows or rows[-1][1] != having:
            rows.append((at, having))
    return rows


def supposing(
    power: Sequence[tuple[float, frozenset[str]]], name: str, has_power: bool, from_s: float
) -> list[tuple[float, frozenset[str]]]:
    """Return (seconds from ``from_s``, services with power) if ``name`` kept or lacked it for good.

    The others have power as ``power`` says, and what they have last they keep.
    """
    own = frozenset({name})
    rows: list[tuple[float, frozenset[str]]] = []
    for since, has in power:
        row = (max(since - from_s, 0.0), has | own if has_power else has - own)
        if rows and row[0] == 0:
            rows[-1] = row  # what was before counts no longer
        elif not rows or rows[-1][1] != row[1]:
            rows.append(row)
    return rows


def _turns(trace: Trace, name: str, turns: dict[float, dict[str, bool]]) -> float:
    """Note when a service gains and loses power; return when it is first alive."""
    number = trace.wiring.service_by_id[name]
    alive_s = inf
    has: bool | None = None
    due = -inf
    for moment in history(trace, number):
        alive = moment.view.life == ALIVE
        if alive:
            alive_s = min(alive_s, moment.time_s)
        power = alive and moment.view.state is not State.DOWN
        if power == has:
            continue
        at = float(moment.time_s)
        if power:
            due = at + (trace.wiring.services[number].recovery_s if moment.event else 0)
            turns.setdefault(due, {})[name] = True
        elif has and due > at:
            del turns[due][name]  # lost again before it counted as back
        else:
            turns.setdefault(at, {})[name] = False
        has = power
    return alive_s


def needed_until_s(trace: Trace, services: Iterable[str]) -> float:
    """Return when the last of these services is retired; the end of the replay where one is not."""
    ends: list[float] = []
    for name in services:
        last = [*history(trace, trace.wiring.service_by_id[name])][-1]
        ends.append(last.time_s if last.view.life == RETIRED else trace.end_s)
    return max(ends, default=float(trace.end_s))
