"""String index: which strings a join, an island, a unit may bear on."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from cablewalk.continuity.components import Component
from cablewalk.continuity.edges import Edge
from cablewalk.continuity.verdict import Standing, Verdict
from cablewalk.replay.wiring import NONE, STRUCTURE, StringLine, Wiring

NOBODY: frozenset[int] = frozenset()


class StringIndex:
    """Strings by where they end, by whom they end on, and by the islands their verdicts pass.

    The verdicts are the caller's; ``keep`` must be told of each that replaces another.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.owners: dict[int, set[int]] = {}
        """Unit or cap to the strings that end on it."""
        self.ends_at: dict[int, set[int]] = {}
        """Island to the strings that end on it."""
        self.eager: set[int] = set()
        """Strings that any join in their components may alter."""
        self._ends: list[tuple[int, ...]] = []
        self._passing: dict[int, set[int]] = {}
        """Island to the strings whose path passes it."""
        for n, string in enumerate(wiring.strings):
            self._enter(n, string)
        self._choosing = {n for n, string in enumerate(wiring.strings) if len(string.feeds) > 1}
        self._parallel = {
            n
            for n, string in enumerate(wiring.strings)
            if any(line.parallel for line in (*string.lines, *(string.load or ())))
        }

    def _enter(self, number: int, string: StringLine) -> None:
        terminals = self.wiring.terminals
        lines = (*string.lines, *(string.load or ()))
        ends = [t for line in lines for t in (line.a_terminal, line.b_terminal)]
        for terminal in (*ends, *string.terminated):
            if terminal != NONE:
                self.owners.setdefault(terminals[terminal].owner, set()).add(number)
        islands = {i for line in string.lines for i in (line.a, line.b)}
        islands |= {line.a for line in string.load or ()}
        islands |= {terminals[t].island for t in string.terminated}
        for feed in string.feeds:
            row = self.wiring.feeds[feed]
            islands |= {terminals[row.hi].island, terminals[row.ret].island}
        islands.discard(STRUCTURE)
        self._ends.append(tuple(islands))
        for island in islands:
            self.ends_at.setdefault(island, set()).add(number)

    def keep(self, number: int, old: Verdict | None, new: Verdict) -> None:
        """Index a verdict by the islands on its path, and as eager where it must be."""
        before = old.islands if old is not None else NOBODY
        if before != new.islands:
            for island in before - new.islands:
                self._passing[island].discard(number)
            for island in new.islands - before:
                self._passing.setdefault(island, set()).add(number)
        if (
            new.join_troubles
            or number in self._parallel
            or (number in self._choosing and new.standing is not Standing.UP)
        ):
            self.eager.add(number)
        else:
            self.eager.discard(number)

    def users(self, pairs: Iterable[tuple[int, int]], verdicts: Sequence[Verdict]) -> set[int]:
        """Return the strings whose own path runs over a join of these island pairs."""
        found: set[int] = set()
        for a, b in pairs:
            one, two = self._passing.get(a), self._passing.get(b)
            if one and two:
                step = frozenset((a, b))
                for s in one & two:
                    if s not in found and step in verdicts[s].steps:
                        found.add(s)
        return found

    def ending_in(self, islands: Collection[int]) -> set[int]:
        """Return the strings that end on one of these islands."""
        found: set[int] = set()
        for island in self.ends_at.keys() & islands:
            found |= self.ends_at[island]
        return found

    def eager_near(self, edges: Iterable[Edge], of: Sequence[Component]) -> set[int]:
        """Return the eager strings that end in a component one of these joins is in."""
        near = {id(of[i]) for edge in edges for i in (edge.a, edge.b) if i != STRUCTURE}
        return {s for s in self.eager if any(id(of[i]) in near for i in self._ends[s])}
