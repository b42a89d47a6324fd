"""Touched: what a set of changes may alter."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import STRUCTURE

_STATE, _LINK, _CLAIM = Field.STATE, Field.LINK, Field.CLAIM
"""The fields that joins and power depend on."""


class Touched(NamedTuple):
    """What a set of changes touched: joins that may differ, switches, units."""

    joined: frozenset[int]
    """Halves and caps whose joins may differ."""
    switches: bool
    units: frozenset[int]
    """Units, panels and caps."""

    def islands(self, config: Configuration) -> set[int]:
        """Return the islands of the contacts of the halves and caps, structure left out."""
        joints = config.wiring.joints
        return {island for item in self.joined for island in joints[item]} - {STRUCTURE}


def touched_by(config: Configuration, changes: Iterable[Change]) -> Touched:
    """Return what changes touched, whether they are applied already or not.

    A claim that only looks touches nothing, nor does a cap that joins nothing.
    """
    items, joints = config.wiring.items, config.wiring.joints
    joined: set[int] = set()
    units: set[int] = set()
    switches = False
    for field, item, old, new in changes:
        if field is _CLAIM:
            if not (_moves(old) or _moves(new)):
                continue
        elif field is not _STATE and field is not _LINK:
            continue
        kind = items[item].kind
        if kind == "half":
            joined.add(item)
        elif kind == "cap":
            if joints[item]:
                joined.add(item)
                units.add(item)
        elif kind == "switch":
            switches = True
        elif kind in ("unit", "panel"):
            units.add(item)
    return Touched(frozenset(joined), switches, frozenset(units))


def _moves(claim: object) -> bool:
    return isinstance(claim, int) and claim > 0 and claim & 1 == 1
