"""Touched: what a set of changes may alter."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import STRUCTURE

JOINING = frozenset({Field.STATE, Field.LINK, Field.CLAIM})
"""The fields that joins and power depend on."""


class Touched(NamedTuple):
    """What a set of changes touched: islands whose joins may differ, switches, units."""

    islands: frozenset[int]
    switches: bool
    units: frozenset[int]


def touched_by(config: Configuration, changes: Iterable[Change]) -> Touched:
    """Return what changes touched, whether they are applied already or not.

    A claim that only looks touches nothing.
    """
    wiring = config.wiring
    items, joints = wiring.items, wiring.joints
    islands: set[int] = set()
    units: set[int] = set()
    switches = False
    for field, item, old, new in changes:
        if field not in JOINING:
            continue
        if field is Field.CLAIM and not (_moves(old) or _moves(new)):
            continue
        kind = items[item].kind
        if kind == "half":
            islands.update(joints[item])
        elif kind == "cap":
            islands.update(joints[item])
            units.add(item)
        elif kind == "switch":
            switches = True
        elif kind in ("unit", "panel"):
            units.add(item)
    islands.discard(STRUCTURE)
    return Touched(frozenset(islands), switches, frozenset(units))


def _moves(claim: object) -> bool:
    return isinstance(claim, int) and claim > 0 and claim & 1 == 1
