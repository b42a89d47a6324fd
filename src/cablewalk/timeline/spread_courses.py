"""Courses: which runs take which order, and what becomes of each service in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from cablewalk.orders.network import Network, bits
from cablewalk.orders.ties import at_once, in_order
from cablewalk.timeline.spread_times import Times

Rows = NDArray[np.intp]


@dataclass(slots=True)
class Grouping:
    """Sorts runs by the order in which some events happen.

    Attributes:
        network: all events.
        events: the ones whose order counts.
        shortest_s: the least each task can last.
    """

    network: Network
    events: Sequence[int]
    shortest_s: list[int]
    pairs: list[tuple[int, int]] = field(init=False)
    near: dict[int, list[int]] = field(init=False)
    """Event to those that must come before it and may happen at its very moment."""

    def __post_init__(self) -> None:
        self.pairs = self.network.pairs_apart(self.events)
        mixed = {event for pair in self.pairs for event in pair}
        self.near = {e: list(bits(at_once(self.network, self.shortest_s, e))) for e in mixed}

    def groups(self, times: Times) -> Iterator[tuple[bytes, Rows]]:
        """Yield (key, runs) for each order that some run has; one key is always one order."""
        everyone = np.arange(times.runs)
        if not self.pairs:
            yield b"", everyone
            return
        at = times.events
        sooner = _packed([at[a] < at[b] for a, b in self.pairs])
        same = _packed([at[a] == at[b] for a, b in self.pairs])
        tied = same.any(axis=0)
        if not tied.any():
            yield from _sorted(everyone, sooner, b"<")
            return
        free = np.flatnonzero(~tied)
        yield from _sorted(free, sooner[:, free], b"<")
        # At one moment the order depends on what else must come first at that moment.
        rows = np.flatnonzero(tied)
        near = [at[e][rows] == at[o][rows] for e, others in self.near.items() for o in others]
        parts = [sooner[:, rows], same[:, rows], *([_packed(near)] if near else [])]
        yield from _sorted(rows, np.concatenate(parts), b"=")

    def order(self, times: Times, run: int) -> tuple[int, ...]:
        """Return the events in the order in which they happen in one run."""
        wanted = set(self.events)
        moments = {e: int(times.events[e, run]) for e in wanted.union(*self.near.values())}
        return tuple(e for e in in_order(self.network, moments) if e in wanted)


def _packed(columns: list[NDArray[np.bool_]]) -> NDArray[np.uint8]:
    """Return truths as bits, eight to a byte; a column a run."""
    return np.packbits(np.stack(columns), axis=0)


def _sorted(rows: Rows, packed: NDArray[np.uint8], lead: bytes) -> Iterator[tuple[bytes, Rows]]:
    """Yield (key, rows) for each way that the bits come out."""
    if rows.size == 0:
        return
    size = len(packed)
    wide = next((w for w in (1, 2, 4, 8) if size <= w), size)
    if size < wide:
        packed = np.concatenate([packed, np.zeros((wide - size, rows.size), np.uint8)])
    form = np.dtype(f"u{wide}") if size <= wide <= _WORD else np.dtype((np.void, size))
    codes = np.ascontiguousarray(packed.T).view(form).ravel()
    if size > _WORD:
        codes = np.unique(codes, return_inverse=True)[1]
    # Counted, not compared, where codes are short: numpy sorts up to two bytes by their digits.
    by_code = np.argsort(codes, kind="stable")
    ordered = codes[by_code]
    starts = [0, *(np.flatnonzero(ordered[1:] != ordered[:-1]) + 1), rows.size]
    for start, stop in pairwise(starts):
        mine = by_code[start:stop]
        yield lead + packed[:, mine[0]].tobytes(), rows[mine]


_WORD: Final = 8
"""Bytes of one machine word."""

C = TypeVar("C")


@dataclass(slots=True)
class Judge(Generic[C]):
    """Tells the course of each run, working each order out once.

    Attributes:
        grouping: how runs are sorted.
        work_out: (times, run, order) to the course of that order.
    """

    grouping: Grouping
    work_out: Callable[[Times, int, tuple[int, ...]], C]
    known: dict[bytes, C] = field(default_factory=dict)

    def courses(self, times: Times) -> Iterator[tuple[Rows, C]]:
        """Yield (runs, their course) for each order; together they are all runs."""
        for key, rows in self.grouping.groups(times):
            if key not in self.known:
                run = int(rows[0])
                self.known[key] = self.work_out(times, run, self.grouping.order(times, run))
            yield rows, self.known[key]
