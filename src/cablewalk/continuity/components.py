"""Components: islands joined to one another, surely or doubtfully, kept up to date join by join.

A made join merges two components, the smaller into the larger. A cut one searches from both
sides in turn until the smaller side is done: the cost is that of the smaller side, but for a
ring, where both searches meet half way.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from cablewalk.continuity.edges import Edges, Joins
from cablewalk.continuity.graph import path_by
from cablewalk.continuity.touched import touched_by
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import STRUCTURE


@dataclass(slots=True)
class Component:
    """Islands joined to one another. Structure belongs to none; joins to it are counted."""

    islands: set[int]
    to_structure: int = 0
    families: dict[int, int] = field(default_factory=dict)
    """Family to the number of ordinary terminals of it in the component."""
    special: dict[int, int] = field(default_factory=dict)
    """Terminals that belong in more than one family, or to a feed, each counted once."""

    def holds_only(self, family: int) -> bool:
        """Return whether nothing is joined but ordinary terminals of one family."""
        if self.special or self.to_structure:
            return False
        return len(self.families) == 1 and family in self.families


Summary = tuple[frozenset[int], frozenset[int], bool]
"""Families, special terminals, and whether structure is joined: what isolation depends on."""


class Components:
    """The component of every island, for one configuration.

    Stubs, which nothing is ever joined to, all have one and the same component, with no islands.
    """

    def __init__(self, config: Configuration) -> None:
        self.config = config
        wiring = config.wiring
        self.feeds_at: dict[int, list[tuple[int, str]]] = {}
        """Terminal to the feeds it is the high or the return of."""
        for n, feed in enumerate(wiring.feeds):
            self.feeds_at.setdefault(feed.hi, []).append((n, "hi"))
            self.feeds_at.setdefault(feed.ret, []).append((n, "ret"))
        self.special = wiring.allowed.keys() | wiring.any_power.keys() | self.feeds_at.keys()
        self.joins = Joins(config)
        self.edges = Edges([], [])
        """The joins that differed at the last update."""
        self._groups: list[tuple[Collection[int], Summary]] = []
        self.of = self._all()

    def _all(self) -> list[Component]:
        """Return the component of every island, found at once."""
        wiring = self.config.wiring
        root = list(range(len(wiring.sites)))

        def find(island: int) -> int:
            while root[island] != island:
                root[island] = root[root[island]]
                island = root[island]
            return island

        tied: list[int] = []
        for item, mate in enumerate(self.joins.mates):
            if item < mate:
                for a, b in wiring.joins(item, mate):
                    if STRUCTURE in (a, b):
                        tied.append(a or b)
                    else:
                        root[find(a)] = find(b)
        of = [Component(set())] * len(root)
        made: dict[int, Component] = {}
        for island in sorted(set(range(len(root))) - wiring.stubs):
            top = find(island)
            component = made.get(top)
            if component is None:
                component = made[top] = Component(set())
            component.islands.add(island)
            of[island] = component
            if island != STRUCTURE and wiring.island_terminals[island]:
                self._count(component, (island,), 1)
        for island in tied:
            of[island].to_structure += 1
        return of

    def _count(self, component: Component, islands: Iterable[int], sign: int) -> None:
        wiring = self.config.wiring
        for island in islands:
            for terminal in wiring.island_terminals[island]:
                table, key = component.families, wiring.terminals[terminal].family
                if terminal in self.special:
                    table, key = component.special, terminal
                count = table.get(key, 0) + sign
                if count:
                    table[key] = count
                else:
                    del table[key]

    def joined(self, a: int, b: int) -> bool:
        """Return whether two islands are joined, surely or doubtfully."""
        if a == b:
            return True
        if STRUCTURE in (a, b):
            return self.of[a if b == STRUCTURE else b].to_structure > 0
        return self.of[a] is self.of[b]

    def path(
        self,
        a: int,
        b: int,
        banned: frozenset[int] = frozenset(),
        through: tuple[frozenset[int], ...] = (),
    ) -> tuple[int, ...] | None:
        """Return what :func:`graph.sure_path` does."""
        return path_by(self.joins.surely_beside, a, b, banned, through)

    def feeds_on(self, island: int) -> list[tuple[int, str]]:
        """Return (feed, ``hi`` or ``ret``) for every feed terminal an island is joined to."""
        component = self.of[island]
        terminals = list(component.special)
        if component.to_structure or island == STRUCTURE:
            terminals.extend(self.config.wiring.island_terminals[STRUCTURE])
        return sorted(row for t in terminals for row in self.feeds_at.get(t, ()))

    def summary(self, island: int) -> Summary:
        """Return what the isolation of a line ending on this island depends on."""
        component = self.of[island]
        return (
            frozenset(component.families),
            frozenset(component.special),
            component.to_structure > 0,
        )

    # -- following changes ------------------------------------------------------------

    def update(
        self, changes: Iterable[Change], joined: Iterable[int] | None = None
    ) -> list[Collection[int]]:
        """Follow changes already applied; the joins they altered are in ``edges`` then.

        ``joined`` are the halves and caps the changes touched, where they are known already.
        Returns the islands whose lines must be judged anew: those in whose component
        something came or went that isolation depends on. They may come in several groups.
        """
        if joined is None:
            joined = touched_by(self.config, changes).joined
        self.edges = self.joins.follow(joined)
        self._groups = []
        cut: list[tuple[int, int]] = []
        for come, join in self.edges.joined:
            if not come:
                cut.extend(join.pairs)
                continue
            for a, b in join.pairs:
                self._merge(a, b)
        if cut:
            self._cut_all(cut)
        return [
            islands
            for islands, old in self._groups
            if any(self.summary(rep) != old for rep in self._one_of_each(islands))
        ]

    def _one_of_each(self, islands: Collection[int]) -> list[int]:
        """Return one island of each component that a group of islands is in now."""
        if isinstance(islands, set):  # the larger part, or what others merged into: one piece
            return [next(iter(islands))]
        seen: dict[int, int] = {}
        for island in islands:
            seen.setdefault(id(self.of[island]), island)
        return list(seen.values())

    def _note(self, islands: Collection[int], summary: Summary) -> None:
        self._groups.append((islands, summary))

    def _merge(self, a: int, b: int) -> None:
        """Join two islands: the smaller component goes into the larger."""
        if STRUCTURE in (a, b):
            island = a if b == STRUCTURE else b
            self._note(self.of[island].islands, self.summary(island))
            self.of[island].to_structure += 1
            return
        one, two = self.of[a], self.of[b]
        if one is two:
            return
        if len(one.islands) < len(two.islands):
            one, two, a, b = two, one, b, a
        self._note(one.islands, self.summary(a))
        self._note(tuple(two.islands), self.summary(b))
        one.islands |= two.islands
        one.to_structure += two.to_structure
        for mine, other in ((one.families, two.families), (one.special, two.special)):
            for key, count in other.items():
                mine[key] = mine.get(key, 0) + count
        for island in two.islands:
            self.of[island] = one

    def _cut_all(self, cut: list[tuple[int, int]]) -> None:
        """Part what is no longer joined.

        Joins cut together may leave more than two pieces (a shorting cap taken off), so the
        ends within what was one component are compared until all that still share one are known
        to be joined.
        """
        ends: dict[int, set[int]] = {}
        for a, b in cut:
            if STRUCTURE in (a, b):
                island = a if b == STRUCTURE else b
                self._note(self.of[island].islands, self.summary(island))
                self.of[island].to_structure -= 1
            else:
                ends.setdefault(id(self.of[a]), set()).update((a, b))
        for together in ends.values():
            left = sorted(together)
            while left:
                first, *rest = left
                left = [
                    other
                    for other in rest
                    if self.of[other] is not self.of[first] or self._part(first, other)
                ]

    def _part(self, a: int, b: int) -> bool:
        """Part two islands of one component; return whether they are parted."""
        side = self._smaller_side(a, b)
        if side is None:
            return False
        whole = self.of[a]
        old = self.summary(a)
        self._note(whole.islands, old)
        self._note(tuple(side), old)
        part = Component(side)
        whole.islands -= side
        self._count(whole, side, -1)
        self._count(part, side, 1)
        tied = 0
        if whole.to_structure:
            tied = sum(self.joins.beside(i).count(STRUCTURE) for i in side)
        part.to_structure = tied
        whole.to_structure -= tied
        for island in side:
            self.of[island] = part
        return True

    def _smaller_side(self, a: int, b: int) -> set[int] | None:
        """Return the islands of the side that is exhausted first, or None while joined still."""
        one, two = {a}, {b}
        turns = ((one, two, [a]), (two, one, [b]))
        while True:
            for side, far, stack in turns:
                for other in self.joins.beside(stack.pop()):
                    if other == STRUCTURE or other in side:
                        continue
                    if other in far:
                        return None
                    side.add(other)
                    stack.append(other)
                if not stack:
                    return side
