"""A circuit: a network put into numbers, or the reason why it has none."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from cablewalk.power.copper import Copper
from cablewalk.power.network import Fault, Network, path
from cablewalk.power.nodal import Branch, Port, Solution, Source, solve
from cablewalk.power.pieces import Piece
from cablewalk.power.topology import GROUND, Survey, survey
from cablewalk.replay.wiring import STRUCTURE, Wiring

SAME_VOLTS = 1e-9
"""Volts round a loop that count as none: rounding of what documents give."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What one load gets."""

    volts: float
    amps: float


@dataclass(slots=True)
class Circuit:
    """What is known of one network. No number stands where a fault forbids it."""

    network: Network
    faults: tuple[Fault, ...]
    loads: dict[int, Reading] = field(default_factory=dict)
    feeds: dict[int, float] = field(default_factory=dict)
    """Feed to the amperes it delivers; without those whose share is not determined."""
    pieces: dict[Piece, float] = field(default_factory=dict)
    """Wire or contact pair to the amperes in it (a to b), those in a loop without resistance
    left out."""
    missing: frozenset[str] = frozenset()
    """What the documents lack: resistances counted as nothing."""
    resistances: frozenset[str] = frozenset()
    """Who gave the others."""
    unknown: tuple[Piece, ...] = ()
    """Pieces in a loop without resistance: they carry current, nothing says how much."""

    @property
    def solved(self) -> bool:
        """Whether it has numbers."""
        return bool(self.feeds) or bool(self.loads)


class Stiff:
    """Keeps pieces without resistance and sources free of loops (union-find with a forest)."""

    def __init__(self) -> None:
        self.root_of: dict[int, int] = {}
        self.links: list[tuple[int, int]] = []

    def root(self, node: int) -> int:
        """Return the representative of a node."""
        while self.root_of.setdefault(node, node) != node:
            node = self.root_of[node]
        return node

    def joins(self, a: int, b: int) -> bool:
        """Join two nodes; return False, joining nothing, where that would close a loop."""
        one, other = self.root(a), self.root(b)
        if one == other:
            return False
        self.root_of[one] = other
        self.links.append((a, b))
        return True


def solved(copper: Copper, network: Network, passed_w: dict[int, float]) -> Circuit:
    """Put a network into numbers.

    Args:
        copper: the resistances.
        network: what hangs together.
        passed_w: load (a converter's input) to the power it takes; one that is not in it cannot
            be known, and its circuit is not solved.
    """
    wiring = copper.wiring
    loads = [copper.loads[n] for n in network.loads]
    found = survey(wiring, network, loads)
    if found.faults:
        return Circuit(network, tuple(found.faults))
    unknown = [
        loads[k].name
        for k in found.fed
        if loads[k].passes >= 0 and network.loads[k] not in passed_w
    ]
    if unknown:
        text = f"what {', '.join(unknown)} passes on is not known"
        return Circuit(network, (Fault("not-judged", text),))
    return _Builder(copper, network, found, passed_w).build()


