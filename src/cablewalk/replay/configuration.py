"""Configuration: how everything stands at one moment."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.change import Change, Field, Value
from cablewalk.replay.wiring import NONE, STATEFUL, Wiring

AWAITED, ALIVE, RETIRED = 0, 1, 2
"""The life of a service."""
LIVES = ("awaited", "alive", "retired")


class Configuration:
    """One machine state an item, one link an item, counters; written only by changes.

    Attributes:
        state: machine state number of each item.
        link: half → its mate or the cap on it; cap → half, place, person or bag; leg → place,
            person or bag; cover, unit, panel (removed) → where it is; bag → place or person;
            person → place or vehicle. NONE where there is none.
        count: cover → fasteners fastened; half → mates so far.
        ties: segment → tie points; along: segment → paths.
        claim: item → twice the serial number of the action at work on it, plus one where that
            action can alter its joins or state; NONE where there is none.
        disturbed: string → 1 when disturbed and not verified since.
        life: service → AWAITED, ALIVE or RETIRED.
    """

    __slots__ = (
        "along",
        "claim",
        "count",
        "disturbed",
        "life",
        "link",
        "state",
        "tables",
        "ties",
        "wiring",
    )

    def __init__(self, wiring: Wiring) -> None:
        size = len(wiring.items)
        self.wiring = wiring
        self.state = bytearray(size)
        self.link = [NONE] * size
        self.count = [0] * size
        self.ties: list[tuple[int, ...]] = [()] * size
        self.along: list[tuple[int, ...]] = [()] * size
        self.claim = [NONE] * size
        self.disturbed = bytearray(len(wiring.strings))
        self.life = bytearray(len(wiring.services))
        self._bind()

    def _bind(self) -> None:
        self.tables = (
            self.state,
            self.link,
            self.count,
            self.ties,
            self.along,
            self.claim,
            self.disturbed,
            self.life,
        )

    def copy(self) -> Configuration:
        """Return an independent copy."""
        twin = Configuration.__new__(Configuration)
        twin.wiring = self.wiring
        twin.state = bytearray(self.state)
        twin.link = self.link.copy()
        twin.count = self.count.copy()
        twin.ties = self.ties.copy()
        twin.along = self.along.copy()
        twin.claim = self.claim.copy()
        twin.disturbed = bytearray(self.disturbed)
        twin.life = bytearray(self.life)
        twin._bind()
        return twin

    def apply(self, changes: Iterable[Change]) -> None:
        """Write the changes, in order."""
        tables = self.tables
        for field, item, _old, new in changes:
            tables[field][item] = new  # type: ignore[assignment]

    def undo(self, changes: Iterable[Change]) -> None:
        """Take the changes back, last first."""
        tables = self.tables
        for field, item, old, _new in reversed(tuple(changes)):
            tables[field][item] = old  # type: ignore[assignment]

    def value(self, field: Field, item: int) -> Value:
        """Return the present value of one field."""
        return self.tables[field][item]

    def state_name(self, item: int) -> str:
        """Return the machine state of an item in words."""
        return COMPILED[STATEFUL[self.wiring.items[item].kind]].states[self.state[item]]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Configuration):
            return NotImplemented
        return self.wiring is other.wiring and self.tables == other.tables

    __hash__ = None  # type: ignore[assignment]

    def moving(self, item: int) -> bool:
        """Return whether an action that can alter this item's joins is at work on it."""
        claim = self.claim[item]
        return claim > 0 and claim & 1 == 1

    # -- where things are -------------------------------------------------------------

    def place_of(self, item: int) -> int:
        """Return the place where an item is, or NONE where that is not known.

        Follows holders: a leg in a bag carried by a worker who rides a vehicle is where
        the vehicle is. Links cannot form a loop: only people and bags carry, and a person rides
        only a vehicle.
        """
        wiring = self.wiring
        for _ in range(8):
            if item == NONE:
                return NONE
            entry = wiring.items[item]
            if entry.kind == "place":
                return item
            if entry.kind == "half":
                if entry.owner != NONE:
                    item = entry.owner
                    continue
                mate = self.link[item]
                if (
                    mate != NONE
                    and wiring.items[mate].kind == "half"
                    and (wiring.items[mate].owner != NONE)
                ):
                    item = mate
                    continue
                item = wiring.leg_of[item]
            elif entry.kind in ("unit", "panel", "switch", "cover"):
                link = self.link[item]
                item = link if link != NONE else entry.owner
            else:
                item = self.link[item]
        return NONE

    def held_by(self, person: int) -> list[int]:
        """Return the items a person holds or carries."""
        kinds = ("leg", "cap", "cover", "bag", "unit", "panel")
        return [
            n
            for n, link in enumerate(self.link)
            if link == person and self.wiring.items[n].kind in kinds
        ]
