"""Touched: what a set of changes may alter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import STRUCTURE

JOINING = frozenset({Field.STATE, Field.LINK, Field.CLAIM})
"""The fields that joins and power depend on."""


def matters(change: Change) -> bool:
    """Return whether a change can alter joins or power; a claim that only looks cannot."""
    if change.field is Field.CLAIM:
        return any(isinstance(v, int) and v > 0 and v & 1 == 1 for v in (change.old, change.new))
    return change.field in JOINING


@dataclass(frozen=True, slots=True)
class Touched:
    """What a set of changes touched: islands whose joins may differ, switches, units."""

    islands: frozenset[int]
    switches: bool
    units: frozenset[int]


def touched_by(config: Configuration, changes: Iterable[Change]) -> Touched:
    """Return what changes touched, whether they are applied already or not."""
    wiring = config.wiring
    islands: set[int] = set()
    units: set[int] = set()
    switches = False
    for change in changes:
        if not matters(change):
            continue
        kind = wiring.items[change.item].kind
        if kind in ("half", "cap"):
            islands.update(wiring.joints[change.item])
            if kind == "cap":
                units.add(change.item)
        elif kind == "switch":
            switches = True
        elif kind in ("unit", "panel"):
            units.add(change.item)
    islands.discard(STRUCTURE)
    return Touched(frozenset(islands), switches, frozenset(units))
