"""Courses: which runs take which order, and what becomes of each service in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
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
        columns = [at[a] < at[b] for a, b in self.pairs]
        ties = [at[a] == at[b] for a, b in self.pairs]
        tied = np.logical_or.reduce(ties)
        if not tied.any():
            yield from _sorted(everyone, columns, b"<")
            return
        yield from _sorted(everyone[~tied], [c[~tied] for c in columns], b"<")
        # At one moment the order depends on what else must come first at that moment.
        columns = [c[tied] for c in (*columns, *ties)]
        columns += [at[e][tied] == at[o][tied] for e, near in self.near.items() for o in near]
        yield from _sorted(everyone[tied], columns, b"=")

    def order(self, times: Times, run: int) -> tuple[int, ...]:
        """Return the events in the order in which they happen in one run."""
        wanted = set(self.events)
        moments = {e: int(times.events[e, run]) for e in wanted.union(*self.near.values())}
        return tuple(e for e in in_order(self.network, moments) if e in wanted)


def _sorted(
    rows: Rows, columns: list[NDArray[np.bool_]], lead: bytes
) -> Iterator[tuple[bytes, Rows]]:
    """Yield (key, rows) for each way that the columns come out."""
    if rows.size == 0:
        return
    packed = np.packbits(np.stack(columns), axis=0)
    size = len(packed)
    if size <= _FEW:
        codes = packed[0].astype(np.uint32)
        for line in packed[1:]:
            codes = codes << 8 | line
        kinds = np.flatnonzero(np.bincount(codes))
        if len(kinds) <= _KINDS:
            for kind in kinds:
                yield lead + int(kind).to_bytes(_WORD), rows[codes == kind]
            return
    if size < _WORD:
        packed = np.concatenate([np.zeros((_WORD - size, rows.size), np.uint8), packed])
    lines = np.ascontiguousarray(packed.T)
    form = np.dtype(np.uint64) if size <= _WORD else np.dtype((np.void, size))
    values, inverse = np.unique(lines.view(form).ravel(), return_inverse=True)
    by_kind = np.argsort(inverse, kind="stable")
    stops = [0, *np.cumsum(np.bincount(inverse))]
    for n, value in enumerate(values):
        yield lead + value.tobytes(), rows[by_kind[stops[n] : stops[n + 1]]]


_WORD: Final = 8
"""Bytes of one machine word."""
_FEW: Final = 2
"""Bytes of a code up to which all codes there could be are counted at once."""
_KINDS: Final = 128
"""Kinds up to which the runs of each are looked for one by one: past that, sorting is quicker."""

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
