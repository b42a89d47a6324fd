"""Edges: the joins between islands that changes made, broke, or put in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cablewalk.continuity.graph import is_sure, mate_of
from cablewalk.continuity.touched import JOINING
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE


@dataclass(frozen=True, slots=True)
class Edge:
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
        for item in range(len(config.wiring.items)):
            mate = mate_of(self.config, item)
            if mate != NONE:
                self.known[item] = (mate, is_sure(config, item, mate))

    def follow(self, changes: Sequence[Change]) -> list[Edge]:
        """Return the joins that differ from when last looked at; changes are applied already."""
        joints, joins = self.config.wiring.joints, self.config.wiring.joins
        before: dict[tuple[int, int], bool] = {}
        after: dict[tuple[int, int], bool] = {}
        for item in {c.item for c in changes if c.field in JOINING}:
            if self.config.wiring.items[item].kind not in ("half", "cap") or not joints[item]:
                continue
            old = self.known.get(item)
            if old is not None:
                before[min(item, old[0]), max(item, old[0])] = old[1]
            mate = mate_of(self.config, item)
            if mate != NONE:
                after[min(item, mate), max(item, mate)] = is_sure(self.config, item, mate)
        rows = []
        for pair in before.keys() - after.keys():
            for item in pair:
                self.known.pop(item, None)
        for (one, two), sure in after.items():
            self.known[one], self.known[two] = (two, sure), (one, sure)
        for pair in sorted(before.keys() | after.keys()):
            was, now = before.get(pair), after.get(pair)
            if was != now:
                rows += [
                    Edge(a, b, was is not None, bool(was), now is not None, bool(now))
                    for a, b in joins(*pair)
                ]
        return rows
