"""String index: which strings a join, an island, a unit may bear on."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from cablewalk.continuity.components import Component
from cablewalk.continuity.edges import Edges, Turns, islands_of
from cablewalk.continuity.verdict import Standing, Verdict
from cablewalk.replay.wiring import NONE, STRUCTURE, StringLine, Wiring

NOBODY: frozenset[int] = frozenset()
NO_STEPS: frozenset[frozenset[int]] = frozenset()


class StringIndex:
    """Strings by where they end, by whom they end on, and by the joins their verdicts run over.

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
        self.tangled: set[int] = set()
        """The strings that even a join that is never beyond doubt may alter: those with something
        unwanted on their nets already, which more of the same would alter in words only."""
        self._ends: list[tuple[int, ...]] = []
        self._over: dict[frozenset[int], set[int]] = {}
        """Joined island pair to the strings whose path runs over it."""
        for n, string in enumerate(wiring.strings):
            self._enter(n, string)
        self._choosing = {n for n, string in enumerate(wiring.strings) if len(string.feeds) > 1}
        # Where high and return are of one family, no summary tells that they are shorted.
        self._one_family = {
            n
            for n, string in enumerate(wiring.strings)
            if string.load is not None and string.load[0].family == string.load[1].family
        }
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
        """Index a verdict by the joins on its path, and as eager where it must be."""
        before = old.steps if old is not None else NO_STEPS
        if before != new.steps:
            for step in before - new.steps:
                self._over[step].discard(number)
            for step in new.steps - before:
                self._over.setdefault(step, set()).add(number)
        if (
            new.join_troubles
            or number in self._parallel
            or (number in self._choosing and new.standing is not Standing.UP)
        ):
            self.eager.add(number)
        else:
            self.eager.discard(number)
        if number in self._one_family or any(t.kind == "unwanted" for t in new.join_troubles):
            self.tangled.add(number)
        else:
            self.tangled.discard(number)

    def users(self, steps: frozenset[frozenset[int]]) -> set[int]:
        """Return the strings whose own path runs over a join of these island pairs."""
        over = self._over
        return set().union(*[over[step] for step in over.keys() & steps])

    def ending_in(self, islands: Collection[int]) -> set[int]:
        """Return the strings that end on one of these islands."""
        found: set[int] = set()
        for island in self.ends_at.keys() & islands:
            found |= self.ends_at[island]
        return found

    def eager_near(
        self, edges: Edges, of: Sequence[Component], gone: Collection[set[int]]
    ) -> set[int]:
        """Return the strings that a join may alter though it is not on their own path.

        A join that was and is beyond doubt at no time makes or breaks no line: it alters only
        what is on a net. Of that a component's summary tells, but for the strings that are
        tangled, and for components with a terminal that is gone (``gone``, their islands).
        """
        found: set[int] = set()
        if self.eager:
            found |= self._ending_in(self.eager, _parts(edges.sure, of), of)
        if not (self.tangled or gone):
            return found
        faint = _parts(edges.joined, of)
        found |= self._ending_in(self.tangled, faint, of)
        for island in {island for islands in gone for island in islands}:
            if id(of[island]) in faint:
                found |= self.ending_in(of[island].islands)
        return found

    def _ending_in(
        self, strings: Iterable[int], parts: set[int], of: Sequence[Component]
    ) -> set[int]:
        if not parts:
            return set()
        return {s for s in strings if any(id(of[i]) in parts for i in self._ends[s])}


def _parts(turns: Turns, of: Sequence[Component]) -> set[int]:
    """Return the identities of the components, structure left out, in which joins differ."""
    return {id(of[island]) for island in islands_of(turns) if island != STRUCTURE}
