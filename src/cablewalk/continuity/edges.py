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


def islands_of(turns: Turns) -> frozenset[int]:
    """Return the islands at which joins differ."""
    if len(turns) == 1:  # one action at a time: nearly always
        return turns[0][1].islands
    return frozenset().union(*[join.islands for _, join in turns])


class Joins:
    """What every half and cap was joined to, and how surely, when last looked at."""

    def __init__(self, config: Configuration) -> None:
        self.config = config
        self.mates = [mate_of(config, item) for item in range(len(config.wiring.items))]
        """Item to what it is joined to, or NONE."""
        self.sure = bytearray(
            mate != NONE and is_sure(config, item, mate) for item, mate in enumerate(self.mates)
        )
        """Item to 1 where that is beyond doubt."""

    def beside(self, island: int) -> list[int]:
        """Return every island joined to an island, as :func:`graph.joined_to` does."""
        wiring, mates = self.config.wiring, self.mates
        joints, stubs = wiring.joints, wiring.stubs
        found = []
        for item, position in wiring.sites[island]:
            mate = mates[item]
            if mate != NONE:
                other = joints[mate][position]
                if other not in stubs:
                    found.append(other)
        return found

    def surely_beside(self, island: int) -> list[int]:
        """Return every island joined to an island beyond doubt."""
        wiring, mates, sure = self.config.wiring, self.mates, self.sure
        joints, stubs = wiring.joints, wiring.stubs
        found = []
        for item, position in wiring.sites[island]:
            if sure[item]:
                other = joints[mates[item]][position]
                if other not in stubs:
                    found.append(other)
        return found

    def follow(self, items: Iterable[int]) -> Edges:
        """Return the joins of these halves and caps that differ from when last looked at."""
        config, mates, known_sure = self.config, self.mates, self.sure
        before: dict[tuple[int, int], bool] = {}
        after: dict[tuple[int, int], bool] = {}
        for item in items:
            mate = mates[item]
            if mate != NONE:
                pair = (item, mate) if item < mate else (mate, item)
                before[pair] = bool(known_sure[item])
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
                    mates[item], known_sure[item] = NONE, False
        for (one, two), sure in after.items():
            mates[one], mates[two] = two, one
            known_sure[one] = known_sure[two] = sure
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
