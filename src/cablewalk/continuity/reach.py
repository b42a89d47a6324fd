"""Reach: all that a walk from one island gets to, kept as a tree and mended edge by edge.

A new edge extends the tree. A lost edge or island matters only where the tree used it: then the
branch beneath is hung elsewhere if anything outside it still touches it, else it falls off. The
cost is that of the branch, not of the whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from cablewalk.continuity.edges import Turns


class Reach:
    """The islands reached from ``start`` by ``around``, which yields what an island touches.

    ``around`` must be symmetric and already describe the graph after each change that is told
    here. ``allowed`` tells which islands may be entered; what is not allowed is never passed.
    ``gained`` and ``gone`` collect the islands that came and went, until the caller clears them.
    """

    def __init__(
        self,
        start: int,
        around: Callable[[int], Iterable[int]],
        allowed: Callable[[int], bool],
    ) -> None:
        self.start = start
        self.around = around
        self.allowed = allowed
        self.parents: dict[int, int] = {start: start}
        self.children: dict[int, set[int]] = {}
        self.gained: list[int] = [start]
        self.gone: list[int] = []
        self._spread([start])

    def begin_anew(self) -> None:
        """Walk from the start again: what may be entered has changed altogether."""
        self.gone.extend(self.parents)
        self.parents = {self.start: self.start}
        self.children = {}
        self.gained.append(self.start)
        self._spread([self.start])

    def _spread(self, stack: list[int]) -> None:
        """Extend the tree from islands just added."""
        parents, allowed = self.parents, self.allowed
        while stack:
            island = stack.pop()
            for other in self.around(island):
                if other not in parents and allowed(other):
                    self._hang(other, island)
                    self.gained.append(other)
                    stack.append(other)

    def _hang(self, island: int, parent: int) -> None:
        self.parents[island] = parent
        self.children.setdefault(parent, set()).add(island)

    def follow(self, turns: Turns) -> None:
        """Follow edges that have come or gone, in order."""
        for come, join in turns:
            for a, b in join.pairs:
                if come:
                    self.edge_made(a, b)
                else:
                    self.edge_cut(a, b)

    def edge_made(self, a: int, b: int) -> None:
        """Follow an edge that has come."""
        for one, two in ((a, b), (b, a)):
            if one in self.parents and two not in self.parents and self.allowed(two):
                self._hang(two, one)
                self.gained.append(two)
                self._spread([two])

    def edge_cut(self, a: int, b: int) -> None:
        """Follow an edge that has gone."""
        if self.parents.get(b) == a and a != b:
            self._rehang(b, keep_root=True)
        elif self.parents.get(a) == b and a != b:
            self._rehang(a, keep_root=True)

    def island_allowed(self, island: int) -> None:
        """Follow an island that may be entered now."""
        if island in self.parents:
            return
        for other in self.around(island):
            if other in self.parents:
                self._hang(island, other)
                self.gained.append(island)
                self._spread([island])
                return

    def island_forbidden(self, island: int) -> None:
        """Follow an island that may be entered no longer; the start stays what it is."""
        if island in self.parents and island != self.start:
            self._rehang(island, keep_root=False)

    def _rehang(self, root: int, keep_root: bool) -> None:
        """Take the branch at ``root`` off and hang what can be hung elsewhere.

        Without ``keep_root`` the root itself may not be entered any more.
        """
        branch = [root]
        for island in branch:
            branch.extend(self.children.pop(island, ()))
        above = self.children.get(self.parents[root])
        if above is not None:
            above.discard(root)
        for island in branch:
            del self.parents[island]
        stack = []
        for island in branch:
            if island in self.parents or (island == root and not keep_root):
                continue
            for other in self.around(island):
                if other in self.parents:
                    self._hang(island, other)
                    stack.append(island)
                    break
        parents, loose = self.parents, set(branch)
        while stack:
            island = stack.pop()
            for other in self.around(island):
                if other in loose and other not in parents and (other != root or keep_root):
                    self._hang(other, island)
                    stack.append(other)
        self.gone.extend(island for island in branch if island not in parents)
