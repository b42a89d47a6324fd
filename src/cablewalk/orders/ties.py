"""Ties: the order of what happens at one moment, as the schedule has it."""

from __future__ import annotations

from collections.abc import Mapping
from heapq import heapify, heappop, heappush

from cablewalk.orders.network import Network, bits


def in_order(network: Network, times: Mapping[int, int]) -> list[int]:
    """Return events in the order in which they happen.

    By time; at one time what must come first does, then beginnings before endings, then phase
    and serial. This is the rule of :func:`cablewalk.schedule.order.time_phase`. An event left
    out does not alter the order of the rest, unless it must come before one of them at the
    same moment: so what ``times`` holds must be closed under that.

    Args:
        network: the partial order.
        times: event to its moment.
    """
    by_time: dict[int, list[int]] = {}
    for event, time in times.items():
        by_time.setdefault(time, []).append(event)
    order: list[int] = []
    for time in sorted(by_time):
        order.extend(_moment(network, by_time[time]))
    return order


def _moment(network: Network, events: list[int]) -> list[int]:
    if len(events) == 1:
        return events
    inside = sum(1 << e for e in events)
    waits = {e: (network.earlier[e] & inside).bit_count() for e in events}
    follows: dict[int, list[int]] = {e: [] for e in events}
    for e in events:
        for other in bits(network.earlier[e] & inside):
            follows[other].append(e)
    # Beginnings are even, endings odd; phase and serial rise with the number.
    ready = [(e & 1, e) for e in events if waits[e] == 0]
    heapify(ready)
    order = []
    while ready:
        _, event = heappop(ready)
        order.append(event)
        for other in follows[event]:
            waits[other] -= 1
            if waits[other] == 0:
                heappush(ready, (other & 1, other))
    return order


def at_once(network: Network, shortest_s: list[int], event: int) -> int:
    """Return, as bits, the events that must come before one and may happen at its very moment.

    Args:
        network: the partial order.
        shortest_s: the least each task can last, by number.
        event: the event asked about.
    """
    # A task that lasts parts what happens up to its beginning from what waits for its end.
    earlier = network.earlier
    parted = 0
    for e in bits(earlier[event] | 1 << event):
        if e & 1 and shortest_s[e >> 1] > 0:
            parted |= earlier[e - 1] | 1 << (e - 1)
    return earlier[event] & ~parted
