"""Courses: which runs take which order, and what becomes of each service in it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, field
from math import prod
from typing import Any, Final, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from cablewalk.orders.network import Network, bits
from cablewalk.orders.ties import at_once, in_order
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.timeline.spread_times import Times

Rows = NDArray[np.intp]


Codes = NDArray[np.unsignedinteger[Any]]

TABLE: Final = 1 << 16
"""Orders that are looked up by their code; where more are possible codes are sorted first."""
FEW: Final = 8
"""Courses whose runs are picked out one course after the other; of more the runs are sorted."""


@dataclass(slots=True)
class Grouping:
    """Tells in which order some events happen in each run.

    An order has a code: for each event, how many of those listed after it come sooner, a digit
    each, to the base of one more than can come so. That is the permutation's Lehmer code, and so
    one code is one order (D. H. Lehmer, "Teaching combinatorial tricks to a computer", Proc.
    Symposia in Applied Mathematics 10, 1960, from memory).

    Attributes:
        network: all events.
        events: the ones whose order counts.
        shortest_s: the least each task can last.
        later: (event, those listed after it that may come sooner), where there are any.
        possible: how many codes there are, more than there are orders.
        near: event to those that must come before it and may happen at its very moment.
    """

    network: Network
    events: Sequence[int]
    shortest_s: list[int]
    later: list[tuple[int, list[int]]] = field(init=False)
    possible: int = field(init=False)
    near: dict[int, list[int]] = field(init=False)

    def __post_init__(self) -> None:
        later: dict[int, list[int]] = {}
        for a, b in self.network.pairs_apart(self.events):
            later.setdefault(a, []).append(b)
        self.later = list(later.items())
        self.possible = prod(1 + len(others) for others in later.values())
        mixed = {event for a, others in self.later for event in (a, *others)}
        self.near = {e: list(bits(at_once(self.network, self.shortest_s, e))) for e in mixed}

    def codes(self, times: Times) -> tuple[Codes, Rows]:
        """Return the code of each run's order, and the runs where no code tells it.

        Those are runs in which two of the events happen at one moment; all of them where codes
        would be too long.
        """
        form = next((f for f in _FORMS if self.possible - 1 <= np.iinfo(f).max), None)
        if form is None:
            return np.zeros(0, np.uint8), times.everyone
        codes: Codes = np.zeros(times.runs, form)
        tied = np.zeros(times.runs, np.bool_)
        # One array may be several events: each two arrays are compared but once.
        known: dict[tuple[int, int], NDArray[np.uint8]] = {}
        for a, others in self.later:
            digit: Codes = np.zeros(times.runs, np.uint8 if len(others) < 256 else np.uint16)
            for b in others:
                one, other = times.events[a], times.events[b]
                pair = (id(one), id(other))
                if pair not in known:
                    known[pair] = (other < one).view(np.uint8)
                    tied |= one == other
                np.add(digit, known[pair], out=digit)
            np.multiply(codes, form(1 + len(others)), out=codes)
            np.add(codes, digit, out=codes)
        return codes, np.flatnonzero(tied)

    def ties(self, times: Times, rows: Rows) -> tuple[list[bytes], Rows, Rows]:
        """Tell runs apart in which events happen at one moment.

        There the order depends on what else must come first at that moment.

        Returns:
            Keys, of which one is one order; where in ``rows`` each comes first; and for each of
            ``rows`` the position of its key.
        """
        moments = self._moments(times)
        at = {id(row): row.take(rows) for row in moments.values()}

        def arrays(pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
            """Return each two arrays once. Which are one is a matter of the network alone."""
            return list(dict.fromkeys((id(moments[a]), id(moments[b])) for a, b in pairs))

        pairs = arrays([(a, b) for a, others in self.later for b in others])
        near = arrays([(e, other) for e, others in self.near.items() for other in others])
        truths = [at[a] < at[b] for a, b in pairs]
        truths += [at[a] == at[b] for a, b in (*pairs, *near)]
        packed = np.packbits(np.stack(truths), axis=0)
        if len(packed) <= _WORD:
            packed = np.concatenate([packed, np.zeros((_WORD - len(packed), rows.size), np.uint8)])
        form = np.dtype(np.uint64) if len(packed) == _WORD else np.dtype((np.void, len(packed)))
        words = np.ascontiguousarray(packed.T).view(form).ravel()
        _, first, of = np.unique(words, return_index=True, return_inverse=True)
        return [packed[:, n].tobytes() for n in first], first, of

    def order(self, times: Times, run: int) -> tuple[int, ...]:
        """Return the events in the order in which they happen in one run."""
        moments = {event: int(row[run]) for event, row in self._moments(times).items()}
        wanted = set(self.events)
        return tuple(e for e in in_order(self.network, moments) if e in wanted)

    def _moments(self, times: Times) -> dict[int, Seconds]:
        """Return when the events happen, and those that may have to come first."""
        return {e: times.events[e] for e in {*self.events}.union(*self.near.values())}


_FORMS: Final[tuple[type[np.unsignedinteger[Any]], ...]] = (np.uint16, np.uint64)
_WORD: Final = 8
"""Bytes of one machine word."""

C = TypeVar("C", bound=Hashable)


class Judge(Generic[C]):
    """Tells the course of each run, working each order out once.

    Attributes:
        grouping: how orders are told apart.
        work_out: (times, run, order) to the course of that order.
        orders: how many orders were worked out.
    """

    def __init__(
        self, grouping: Grouping, work_out: Callable[[Times, int, tuple[int, ...]], C]
    ) -> None:
        self.grouping = grouping
        self.work_out = work_out
        self.orders = 0
        self._courses: dict[C, int] = {}
        """Course to its number."""
        self._by_key: dict[bytes | int, int] = {}
        """Code, or the key of a tie, to the number of its course."""
        small = 1 < grouping.possible <= TABLE
        self._by_code = np.full(grouping.possible if small else 0, -1, np.int32)
        """The same for every code, -1 where not worked out; empty where there are too many."""

    def courses(self, times: Times) -> Iterator[tuple[Rows, C]]:
        """Yield (runs, their course) for each course that comes about; together all runs."""
        if not self.grouping.later:
            which = np.full(1, self._number(b"", times, 0), np.int32)
        else:
            which = self._numbers(times)
        names = list(self._courses)
        if (which == which[0]).all():
            yield times.everyone, names[which[0]]
        elif len(names) <= FEW:
            for n, name in enumerate(names):
                rows = np.flatnonzero(which == n)
                if rows.size:
                    yield rows, name
        else:
            # numpy sorts numbers of sixteen bits by their digits, not by comparing them.
            short = which.astype(np.uint16) if len(names) <= TABLE else which
            by_number = np.argsort(short, kind="stable")
            ends = np.cumsum(np.bincount(which))
            for n, rows in enumerate(np.split(by_number, ends[:-1])):
                if rows.size:
                    yield rows, names[n]

    def _numbers(self, times: Times) -> NDArray[np.int32]:
        """Return the number of each run's course."""
        codes, tied = self.grouping.codes(times)
        table = self._by_code
        which = table[codes] if table.size else np.full(times.runs, -1, np.int32)
        if tied.size:
            keys, first, of = self.grouping.ties(times, tied)
            numbers = [
                self._number(k, times, int(tied[n])) for k, n in zip(keys, first, strict=True)
            ]
            which[tied] = np.array(numbers, np.int32)[of]
        left = np.flatnonzero(which < 0)
        if left.size:
            values, first, of, often = np.unique(
                codes[left], return_index=True, return_inverse=True, return_counts=True
            )
            found = np.empty(values.size, np.int32)
            # The most frequent first, should there be too many to work all of them out.
            for n in np.argsort(-often, kind="stable"):
                found[n] = self._number(int(values[n]), times, int(left[first[n]]))
            which[left] = found[of]
            if table.size:
                table[values] = found
        return which

    def _number(self, key: bytes | int, times: Times, run: int) -> int:
        """Return the number of a course, worked out where the key is new."""
        if key not in self._by_key:
            self.orders += 1
            course = self.work_out(times, run, self.grouping.order(times, run))
            self._by_key[key] = self._courses.setdefault(course, len(self._courses))
        return self._by_key[key]
