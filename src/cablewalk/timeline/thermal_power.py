"""Which services have power to heat with, from when on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from cablewalk.replay.configuration import ALIVE, RETIRED
from cablewalk.timeline.routes import not_yet_up, turns
from cablewalk.timeline.spells import NEVER_S, Spell, histories
from cablewalk.walk.trace import Trace

Dark = dict[int, list[tuple[float, float]]]
"""Service to the times in which it has no power: (from, to) each; infinite: not back."""


def dark_times(trace: Trace, outages: Sequence[Spell]) -> Dark:
    """Return when each service had no power to heat with, recovery included."""
    times = not_yet_up(outages, turns(trace, outages))
    return {
        service: [(float(a), inf if b == NEVER_S else float(b)) for a, b in pairs]
        for service, pairs in times.items()
    }


def powered(
    trace: Trace, dark: Dark, services: Iterable[str]
) -> list[tuple[float, frozenset[str]]]:
    """Return (time, services with power from then on), from where one of them is alive.

    Power counts as back when the service does, its recovery and that of what it needs included.
    Empty where none of them comes alive.
    """
    numbers = {name: trace.wiring.service_by_id[name] for name in services}
    stood = histories(trace)
    lives = {name: stood[number] for name, number in numbers.items()}
    alive_s = min(
        (m.time_s for rows in lives.values() for m in rows if m.view.life == ALIVE), default=None
    )
    if alive_s is None:
        return []

    def has(name: str, at: float) -> bool:
        view = next(m.view for m in reversed(lives[name]) if m.time_s <= at)
        times = dark.get(numbers[name], ())
        return view.life == ALIVE and not any(begun <= at < ended for begun, ended in times)

    moments = {float(m.time_s) for rows in lives.values() for m in rows}
    moments |= {at for number in numbers.values() for pair in dark.get(number, ()) for at in pair}
    rows: list[tuple[float, frozenset[str]]] = []
    for at in sorted(at for at in {*moments, float(alive_s)} if alive_s <= at < inf):
        having = frozenset(name for name in numbers if has(name, at))
        if not rows or rows[-1][1] != having:
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


def needed_until_s(trace: Trace, dark: Dark, services: Iterable[str]) -> float:
    """Return when the last of these services is retired.

    Where one is not: the end of the replay, or later where one still recovers then.
    """
    ends: list[float] = []
    stood = histories(trace)
    for name in services:
        number = trace.wiring.service_by_id[name]
        last = stood[number][-1]
        if last.view.life == RETIRED:
            ends.append(float(last.time_s))
            continue
        back = [ended for _, ended in dark.get(number, ()) if ended < inf]
        ends.append(max([float(trace.end_s), *back]))
    return max(ends, default=float(trace.end_s))
