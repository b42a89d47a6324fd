"""Edges: the joins between islands that changes made, broke, or put in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cablewalk.continuity.graph import is_sure
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
            mate = self.mate(item)
            if mate != NONE:
                self.known[item] = (mate, is_sure(config, item, mate))

    def mate(self, item: int) -> int:
        """Return what a half or cap is joined to in the configuration, or NONE."""
        link, joints = self.config.link, self.config.wiring.joints
        mate = link[item]
        if mate == NONE or not joints[item] or not joints[mate] or link[mate] != item:
            return NONE
        return mate

    def follow(self, changes: Sequence[Change]) -> list[Edge]:
        """Return the joins that differ from when last looked at; changes are applied already."""
        joints, joins = self.config.wiring.joints, self.config.wiring.joins
        rows = []
        for item in {c.item for c in changes if c.field in JOINING}:
            if self.config.wiring.items[item].kind not in ("half", "cap") or not joints[item]:
                continue
            mate = self.mate(item)
            new = (mate, is_sure(self.config, item, mate)) if mate != NONE else None
            old = self.known.get(item)
            if old == new:
                continue
            for row in (old, new):
                if row is not None and self.known.get(row[0]) is not None:
                    self.known.pop(row[0])
            self.known.pop(item, None)
            if new is not None:
                self.known[item] = new
                self.known[mate] = (item, new[1])
            if old is not None and (new is None or new[0] != old[0]):
                rows += [Edge(a, b, True, old[1], False, False) for a, b in joins(item, old[0])]
                old = None
            if new is not None:
                was_sure = old is not None and old[1]
                rows += [
                    Edge(a, b, old is not None, was_sure, True, new[1])
                    for a, b in joins(item, mate)
                ]
        return rows
