"""Edges: the joins between islands that changes made, broke, or put in doubt."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from cablewalk.continuity.graph import is_sure, mate_of
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Join

Turns = list[tuple[bool, Join]]
"""Each join that differs, with whether it has come or gone."""


class Edges(NamedTuple):
    """The joins that differ from before, in the order of the halves and caps they are of."""

    joined: Turns
    """What is joined, surely or not."""
    sure: Turns
    """What is joined beyond doubt."""

    def __bool__(self) -> bool:
        return bool(self.joined or self.sure)


def islands_of(turns: Turns) -> set[int]:
    """Return the islands at which joins differ."""
    return {island for _, join in turns for island in join.islands}


class Joins:
    """What every half and cap was joined to, and how surely, when last looked at."""

    def __init__(self, config: Configuration) -> None:
        self.config = config
        self.known: dict[int, tuple[int, bool]] = {}
        for item, joints in enumerate(config.wiring.joints):
            if joints:
                mate = mate_of(config, item)
                if mate != NONE:
                    self.known[item] = (mate, is_sure(config, item, mate))

    def beside(self, island: int) -> list[int]:
        """Return every island joined to an island, as :func:`graph.joined_to` does."""
        wiring, known = self.config.wiring, self.known
        joints, stubs = wiring.joints, wiring.stubs
        found = []
        for item, position in wiring.sites[island]:
            if item in known:
                other = joints[known[item][0]][position]
                if other not in stubs:
                    found.append(other)
        return found

    def surely_beside(self, island: int) -> list[int]:
        """Return every island joined to an island beyond doubt."""
        wiring, known = self.config.wiring, self.known
        joints, stubs = wiring.joints, wiring.stubs
        found = []
        for item, position in wiring.sites[island]:
            if item in known:
                mate, sure = known[item]
                if sure and joints[mate][position] not in stubs:
                    found.append(joints[mate][position])
        return found

    def follow(self, items: Iterable[int]) -> Edges:
        """Return the joins of these halves and caps that differ from when last looked at."""
        config, known = self.config, self.known
        before: dict[tuple[int, int], bool] = {}
        after: dict[tuple[int, int], bool] = {}
        for item in items:
            old = known.get(item)
            if old is not None:
                mate, sure = old
                before[(item, mate) if item < mate else (mate, item)] = sure
            mate = mate_of(config, item)
            if mate != NONE:
                pair = (item, mate) if item < mate else (mate, item)
                if pair not in after:
                    after[pair] = is_sure(config, item, mate)
        edges = Edges([], [])
        if before == after:
            return edges
        for pair in before:
            if pair not in after:
                for item in pair:
                    known.pop(item, None)
        for (one, two), sure in after.items():
            known[one], known[two] = (two, sure), (one, sure)
        for pair in sorted({*before, *after}):
            was, now = before.get(pair), after.get(pair)
            if was is now:
                continue
            join = config.wiring.join(*pair)
            if None in (was, now):
                edges.joined.append((was is None, join))
            if was or now:
                edges.sure.append((now is True, join))
        return edges
