"""Copper: the resistances between the contacts of an island, worked out when first asked for.

An island is contacts and terminals joined for good. What lies behind a panel is taken as one
node; a run of a harness is a tree of wires, a node at each leg's end and at each breakout.
"""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.harness import Harness
from cablewalk.formulas.contact import CATALOGUES, resistance_ohm
from cablewalk.formulas.wire import at_temperature, solid_ohm_per_m
from cablewalk.power.segments import gauge_and_length, used_segments
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of wire or a mated pair of contacts, between two nodes.

    ``ohm`` is None where it is not known; it then counts as nothing, and ``missing`` says what
    the documents lack. ``item`` is the segment, or the half or cap the contact belongs to.
    """

    a: int
    b: int
    item: int
    name: str
    island: int
    other: int
    """The island of ``b``; the same for wire."""
    ohm: float | None
    missing: str = ""
    gauge_awg: int | None = None
    size: str = ""
    """Contacts: their size; empty for wire and where it is not given."""
    is_wire: bool = True
    run: str = ""
    """Wire: the contacts its conductor joins, ``P1.1 P2.1``."""

    @property
    def said(self) -> str:
        """Its name; of wire with its conductor."""
        return f"{self.name} ({self.run})" if self.run else self.name


@dataclass(frozen=True, slots=True)
class Load:
    """A draw of a unit, by terminals."""

    name: str
    unit: int
    hi: int
    ret: int
    power_w: float | None
    ohm: float | None
    amps: float | None
    passes: int
    """Feed whose output it takes; NONE for the others."""
    efficiency: float
    min_volts: float | None
    source: str


class Copper:
    """Nodes, wires and loads of a baseline. Node numbers below the number of islands are islands.

    Node 0 is structure.
    """

    def __init__(self, baseline: Baseline, wiring: Wiring) -> None:
        self.baseline = baseline
        self.wiring = wiring
        self.electrical = baseline.electrical
        self._nodes = len(wiring.sites)
        self._wires: dict[int, tuple[Piece, ...]] = {}
        self._node: dict[tuple[int, int], int] = {}
        self._interface = _interfaces(baseline)
        self.loads: list[Load] = []
        self.loads_at: dict[int, list[int]] = {}
        """Island to the loads that have an end on it."""
        self.passing: dict[int, list[int]] = {}
        """Feed to the loads that take its output's power (a converter's input)."""
        self._add_loads()

    def _add_loads(self) -> None:
        wiring = self.wiring
        for place in self.baseline.places.values():
            for name, unit in place.units.items():
                for key, draw in unit.draws.items():
                    hi = wiring.terminal_by_name[f"{name}.{draw.hi}"]
                    ret = wiring.terminal_by_name[f"{name}.{draw.ret}"]
                    passes = NONE
                    if draw.passes is not None:
                        feed = name if draw.passes == "self" else draw.passes
                        passes = wiring.feed_by_id[feed]
                        self.passing.setdefault(passes, []).append(len(self.loads))
                    for island in {wiring.terminals[t].island for t in (hi, ret)} - {STRUCTURE}:
                        self.loads_at.setdefault(island, []).append(len(self.loads))
                    self.loads.append(
                        Load(
                            f"{name}.{key}",
                            wiring.item("unit", name),
                            hi,
                            ret,
                            draw.power_w,
                            draw.ohm,
                            draw.amps,
                            passes,
                            draw.efficiency or 1.0,
                            draw.min_volts,
                            draw.source,
                        )
                    )

    # -- nodes ------------------------------------------------------------------------

    def node(self, item: int, position: int) -> int:
        """Return the node of a contact of a half or cap."""
        island = self.wiring.joints[item][position]
        if self.wiring.items[item].role != "free":
            return island
        self.wires(island)
        return self._node[(item, position)]

    def wires(self, island: int) -> tuple[Piece, ...]:
        """Return the wires of an island."""
        found = self._wires.get(island)
        if found is None:
            found = self._wires[island] = tuple(self._lay(island))
        return found

    def _lay(self, island: int) -> list[Piece]:
        """Give the contacts of an island's harnesses their nodes; return the wires between."""
        wiring = self.wiring
        ends: dict[int, dict[str, list[tuple[int, int]]]] = {}
        for item, position in wiring.sites[island]:
            if wiring.items[item].role == "free":
                leg = wiring.items[wiring.leg_of[item]]
                ends.setdefault(leg.owner, {}).setdefault(leg.id, []).append((item, position))
        pieces = []
        for harness, legs in ends.items():
            document = self.baseline.harnesses[wiring.items[harness].id]
            at: dict[str, int] = {}
            for name, contacts in legs.items():
                at[name] = self._new()
                for contact in contacts:
                    self._node[contact] = at[name]
            units = {
                wiring.items[wiring.terminals[t].owner].id for t in wiring.island_terminals[island]
            }
            fixed: set[str] = set()
            for key, leg_document in document.legs.items():
                unit = leg_document.hard_wired
                if unit is not None and unit in units - fixed:
                    at[key] = island
                    fixed.add(unit)
            run = " ".join(wiring.contact(*c) for contacts in legs.values() for c in contacts)
            pieces += self._tree(island, harness, document, at, run)
        return pieces

    def _new(self) -> int:
        self._nodes += 1
        return self._nodes - 1

    def _tree(
        self, island: int, harness: int, document: Harness, at: dict[str, int], run: str
    ) -> list[Piece]:
        """Return the wires that join the legs in ``at``, which is leg to node."""
        name = self.wiring.items[harness].id
        pieces = []
        nodes = dict(at)
        for segment, (a, b) in used_segments(document, list(at)).items():
            for end in (a, b):
                if end not in nodes:
                    nodes[end] = self._new()
            gauge, length = gauge_and_length(document, segment)
            ohm, missing = self._wire_ohm(gauge, length, f"{name}.{segment}")
            item = self.wiring.by_id.get(f"{name}.{segment}", harness)
            pieces.append(
                Piece(
                    nodes[a],
                    nodes[b],
                    item,
                    f"{name}.{segment}",
                    island,
                    island,
                    ohm,
                    missing,
                    gauge,
                    run=run,
                )
            )
        return pieces

    def _wire_ohm(
        self, gauge: int | None, length_m: float | None, name: str
    ) -> tuple[float | None, str]:
        data = self.electrical.wire
        lacking = [
            word
            for word, there in (
                ("gauge_awg", gauge is not None),
                ("length_m", length_m is not None),
            )
            if not there
        ]
        if lacking:
            return None, f"{' and '.join(lacking)} of {name}"
        if data is None:
            return None, "electrical.wire"
        assert gauge is not None and length_m is not None
        per_m = data.ohm_per_m.get(str(gauge)) or solid_ohm_per_m(gauge)
        return at_temperature(per_m * length_m, data.conductor_c), ""

    # -- contacts ---------------------------------------------------------------------

    def contact(self, item: int, mate: int, position: int) -> Piece:
        """Return the joined pair of contacts of two halves, or of half and cap."""
        wiring = self.wiring
        half = item if wiring.items[item].kind == "half" else mate
        name = f"{wiring.contact(item, position)}/{wiring.contact(mate, position)}"
        interface = self._interface.get(wiring.items[half].id, "")
        size = self.electrical.contact_sizes.get(interface, "")
        ohm, missing = None, f"the size of {interface}'s contacts (electrical.contact_sizes)"
        if size:
            data = self.electrical.contacts[size]
            missing = ""
            if data.resistance_mohm is not None:
                ohm = data.resistance_mohm / 1000
            elif data.catalogue is not None and size in CATALOGUES[data.catalogue]:
                ohm = resistance_ohm(*CATALOGUES[data.catalogue][size])
            else:
                missing = f"the resistance of contacts of size {size}"
        ends = (self.node(item, position), self.node(mate, position))
        islands = (wiring.joints[item][position], wiring.joints[mate][position])
        return Piece(*ends, half, name, *islands, ohm, missing, None, size, False)


def _interfaces(baseline: Baseline) -> dict[str, str]:
    """Return half to the id of its interface."""
    found: dict[str, str] = {}
    for place in baseline.places.values():
        groups = [place.halves]
        groups += [panel.halves for panel in place.panels.values()]
        groups += [unit.halves for unit in place.units.values()]
        for halves in groups:
            found.update({name: half.interface for name, half in halves.items()})
    for harness in baseline.harnesses.values():
        for name, leg in harness.legs.items():
            if leg.interface is not None:
                found[name] = leg.interface
    return found
