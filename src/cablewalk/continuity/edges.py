"""Edges: the joins between islands that changes made, broke, or put in doubt."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from cablewalk.continuity.graph import is_sure, mate_of
from cablewalk.continuity.touched import JOINING
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE


class Edge(NamedTuple):
    """A join between two islands that differs from before."""

    a: int
    b: int
    was: bool
    was_sure: bool
    now: bool
    now_sure: bool


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

    def follow(self, changes: Iterable[Change]) -> list[Edge]:
        """Return the joins that differ from when last looked at; changes are applied already."""
        config, known = self.config, self.known
        joints, joins = config.wiring.joints, config.wiring.joins
        before: dict[tuple[int, int], bool] = {}
        after: dict[tuple[int, int], bool] = {}
        for item in {item for field, item, _, _ in changes if field in JOINING and joints[item]}:
            old = known.get(item)
            if old is not None:
                mate, sure = old
                before[(item, mate) if item < mate else (mate, item)] = sure
            mate = mate_of(config, item)
            if mate != NONE:
                pair = (item, mate) if item < mate else (mate, item)
                if pair not in after:
                    after[pair] = is_sure(config, item, mate)
        if before == after:
            return []
        for pair in before:
            if pair not in after:
                for item in pair:
                    known.pop(item, None)
        for (one, two), sure in after.items():
            known[one], known[two] = (two, sure), (one, sure)
        rows = []
        for pair in sorted({*before, *after}):
            was, now = before.get(pair), after.get(pair)
            if was is not now:
                told = (was is not None, was is True, now is not None, now is True)
                rows += [Edge(a, b, *told) for a, b in joins(*pair)]
        return rows
