"""Conductors: what each conductor of a harness joins, leg by leg."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.documents.base import SHELL
from cablewalk.documents.baseline import Baseline
from cablewalk.replay.joiner import Merger
from cablewalk.replay.wiring import NONE, Wiring

Spot = tuple[int, int]
"""A contact: half or cap, and position; or a terminal: NONE, and its number."""


@dataclass(slots=True)
class Conductor:
    """One conductor: leg to the contacts, or terminals of a unit, that it joins there."""

    harness: int
    island: int
    legs: dict[str, list[Spot]] = field(default_factory=dict)

    def named(self, wiring: Wiring) -> str:
        """Return what it joins as printed, ``P1.1 P2.1``."""
        return " ".join(named(wiring, spot) for spots in self.legs.values() for spot in spots)


class Conductors:
    """The conductors of harnesses, worked out when first asked for."""

    def __init__(self, baseline: Baseline, wiring: Wiring) -> None:
        self.baseline = baseline
        self.wiring = wiring
        self._of: dict[int, dict[int, list[Conductor]]] = {}
        """Harness to its conductors by island."""
        self.hard_at: dict[int, list[Conductor]] = {}
        """Island to the conductors fixed to terminals there."""
        for name, harness in baseline.harnesses.items():
            if any(leg.hard_wired is not None for leg in harness.legs.values()):
                for island, conductors in self.of(wiring.by_id[name]).items():
                    hard = [c for c in conductors if terminals(c)]
                    if hard:
                        self.hard_at.setdefault(island, []).extend(hard)

    def at(self, island: int) -> list[Conductor]:
        """Return the conductors of an island."""
        wiring = self.wiring
        legs = [
            wiring.leg_of[item]
            for item, _ in wiring.sites[island]
            if wiring.items[item].role == "free"
        ]
        harnesses = [wiring.items[leg].owner for leg in legs]
        harnesses += [conductor.harness for conductor in self.hard_at.get(island, ())]
        return [c for harness in dict.fromkeys(harnesses) for c in self.of(harness).get(island, ())]

    def of(self, harness: int) -> dict[int, list[Conductor]]:
        """Return island to the conductors of a harness in it."""
        found = self._of.get(harness)
        if found is None:
            document = self.baseline.harnesses[self.wiring.items[harness].id]
            hard = any(leg.hard_wired is not None for leg in document.legs.values())
            found = self._of[harness] = self._by_run(harness) if hard else self._by_island(harness)
        return found

    def _by_island(self, harness: int) -> dict[int, list[Conductor]]:
        """Return the conductors of a harness without hard-wired legs: one an island."""
        wiring = self.wiring
        found: dict[int, list[Conductor]] = {}
        for leg in wiring.legs_of[harness]:
            half = wiring.half_of[leg]
            for position, island in enumerate(wiring.joints[half]):
                (row,) = found.setdefault(island, [Conductor(harness, island)])
                row.legs.setdefault(wiring.items[leg].id, []).append((half, position))
        return found

    def _by_run(self, harness: int) -> dict[int, list[Conductor]]:
        """Return the conductors of a harness with hard-wired legs: one a run.

        Runs that meet at a contact are one conductor, spliced there: a contact takes one. Those
        that meet at a terminal of a unit are several: a terminal takes several.
        """
        wiring = self.wiring
        document = self.baseline.harnesses[wiring.items[harness].id]
        assert document.runs != "straight", "a harness with a hard-wired leg gives its runs"
        rows = [
            row
            for run in document.runs
            for row in zip(*(spots(wiring, text) for text in run), strict=True)
        ]
        merger, first = Merger(), dict[Spot, int]()
        nodes = [merger.node() for _ in rows]
        for node, row in zip(nodes, rows, strict=True):
            for spot in row:
                if spot[0] != NONE:
                    merger.join(node, first.setdefault(spot, node))
        units: dict[str, list[str]] = {}
        for key, leg in document.legs.items():
            if leg.hard_wired is not None:
                units.setdefault(leg.hard_wired, []).append(key)
        made: dict[int, Conductor] = {}
        for node, row in zip(nodes, rows, strict=True):
            root = merger.root(node)
            if root not in made:
                made[root] = Conductor(harness, _island(wiring, row[0]))
            self._add(made[root].legs, row, units)
        found: dict[int, list[Conductor]] = {}
        for conductor in made.values():
            found.setdefault(conductor.island, []).append(conductor)
        return found

    def _add(
        self, legs: dict[str, list[Spot]], row: tuple[Spot, ...], units: dict[str, list[str]]
    ) -> None:
        """Add what a run joins to the legs of its conductor.

        Of several legs fixed to one unit the first takes the run's first terminal there, and so
        on: no document says which is which.
        """
        wiring = self.wiring
        met: dict[str, int] = {}
        for spot in row:
            item, number = spot
            if item != NONE:
                leg = wiring.items[wiring.leg_of[item]].id
            else:
                unit = wiring.items[wiring.terminals[number].owner].id
                count = met[unit] = met.get(unit, -1) + 1
                leg = units[unit][min(count, len(units[unit]) - 1)]
            ends = legs.setdefault(leg, [])
            if spot not in ends:
                ends.append(spot)


def terminals(conductor: Conductor) -> list[int]:
    """Return the terminals a conductor is fixed to."""
    return [n for ends in conductor.legs.values() for item, n in ends if item == NONE]


def is_shield(wiring: Wiring, ends: list[Spot]) -> bool:
    """Return whether all that a conductor joins at a leg are shells."""
    return all(item != NONE and n == len(wiring.contact_names[item]) for item, n in ends)


def named(wiring: Wiring, spot: Spot) -> str:
    """Return the printed name of a contact or terminal."""
    item, number = spot
    return wiring.terminals[number].name if item == NONE else wiring.contact(item, number)


def spots(wiring: Wiring, text: str) -> list[Spot]:
    """Return what a reference of a document that was found sound names: one, or a range."""
    if text in wiring.terminal_by_name:
        return [(NONE, wiring.terminal_by_name[text])]
    owner, _, contact = text.partition(".")
    half = wiring.by_id[owner]
    names = wiring.contact_names[half]
    if contact == "*":
        return [(half, n) for n in range(len(names))]
    if contact == SHELL:
        return [(half, len(names))]
    if contact in names:
        return [(half, names.index(contact))]
    low, _, high = contact.partition("-")
    return [(half, names.index(str(n))) for n in range(int(low), int(high) + 1)]


def _island(wiring: Wiring, spot: Spot) -> int:
    item, number = spot
    return wiring.terminals[number].island if item == NONE else wiring.joints[item][number]
