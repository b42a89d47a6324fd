"""Courses: what becomes of a service in one order of its events, read off its table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from cablewalk.orders.table import Table
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED
from cablewalk.replay.wiring import NONE

DOWN, UP, GONE, SEEN = range(4)


class Course(NamedTuple):
    """What becomes of a service in one order of its events."""

    turns: tuple[tuple[int, int], ...]
    """(event, DOWN, UP, GONE or SEEN) in order; the event is NONE for down at the start.

    SEEN is the first verify that shows the service up, where that matters.
    """
    breaks: tuple[int, ...]
    """Events that break a join on its own path, in order."""


def course(table: Table, order: Sequence[int]) -> Course:
    """Return what becomes of a service when its events (by bit) happen in this order."""
    group, life, was_down, was_seen = 0, table.life, False, not table.verifies
    turns: list[tuple[int, int]] = []
    breaks: list[int] = []

    def turn(event: int) -> None:
        nonlocal life, was_down
        standing = table.at[group]
        if life == AWAITED and standing.arrived:
            life = ALIVE
        down = life == ALIVE and standing.down
        if life == RETIRED:
            if not turns or turns[-1][1] != GONE:
                turns.append((event, GONE))
        elif down != was_down:
            turns.append((event, DOWN if down else UP))
        was_down = down

    turn(NONE)
    for bit in order:
        if (group, bit) in table.breaks:
            breaks.append(table.events[bit])
        group |= 1 << bit
        if bit in table.retires:
            life = RETIRED
        turn(table.events[bit])
        if not was_seen and bit in table.verifies and life == ALIVE and not was_down:
            was_seen = True
            turns.append((table.events[bit], SEEN))
    return Course(tuple(turns), tuple(breaks))