class _Builder:
    def __init__(
        self, copper: Copper, network: Network, found: Survey, passed_w: dict[int, float]
    ) -> None:
        self.copper = copper
        self.wiring: Wiring = copper.wiring
        self.network = network
        self.found = found
        self.passed_w = passed_w
        self.faults: list[Fault] = list(found.load_faults)
        self.stiff = Stiff()
        self.unknown: set[Piece] = set()
        """Pieces whose share of the current is not determined."""
        self.unknown_feeds: set[int] = set()
        self.source_at: dict[tuple[int, int], list[int]] = {}
        """Nodes of high and return to the feeds between them."""
        self.loose: list[Piece] = []
        """Pieces that close a loop without resistance, left out of the equations."""
        self.contradicted = False
        """Feeds of different volts are joined without resistance: nothing can be known."""

    def node(self, terminal: int) -> int:
        """Return the node of a terminal."""
        return self.copper.terminal_node(terminal)

    def build(self) -> Circuit:
        sources, feeds = self._sources()
        if sources is None:
            return Circuit(self.network, tuple(self.faults))
        pieces, missing, given = self._pieces()
        if self.contradicted:
            return Circuit(self.network, tuple(self.faults), missing=missing)
        branches = [Branch(p.a, p.b, p.ohm or 0.0) for p in pieces]
        ports = [self._port(k) for k in self.found.fed]
        answer = solve(branches, sources, ports, self._grounds())
        if not answer.converged:
            names = ", ".join(self.wiring.feeds[f].id for f in self.network.feeds)
            text = f"the circuit of {names} has no solution: its loads ask for more than it passes"
            fault = Fault("no-convergence", text, self._worst_way())
            return Circuit(self.network, (*self.faults, fault), missing=missing)
        found = self._told(answer, pieces, feeds)
        found.missing, found.resistances = missing, given
        return found

    def _told(self, answer: Solution, pieces: list[Piece], feeds: list[int]) -> Circuit:
        numbers = [self.network.loads[k] for k in self.found.fed]
        readings = zip(numbers, answer.port_v, answer.port_a, strict=True)
        rows = zip(pieces, answer.branch_a, strict=True)
        shares = zip(feeds, answer.source_a, strict=True)
        return Circuit(
            self.network,
            tuple(self.faults),
            {n: Reading(v, a) for n, v, a in readings},
            {f: a for f, a in shares if f not in self.unknown_feeds},
            {p: a for p, a in rows if p not in self.unknown},
            unknown=(*self.loose, *(p for p in pieces if p in self.unknown)),
        )

    def _sources(self) -> tuple[list[Source] | None, list[int]]:
        """Return the sources; None where two of different volts are joined without resistance."""
        sources: list[Source] = []
        feeds: list[int] = []
        for n in self.network.feeds:
            feed = self.wiring.feeds[n]
            hi, ret = self.node(feed.hi), self.node(feed.ret)
            self.source_at.setdefault((hi, ret), []).append(n)
            if self.stiff.joins(hi, ret):
                sources.append(Source(hi, ret, feed.volts))
                feeds.append(n)
                continue
            same = [f for f in feeds if self.node(self.wiring.feeds[f].hi) == hi]
            twin = same[0] if same else feeds[0]
            if not same or self.wiring.feeds[twin].volts != feed.volts:
                apart = feed.volts - self.wiring.feeds[twin].volts
                self.faults.append(self._loop(f"feed {feed.id}", hi, ret, apart))
                return None, []
            self.faults.append(self._loop(f"feed {feed.id}", hi, ret))
            self.unknown_feeds |= {twin, n}
        return sources, feeds

    def _pieces(self) -> tuple[list[Piece], frozenset[str], frozenset[str]]:
        """Return the wires and contacts that carry current, what is missing of them, and who
        gave their resistances.
        """
        pieces: list[Piece] = []
        missing: set[str] = set()
        given: set[str] = set()
        for number, net in enumerate(self.network.nets):
            if (GROUND if net.grounded else number) not in self.found.reference:
                continue
            for piece in net.pieces:
                missing.add(piece.missing)
                given.add(piece.source)
                if piece.a == piece.b:
                    continue
                if piece.ohm or self.stiff.joins(piece.a, piece.b):
                    pieces.append(piece)
                else:
                    self._close(piece, pieces)
        return pieces, frozenset(missing - {""}), frozenset(given - {""})

    def _close(self, piece: Piece, pieces: list[Piece]) -> None:
        """Note a loop without resistance: nothing says how its pieces share the current.

        Feeds in the loop share it too, their volts adding up to nothing round it; where they do
        not, no current would satisfy them.
        """
        around = list(pairwise(path(self.stiff.links, piece.a, piece.b)))
        volts = 0.0
        for a, b in around:
            for ends, sign in (((a, b), 1), ((b, a), -1)):
                feeds = self.source_at.get(ends, ())
                self.unknown_feeds.update(feeds)
                volts += sign * self.wiring.feeds[feeds[0]].volts if feeds else 0.0
        self.contradicted |= abs(volts) > SAME_VOLTS
        self.faults.append(self._loop(piece.said, piece.a, piece.b, volts))
        steps = {frozenset(step) for step in around}
        self.unknown |= {p for p in pieces if not p.ohm and frozenset((p.a, p.b)) in steps}
        self.loose.append(piece)

    def _loop(self, name: str, a: int, b: int, volts: float = 0.0) -> Fault:
        around = path(self.stiff.links, a, b)
        islands = tuple(n for n in around if n < len(self.wiring.sites))
        why = "how the current divides is not known"
        if abs(volts) > SAME_VOLTS:
            why = f"feeds {abs(volts):g} V apart meet in it, which has no solution"
        return Fault(
            "zero-resistance-loop", f"{name} closes a loop without resistance: {why}", islands
        )

    def _port(self, k: int) -> Port:
        number = self.network.loads[k]
        load = self.copper.loads[number]
        power = load.power_w or 0.0
        if load.passes >= 0:
            power = self.passed_w[number]
        return Port(self.node(load.hi), self.node(load.ret), power, load.ohm or 0, load.amps or 0)

    def _grounds(self) -> list[int]:
        """Return one node a reference group: structure where it is in it, else a feed's return."""
        grounds: dict[int, int] = {}
        reference = self.found.reference
        if GROUND in reference:
            grounds[reference[GROUND]] = STRUCTURE
        for n in self.network.feeds:
            ret = self.wiring.feeds[n].ret
            number = self.network.net_of.get(self.copper.at(ret))
            if number is not None and not self.network.nets[number].grounded:
                grounds.setdefault(reference[number], self.node(ret))
        return list(grounds.values())

    def _worst_way(self) -> tuple[int, ...]:
        """Return the way from a feed to its largest constant-power load, for naming."""
        fed = [self.copper.loads[self.network.loads[k]] for k in self.found.fed]
        if not fed:
            return ()
        load = max(fed, key=lambda one: one.power_w or 0.0)
        links = [link for net in self.network.nets for link in net.links]
        for n in self.network.feeds:
            ends = (self.wiring.feeds[n].hi, load.hi)
            way = path(links, *(self.wiring.terminals[t].island for t in ends))
            if way:
                return way
        return ()
