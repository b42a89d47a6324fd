"""Copper: the resistances between the contacts of an island, worked out when first asked for.

An island is contacts and terminals joined for good. What lies behind a panel is taken as one
node; a run of a harness is a tree of wires, a node at each leg's end and at each breakout. A leg
hard-wired to a unit ends in the node of the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from functools import cached_property

from cablewalk.documents.baseline import Baseline
from cablewalk.formulas.contact import CATALOGUE_SOURCES, CATALOGUES, resistance_ohm
from cablewalk.formulas.wire import SOLID_SOURCE, at_temperature, solid_ohm_per_m
from cablewalk.power.behind import Behind, fixed_halves
from cablewalk.power.conductors import Conductor, Conductors, Spot, terminals
from cablewalk.power.loads import loads_of
from cablewalk.power.pieces import Piece, tails
from cablewalk.power.segments import gauge_and_length, used_segments
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring

FIRST_TAIL = NONE - 1
"""The first tail's number; the others follow below."""


class Copper:
    """Nodes, wires and loads of a baseline. Node numbers below the number of islands are islands.

    Node 0 is structure. A **tail** is wire fixed to structure at a grounded terminal, with what
    else it is fixed to: part of structure's island, yet with resistance before it. Tails have
    numbers below those of islands, and are walked as islands are.
    """

    def __init__(self, baseline: Baseline, wiring: Wiring) -> None:
        self.baseline = baseline
        self.wiring = wiring
        self.electrical = baseline.electrical
        self._nodes = len(wiring.sites)
        self._wires: dict[int, tuple[Piece, ...]] = {}
        self._node: dict[Spot, int] = {}
        self._interface = _interfaces(baseline)
        self.conductors = Conductors(baseline, wiring)
        self._tail_of: dict[int, int] = {}
        """Node to the tail it is on."""
        self._tail_sites: dict[int, list[Spot]] = {}
        self._cut_tails()
        self.loads = list(loads_of(baseline, wiring))
        self.loads_at: dict[int, list[int]] = {}
        """Island to the loads that have an end on it."""
        self.passing: dict[int, list[int]] = {}
        """Feed to the loads that take its output's power (a converter's input)."""
        self._add_loads()

    def _add_loads(self) -> None:
        for n, load in enumerate(self.loads):
            if load.passes != NONE:
                self.passing.setdefault(load.passes, []).append(n)
            for island in {self.at(t) for t in (load.hi, load.ret)} - {STRUCTURE}:
                self.loads_at.setdefault(island, []).append(n)

    def _cut_tails(self) -> None:
        """Number the wire that hangs on structure, so that it is met as islands are."""
        for n, (nodes, pieces) in enumerate(tails(self.wires(STRUCTURE))):
            tail = FIRST_TAIL - n
            self._wires[tail] = tuple(pieces)
            self._tail_of.update(dict.fromkeys(nodes, tail))
        for spot, node in self._node.items():
            if spot[0] != NONE and node in self._tail_of:
                self._tail_sites.setdefault(self._tail_of[node], []).append(spot)

    # -- islands ----------------------------------------------------------------------

    def at(self, terminal: int) -> int:
        """Return the island of a terminal; on structure, the tail it is at."""
        island = self.wiring.terminals[terminal].island
        return self._met(island, (NONE, terminal))

    def met(self, item: int, position: int) -> int:
        """Return the island of a contact; on structure, the tail it is at."""
        return self._met(self.wiring.joints[item][position], (item, position))

    def _met(self, island: int, spot: Spot) -> int:
        if island != STRUCTURE or not self._tail_of:
            return island
        return self._tail_of.get(self._node_of(spot, island), STRUCTURE)

    def sites(self, island: int) -> Sequence[Spot]:
        """Return the contacts of an island, or of a tail."""
        if island < STRUCTURE:
            return self._tail_sites.get(island, ())
        return self.wiring.sites[island]

    def tails_at(self, items: Set[int]) -> set[int]:
        """Return the tails that contacts of these halves are on."""
        rows = self._tail_sites.items()
        return {tail for tail, sites in rows if any(item in items for item, _ in sites)}

    # -- nodes ------------------------------------------------------------------------

    def node(self, item: int, position: int) -> int:
        """Return the node of a contact of a half or cap."""
        return self._node_of((item, position), self.wiring.joints[item][position])

    def terminal_node(self, terminal: int) -> int:
        """Return the node of a terminal."""
        return self._node_of((NONE, terminal), self.wiring.terminals[terminal].island)

    def _node_of(self, spot: Spot, island: int) -> int:
        if island not in self._wires:
            self.wires(island)
        return self._node.get(spot, island)

    def wires(self, island: int) -> tuple[Piece, ...]:
        """Return the wires of an island, or of a tail of structure."""
        found = self._wires.get(island)
        if found is None:
            found = self._wires[island] = tuple(self._lay(island))
        return found

    def _lay(self, island: int) -> list[Piece]:
        """Give the ends of an island's conductors their nodes; return the wires between."""
        conductors = self.conductors.at(island)
        if self._is_parted(island):
            for n, group in enumerate(self._behind.groups(island, conductors)):
                self._node.update(dict.fromkeys(group, self._new() if n else island))
        pieces = []
        for conductor in conductors:
            at: dict[str, int] = {}
            for leg, ends in conductor.legs.items():
                if ends[0][0] == NONE:
                    at[leg] = self._node.get(ends[0], island)
                else:
                    at[leg] = self._new()
                    self._node.update(dict.fromkeys(ends, at[leg]))
            pieces += self._tree(conductor, at)
        return pieces

    def _is_parted(self, island: int) -> bool:
        """Return whether wire lies between the terminals of an island, or them and structure."""
        hard = self.conductors.hard_at.get(island, ())
        return len({t for c in hard for t in terminals(c)}) > (island != STRUCTURE)

    @cached_property
    def _behind(self) -> Behind:
        hard = self.conductors.hard_at
        parted = {island: rows for island, rows in hard.items() if self._is_parted(island)}
        return Behind(self.baseline, self.wiring, parted)

    def _new(self) -> int:
        self._nodes += 1
        return self._nodes - 1

    def _tree(self, conductor: Conductor, at: dict[str, int]) -> list[Piece]:
        """Return the wires that join the legs in ``at``, which is leg to node."""
        island, name = conductor.island, self.wiring.items[conductor.harness].id
        document = self.baseline.harnesses[name]
        run = conductor.named(self.wiring)
        pieces = []
        nodes = dict(at)
        for segment, (a, b) in used_segments(document, list(at)).items():
            for end in (a, b):
                if end not in nodes:
                    nodes[end] = self._new()
            gauge, length = gauge_and_length(document, segment)
            ohm, missing, source = self._wire_ohm(gauge, length, f"{name}.{segment}")
            item = self.wiring.by_id.get(f"{name}.{segment}", conductor.harness)
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
                    source,
                    gauge,
                    run=run,
                )
            )
        return pieces

    def _wire_ohm(
        self, gauge: int | None, length_m: float | None, name: str
    ) -> tuple[float | None, str, str]:
        """Return ohms, what is missing of them, and who gives them."""
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
            return None, f"{' and '.join(lacking)} of {name}", ""
        if data is None:
            return None, "electrical.wire", ""
        assert gauge is not None and length_m is not None
        own = data.ohm_per_m.get(str(gauge))
        per_m = own or solid_ohm_per_m(gauge)
        source = (
            f"wire of gauge {gauge} at {data.conductor_c:g} °C: "
            f"{'ohm_per_m' if own else SOLID_SOURCE}, chosen by {data.source}"
        )
        return at_temperature(per_m * length_m, data.conductor_c), "", source

    # -- contacts ---------------------------------------------------------------------

    def contact(self, item: int, mate: int, position: int) -> Piece:
        """Return the joined pair of contacts of two halves, or of half and cap."""
        wiring = self.wiring
        half = item if wiring.items[item].kind == "half" else mate
        name = f"{wiring.contact(item, position)}/{wiring.contact(mate, position)}"
        interface = self._interface.get(wiring.items[half].id, "")
        size = self.electrical.contact_sizes.get(interface, "")
        ohm, source = None, ""
        missing = f"the size of {interface}'s contacts (electrical.contact_sizes)"
        if size:
            data = self.electrical.contacts[size]
            missing = ""
            if data.resistance_mohm is not None:
                ohm = data.resistance_mohm / 1000
                source = f"contacts of size {size}: resistance_mohm by {data.source}"
            elif data.catalogue is not None and size in CATALOGUES[data.catalogue]:
                ohm = resistance_ohm(*CATALOGUES[data.catalogue][size])
                said = CATALOGUE_SOURCES[data.catalogue]
                source = f"contacts of size {size}: {said}, chosen by {data.source}"
            else:
                missing = f"the resistance of contacts of size {size}"
        ends = (self.node(item, position), self.node(mate, position))
        islands = (wiring.joints[item][position], wiring.joints[mate][position])
        return Piece(*ends, half, name, *islands, ohm, missing, source, None, size, False)


def _interfaces(baseline: Baseline) -> dict[str, str]:
    """Return half to the id of its interface."""
    found = {name: half.interface for name, half, _ in fixed_halves(baseline)}
    for harness in baseline.harnesses.values():
        for name, leg in harness.legs.items():
            if leg.interface is not None:
                found[name] = leg.interface
    return found
