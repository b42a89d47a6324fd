"""All joins there could be at any moment of a replay, as one graph over islands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from cablewalk.orders.network import Replayed
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring
from cablewalk.schedule.tasks import Task

Pair = tuple[int, int]
"""Two halves, or half and cap, that are joined at some moment."""


class Joinable:
    """The islands, with an edge for each join that holds at the start or is ever made.

    What one order of the work can join, this graph joins at once: whatever is apart here is
    apart in every order.
    """

    def __init__(self, replayed: Replayed, tasks: Iterable[Task] = ()) -> None:
        """``tasks``: further ones whose joins count, whether or not they were ever made."""
        self.wiring: Wiring = replayed.start.wiring
        self.near: dict[int, list[tuple[int, Pair]]] = {}
        """Island to (island, pair of halves) for each edge."""
        seen: set[Pair] = set()
        for pair in (*_pairs(replayed), *_meant(self.wiring, tasks)):
            if pair in seen:
                continue
            seen.add(pair)
            for a, b in self.wiring.joins(*pair):
                self.near.setdefault(a, []).append((b, pair))
                self.near.setdefault(b, []).append((a, pair))
        self._component: dict[int, frozenset[int]] = {}

    def component(self, island: int) -> frozenset[int]:
        """Return the islands that could be joined with one; structure is a leaf among them."""
        if island not in self._component:
            found = {island}
            stack = [island]
            while stack:
                here = stack.pop()
                if here == STRUCTURE and here != island:
                    continue
                for other, _ in self.near.get(here, ()):
                    if other not in found:
                        found.add(other)
                        stack.append(other)
            frozen = frozenset(found)
            for member in found - {STRUCTURE}:
                self._component[member] = frozen
            self._component[island] = frozen
        return self._component[island]

    def pairs_in(self, component: Iterable[int]) -> set[Pair]:
        """Return all joins within a component."""
        return {
            pair
            for island in component
            if island != STRUCTURE
            for _, pair in self.near.get(island, ())
        }

    def pairs_between(self, a: int, b: int) -> set[Pair]:
        """Return the joins that lie on any path from one island to another that visits none twice.

        They are those in one block (a part of the graph that no single island parts) with an
        edge laid from ``a`` to ``b``. Source of the method: Hopcroft & Tarjan, "Algorithm 447",
        Communications of the ACM 16 (1973), from memory.
        """
        if a == b or b not in self.component(a):
            return set()
        if a == STRUCTURE:
            a, b = b, a

        def around(island: int) -> Iterator[tuple[int, Pair]]:
            if island in (a, b):
                yield b if island == a else a, _LAID
            for other, pair in self.near.get(island, ()):
                if other != STRUCTURE or b == STRUCTURE:
                    yield other, pair

        depth, low = {a: 0}, {a: 0}
        edges: list[Pair] = []
        stack = [_Visit(a, NONE, _NO_PAIR, 0, around(a))]
        while stack:
            visit = stack[-1]
            step = next(visit.rest, None)
            if step is not None:
                other, pair = step
                if other not in depth:
                    depth[other] = low[other] = len(stack)
                    stack.append(_Visit(other, visit.island, pair, len(edges), around(other)))
                    edges.append(pair)
                elif depth[other] < depth[visit.island] and (other, pair) != visit.came_by:
                    low[visit.island] = min(low[visit.island], depth[other])
                    edges.append(pair)
                continue
            stack.pop()
            if not stack:
                break
            parent = visit.parent
            low[parent] = min(low[parent], low[visit.island])
            if low[visit.island] >= depth[parent]:
                block = set(edges[visit.mark :])
                del edges[visit.mark :]
                if _LAID in block:
                    return block - {_LAID}
        return set()


class _Visit(NamedTuple):
    """One island on the way of the search."""

    island: int
    parent: int
    pair: Pair
    mark: int
    """How many edges were gathered before the one that led here."""
    rest: Iterator[tuple[int, Pair]]

    @property
    def came_by(self) -> tuple[int, Pair]:
        return self.parent, self.pair


_NO_PAIR: Final = (NONE, NONE)
_LAID: Final = (NONE, 0)
"""Stands for the edge laid between the two ends."""


def _pairs(replayed: Replayed) -> Iterator[Pair]:
    """Yield the pairs joined at the start, and those a change joins."""
    config, wiring = replayed.start, replayed.start.wiring
    for item, mate in enumerate(config.link):
        if mate != NONE and _joins(config, item, mate):
            yield min(item, mate), max(item, mate)
    for happened in replayed.happened:
        for change in happened.changes:
            if change.field is not Field.LINK or not isinstance(change.new, int):
                continue
            if change.new != NONE and wiring.joints[change.item] and wiring.joints[change.new]:
                yield min(change.item, change.new), max(change.item, change.new)


def _joins(config: Configuration, item: int, mate: int) -> bool:
    joints = config.wiring.joints
    return bool(joints[item]) and bool(joints[mate]) and config.link[mate] == item


def _meant(wiring: Wiring, tasks: Iterable[Task]) -> Iterator[Pair]:
    """Yield the pairs that tasks mean to join, done or not."""
    for task in tasks:
        if task.verb in ("mate", "seat", "engage", "park", "fit_cap"):
            one, other = (wiring.by_id[n] for n in next(iter(task.action.argument.items())))
            yield min(one, other), max(one, other)
