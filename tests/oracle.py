"""An independent oracle: what a configuration makes, worked out from the contract alone.

Nothing here is taken from the engine's algorithms: the graph is built anew from the baseline
document with networkx, contact by contact, and every question is asked of it from scratch. Of
the engine only the names, states, links and claims of a configuration are read.

Readings where the contract leaves a case open, all of them the ones that warn:

* A feed reaches the load when high and return each make their line; it feeds when it is up.
* A converter's ``accepts`` says which feeds its input belongs with; with none, with any feed's.
* A terminating terminal belongs with each string that names it, not those strings together.
* A unit somebody is at work on may be there: its terminals may be foreign, its feeds may tie.
* A spare is available only while its switch is off and can be commanded.
* A net that holds both ends of some other string's load joins that string's high and return.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

import networkx as nx

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Feed, Half, Switch, Unit
from cablewalk.documents.harness import Harness
from cablewalk.documents.service import Service, Strand
from cablewalk.replay.configuration import Configuration

STRUCTURE = "structure"
Islands = frozenset[str]


@dataclass(frozen=True)
class Line:
    """A line's two ends (terminals, or structure) and what it must pass."""

    a: str
    b: str
    through: tuple[Islands, ...] = ()
    parallel: tuple[str, ...] = ()
    need: int = 0
    banned: Islands = frozenset()


class Hardware:
    """What never changes: islands, terminals and who belongs with whom."""

    def __init__(self, baseline: Baseline) -> None:
        self.baseline = baseline
        self.contacts: dict[str, tuple[str, ...]] = {}
        """Half or cap to its contact names, shell last."""
        self.parking: set[str] = set()
        self.units: dict[str, Unit] = {}
        self.switches: dict[str, Switch] = {}
        self.feeds: dict[str, tuple[str, Feed]] = {}
        """Feed to its unit and document."""
        self.terminals: dict[str, str] = {}
        """Terminal to its unit or cap."""
        self._permanent = nx.Graph()
        self._permanent.add_node(STRUCTURE)
        self._hardware()
        self.island: dict[str, str] = {}
        for group in nx.connected_components(self._permanent):
            name = STRUCTURE if STRUCTURE in group else min(group)
            self.island.update(dict.fromkeys(group, name))
        self.strings = {
            f"{name}.{key}" if key != "only" else name: (name, strand)
            for name, service in baseline.services.items()
            for key, strand in service.strings.items()
        }
        self._families()

    # -- permanent joins --------------------------------------------------------------

    def _join(self, *nodes: str) -> None:
        nx.add_path(self._permanent, nodes)

    def _contacts_of(self, item: str, interface: str) -> None:
        names = (*self.baseline.interfaces[interface].contacts, "shell")
        self.contacts[item] = names
        self._permanent.add_nodes_from(f"{item}.{name}" for name in names)

    def _hardware(self) -> None:
        fixed: dict[str, tuple[Half, bool]] = {}
        for place in self.baseline.places.values():
            self.switches.update(place.switches)
            fixed.update((key, (half, True)) for key, half in place.halves.items())
            for panel in place.panels.values():
                fixed.update((key, (half, panel.bonded)) for key, half in panel.halves.items())
            for name, unit in place.units.items():
                self.units[name] = unit
                fixed.update((key, (half, unit.bonded)) for key, half in unit.halves.items())
                for terminal in unit.terminals:
                    self.terminals[f"{name}.{terminal}"] = name
                    self._permanent.add_node(f"{name}.{terminal}")
                for key, feed in unit.feeds.items():
                    self.feeds[name if key == "self" else key] = (name, feed)
                    if feed.grounded:
                        self._join(f"{name}.{feed.ret}", STRUCTURE)
        for name, (half, _bonded) in fixed.items():
            self._contacts_of(name, half.interface)
        for name, (half, bonded) in fixed.items():
            self._fixed(name, half, bonded)
        for harness in self.baseline.harnesses.values():
            self._harness(harness)
        for name, cap in self.baseline.caps.items():
            if not cap.electrical:
                continue
            interface = cap.fits[0] if cap.fits else self._interface_of(cap.on or "")
            self._contacts_of(name, interface)
            for terminal in cap.terminals:
                self.terminals[f"{name}.{terminal}"] = name
            for group in cap.joins:
                self._join(*(f"{name}.{contact}" for contact in group))
            for contact, terminal in cap.wired.items():
                self._join(f"{name}.{contact}", f"{name}.{terminal}")

    def _interface_of(self, half: str) -> str:
        for harness in self.baseline.harnesses.values():
            if half in harness.legs:
                return harness.legs[half].interface or ""
        for place in self.baseline.places.values():
            owners = [place.halves]
            owners += [panel.halves for panel in place.panels.values()]
            owners += [unit.halves for unit in place.units.values()]
            for halves in owners:
                if half in halves:
                    return halves[half].interface
        raise KeyError(half)

    def _fixed(self, name: str, half: Half, bonded: bool) -> None:
        if half.parking:
            self.parking.add(name)
            return
        if bonded:
            self._join(f"{name}.shell", STRUCTURE)
        wired = half.wired
        if not isinstance(wired, dict):
            wired = dict(zip(self.contacts[name], wired, strict=False))
        for contact, ref in wired.items():
            if ref != "-":
                self._join(f"{name}.{contact}", ref)
        if half.through:
            for contact in self.contacts[name][:-1]:
                if contact in self.contacts[half.through]:
                    self._join(f"{name}.{contact}", f"{half.through}.{contact}")

    def _harness(self, harness: Harness) -> None:
        halves = [name for name, leg in harness.legs.items() if leg.interface is not None]
        for name in halves:
            self._contacts_of(name, harness.legs[name].interface or "")
        if harness.runs == "straight":
            for contact in self.contacts[halves[0]]:
                self._join(*(f"{half}.{contact}" for half in halves))
            return
        for run in harness.runs:
            columns = [self._spread(text) for text in run]
            for nodes in zip(*columns, strict=True):
                self._join(*nodes)

    def _spread(self, text: str) -> list[str]:
        item, _, contact = text.partition(".")
        if contact == "*":
            return [f"{item}.{name}" for name in self.contacts[item][:-1]]
        low, dash, high = contact.partition("-")
        if dash and low.isdigit() and high.isdigit():
            return [f"{item}.{n}" for n in range(int(low), int(high) + 1)]
        return [text]

    # -- lines ------------------------------------------------------------------------

    def _named(self, text: str) -> Islands:
        """Return the islands a ``through`` or ``parallel`` entry stands for."""
        if "." in text:
            return frozenset({self.island[text]})
        return frozenset(self.island[f"{text}.{c}"] for c in self.contacts[text]) - {STRUCTURE}

    def _raw_lines(self, strand: Strand) -> Iterator[tuple[str, Line]]:
        """Yield (role, line) of a string; the role is a feed and ``hi`` or ``ret``, or empty."""
        ends = strand.load_terminals
        through = tuple(self._named(text) for text in strand.through)
        if ends is not None:
            for feed in strand.feeds:
                unit, document = self.feeds[feed]
                for role, end, far in (
                    ("hi", ends[0], document.hi),
                    ("ret", ends[1], document.ret),
                ):
                    entries = () if strand.parallel is None else getattr(strand.parallel, role)
                    parallel = tuple(self.island[text] for text in entries)
                    need = strand.parallel.need if strand.parallel and parallel else 0
                    yield f"{feed} {role}", Line(end, f"{unit}.{far}", through, parallel, need)
        for line in strand.lines:
            own = tuple(self._named(text) for text in line.through) or through
            parallel = tuple(self.island[text] for text in line.parallel)
            yield "", Line(line.a, line.b, own, parallel, line.need or len(parallel))

    def lines(self, string: str) -> Iterator[tuple[str, Line]]:
        """Yield (role, line) of a string, each with the islands of siblings it may not use."""
        service, strand = self.strings[string]
        for role, line in self._raw_lines(strand):
            banned: set[str] = set()
            for other, (its_service, sibling) in self.strings.items():
                if other == string or its_service != service:
                    continue
                for _role, its in self._raw_lines(sibling):
                    if {its.a, its.b} == {line.a, line.b}:
                        banned.update(*its.through, its.parallel)
            banned -= {self.island[line.a], self.island[line.b], STRUCTURE}
            yield (
                role,
                Line(line.a, line.b, line.through, line.parallel, line.need, frozenset(banned)),
            )

    # -- who belongs with whom --------------------------------------------------------

    def _families(self) -> None:
        belongs = nx.Graph()
        belongs.add_nodes_from(self.terminals)
        self.any_input: dict[str, str] = {}
        """Input terminal of a converter that takes any feed, to the side it belongs on."""
        for _service, strand in self.strings.values():
            for _role, line in self._raw_lines(strand):
                belongs.add_edge(line.a, line.b)
        for unit, feed in self.feeds.values():
            for other_id in feed.parallel_with:
                other_unit, other = self.feeds[other_id]
                belongs.add_edge(f"{unit}.{feed.hi}", f"{other_unit}.{other.hi}")
                belongs.add_edge(f"{unit}.{feed.ret}", f"{other_unit}.{other.ret}")
            if feed.grounded:
                belongs.add_edge(f"{unit}.{feed.ret}", STRUCTURE)
            if feed.input is None:
                continue
            for accepted in feed.accepts:
                other_unit, other = self.feeds[accepted]
                belongs.add_edge(f"{unit}.{feed.input[0]}", f"{other_unit}.{other.hi}")
                belongs.add_edge(f"{unit}.{feed.input[1]}", f"{other_unit}.{other.ret}")
            if not feed.accepts:
                self.any_input[f"{unit}.{feed.input[0]}"] = "hi"
                self.any_input[f"{unit}.{feed.input[1]}"] = "ret"
        self.family: dict[str, int] = {}
        for number, group in enumerate(nx.connected_components(belongs)):
            self.family.update(dict.fromkeys(group, number))
        self.terminates: dict[str, set[int]] = {}
        for _service, strand in self.strings.values():
            for terminal in strand.terminated_by:
                own = {self.family[line.a] for _role, line in self._raw_lines(strand)}
                self.terminates.setdefault(terminal, set()).update(own)

    def paralleled(self, one: str, two: str) -> bool:
        """Whether two feeds are meant to be joined."""
        return two in self.feeds[one][1].parallel_with or one in self.feeds[two][1].parallel_with


class Moment:
    """One configuration, judged from scratch."""

    def __init__(self, hardware: Hardware, config: Configuration) -> None:
        self.hw = hardware
        wiring = config.wiring
        self._index = {(item.kind, item.id): n for n, item in enumerate(wiring.items)}
        self._config = config
        self.joins = nx.Graph()
        self.joins.add_nodes_from(set(hardware.island.values()))
        self._add_joins()
        self.sure = nx.Graph()
        self.sure.add_nodes_from(self.joins)
        self.sure.add_edges_from((a, b) for a, b, s in self.joins.edges(data="sure") if s)
        self.feeds_up = self._feeds_up(None)

    # -- reading the configuration ----------------------------------------------------

    def _state(self, kind: str, name: str) -> str:
        return self._config.state_name(self._index[kind, name])

    def _busy(self, kind: str, name: str) -> bool:
        claim = self._config.claim[self._index[kind, name]]
        return claim != -1 and claim % 2 == 1

    def _mate(self, kind: str, name: str) -> tuple[str, str] | None:
        link = self._config.link[self._index[kind, name]]
        item = self._config.wiring.items[link]
        return None if link == -1 else (item.kind, item.id)

    def _add_joins(self) -> None:
        for name in self.hw.contacts:
            kind = "half" if ("half", name) in self._index else "cap"
            mate = self._mate(kind, name)
            if mate is None or mate[0] not in ("half", "cap") or mate[1] not in self.hw.contacts:
                continue
            if self._mate(*mate) != (kind, name):
                continue
            if {name, mate[1]} & self.hw.parking:
                continue
            sure = not self._busy(kind, name) and not self._busy(*mate)
            if kind == mate[0] == "half":
                sure = sure and self._state("half", name) == "mated"
                sure = sure and self._state("half", mate[1]) == "mated"
            for contact in self.hw.contacts[name]:
                a = self.hw.island[f"{name}.{contact}"]
                b = self.hw.island[f"{mate[1]}.{contact}"]
                if a != b:
                    known = self.joins.get_edge_data(a, b, {"sure": False})["sure"]
                    self.joins.add_edge(a, b, sure=sure or known)

    def _there(self, terminal: str, surely: bool) -> bool:
        """Whether what a terminal belongs to is there; not surely: whether it may be."""
        if terminal == STRUCTURE:
            return True
        owner = self.hw.terminals[terminal]
        if owner in self.hw.units:
            return self._unit_there(owner, surely)
        fitted = self._state("cap", owner) == "fitted"
        busy = self._busy("cap", owner)
        return fitted and not busy if surely else fitted or busy

    def _unit_there(self, unit: str, surely: bool) -> bool:
        installed = self._state("unit", unit) == "installed"
        busy = self._busy("unit", unit)
        return installed and not busy if surely else installed or busy

    def _switch_on(self, switch: str) -> bool:
        return self._state("switch", switch) == "on" and not self._busy("switch", switch)

    # -- nets and lines ---------------------------------------------------------------

    def net(self, terminal: str, graph: nx.Graph | None = None) -> set[str]:
        """Return the islands joined to a terminal: structure is reached, never passed."""
        graph = self.joins if graph is None else graph
        start = self.hw.island[terminal]
        without = graph.subgraph(n for n in graph if n != STRUCTURE or n == start)
        reached = set(nx.node_connected_component(without, start))
        if any(STRUCTURE in graph[n] for n in reached):
            reached.add(STRUCTURE)
        return reached

    def _path(self, line: Line, avoid: Iterable[str] = (), extra: str | None = None) -> bool:
        """Whether a simple path of sure joins makes the line, visiting what it names in turn."""
        a, b = self.hw.island[line.a], self.hw.island[line.b]
        ends = {a, b}
        banned = (set(line.banned) | set(avoid)) - ends
        keep = [n for n in self.sure if n not in banned and (n != STRUCTURE or n in ends)]
        graph = self.sure.subgraph(keep)
        stops = line.through if extra is None else (*line.through, frozenset({extra}))
        if a == b:
            return all(a in stop for stop in stops)
        if not nx.has_path(graph, a, b):
            return False
        if not stops:
            return True
        return any(_visits(path, stops) for path in nx.all_simple_paths(graph, a, b))

    def made(self, line: Line) -> bool:
        """Whether a line is made, what it ends on left aside."""
        if not line.parallel:
            return self._path(line)
        counted = sum(
            self._path(line, set(line.parallel) - {island}, island) for island in line.parallel
        )
        return counted >= line.need

    # -- feeds ------------------------------------------------------------------------

    def _feeds_up(self, assumed_on: str | None) -> set[str]:
        """Return the feeds that are up: the least solution."""
        up: set[str] = set()
        while True:
            more = {
                name
                for name, (unit, feed) in self.hw.feeds.items()
                if name not in up
                and self._unit_there(unit, True)
                and all(s == assumed_on or self._switch_on(s) for s in feed.switches)
                and (feed.input is None or self._input_fed(unit, feed, up))
            }
            if not more:
                return up
            up |= more

    def _input_fed(self, unit: str, feed: Feed, up: set[str]) -> bool:
        assert feed.input is not None
        hi, ret = (f"{unit}.{name}" for name in feed.input)
        if self.hw.island[ret] in self.net(hi):
            return False
        high, back = self.net(hi, self.sure), self.net(ret, self.sure)
        for source in feed.accepts or self.hw.feeds:
            its_unit, document = self.hw.feeds[source]
            if (
                source in up
                and self.hw.island[f"{its_unit}.{document.hi}"] in high
                and self.hw.island[f"{its_unit}.{document.ret}"] in back
            ):
                return True
        return False

    # -- strings ----------------------------------------------------------------------

    def standing(self, string: str) -> str:
        """Return how a string stands: up, available or down."""
        _service, strand = self.hw.strings[string]
        lines = list(self.hw.lines(string))
        whole = (
            all(self.made(line) for role, line in lines if not role)
            and self._ends_there(strand)
            and self._isolated(strand, lines)
            and self._terminated(strand, lines)
        )
        if not whole:
            return "down"
        reaching = [
            feed
            for feed in strand.feeds
            if all(self.made(line) for role, line in lines if role.startswith(f"{feed} "))
        ]
        selected = strand.selected_by is None or self._switch_on(strand.selected_by)
        up = self.feeds_up if selected else self._feeds_up(strand.selected_by)
        if strand.load and not any(feed in up for feed in reaching):
            return "down"
        if selected:
            return "up"
        return "available" if self._selectable(strand.selected_by) else "down"

    def _selectable(self, switch: str | None) -> bool:
        """Whether a switch could be switched on as it is: off, and not out of command."""
        assert switch is not None
        if self._state("switch", switch) != "off":
            return False
        through = self.hw.switches[switch].commanded_through
        return through is None or not self._is_down(through)

    def _is_down(self, name: str) -> bool:
        """Whether a service is down, which never hangs on what is merely available."""
        service = self.hw.baseline.services[name]
        strings = [f"{name}.{key}" if key != "only" else name for key in service.strings]
        up = 0
        for string in strings:
            switch = self.hw.strings[string][1].selected_by
            # One that is not selected is not up: asking whether it is available would go round.
            if switch is None or self._switch_on(switch):
                up += self.standing(string) == "up"
        need = len(strings) if service.need is None else service.need
        return up < need or any(self._is_down(other) for other in service.needs)

    def _ends_there(self, strand: Strand) -> bool:
        ends = [end for line in strand.lines for end in (line.a, line.b)]
        return all(self._there(end, True) for end in (*ends, *(strand.load_terminals or ())))

    def _terminated(self, strand: Strand, lines: list[tuple[str, Line]]) -> bool:
        ends = {line.a for _role, line in lines} | {line.b for role, line in lines if not role}
        reached = set().union(*(self.net(end, self.sure) for end in ends - {STRUCTURE}))
        return all(
            self._there(terminal, True) and self.hw.island[terminal] in reached
            for terminal in strand.terminated_by
        )

    def _isolated(self, strand: Strand, lines: list[tuple[str, Line]]) -> bool:
        """Whether no net of a string's lines holds what does not belong there."""
        done: set[tuple[str, str]] = set()
        for role, line in lines:
            side = role.rpartition(" ")[2]
            for end in (line.a,) if role else (line.a, line.b):
                if end != STRUCTURE and (end, side) not in done:
                    done.add((end, side))
                    if not self._net_clean(strand, end, side):
                        return False
        return True

    def _net_clean(self, strand: Strand, end: str, side: str) -> bool:
        hw = self.hw
        net = self.net(end)
        family = hw.family[end]
        held = {
            t
            for t in hw.terminals
            if hw.island[t] in net and hw.island[t] != STRUCTURE and self._there(t, False)
        }
        if STRUCTURE in net and family != hw.family.get(STRUCTURE, -1):
            return False
        for terminal in held:
            if hw.family[terminal] == family or family in hw.terminates.get(terminal, ()):
                continue
            if not side or hw.any_input.get(terminal) != side:
                return False
        for _service, other in hw.strings.values():
            ends = other.load_terminals
            if (
                ends
                and {hw.island[e] for e in ends} <= net
                and all(self._there(e, False) for e in ends)
            ):
                return False
        highs = [
            (feed, f"{unit}.{document.hi}")
            for feed, (unit, document) in hw.feeds.items()
            if f"{unit}.{document.hi}" in held
        ]
        if any(
            one[1] != two[1] and not hw.paralleled(one[0], two[0])
            for one, two in combinations(highs, 2)
        ):
            return False
        return side != "hi" or all(feed in strand.feeds for feed, _terminal in highs)

    # -- services ---------------------------------------------------------------------

    def services(self) -> dict[str, str]:
        """Return every service's state: up, reduced or down."""
        found: dict[str, str] = {}

        def state(name: str) -> str:
            if name not in found:
                found[name] = self._service(name, self.hw.baseline.services[name], state)
            return found[name]

        for name in self.hw.baseline.services:
            state(name)
        return found

    def _service(self, name: str, service: Service, state: object) -> str:
        assert callable(state)
        standings = [
            self.standing(f"{name}.{key}" if key != "only" else name) for key in service.strings
        ]
        need = len(standings) if service.need is None else service.need
        needed = [state(other) for other in service.needs]
        if standings.count("up") < need or "down" in needed:
            return "down"
        return "reduced" if "down" in standings or "reduced" in needed else "up"

    # -- liveness ---------------------------------------------------------------------

    def live(self) -> dict[str, set[str]]:
        """Return for each feed the islands it may make live, structure left out."""
        hw = self.hw
        on = {
            name
            for name, (unit, feed) in hw.feeds.items()
            if self._unit_there(unit, False)
            and not any(
                self._state("switch", s) in ("off", "blocked") and not self._busy("switch", s)
                for s in feed.switches
            )
        }
        converters = {unit for unit, feed in hw.feeds.values() if feed.input is not None}
        while True:
            support = set[str]()
            for name in on:
                skip = converters if hw.feeds[name][1].input is not None else set()
                support |= self._region(name, skip)
            dead = set()
            for name in on:
                unit, feed = hw.feeds[name]
                if feed.input and not {hw.island[f"{unit}.{t}"] for t in feed.input} & support:
                    dead.add(name)
            if not dead:
                break
            on -= dead
        return {name: self._region(name, set()) if name in on else set() for name in hw.feeds}

    def _region(self, feed: str, skip: set[str]) -> set[str]:
        """Return what a feed may make live, passing through every unit but those skipped."""
        hw = self.hw
        unit, document = hw.feeds[feed]
        hi, ret = f"{unit}.{document.hi}", f"{unit}.{document.ret}"
        reference: set[str] = set()
        if hw.island[hi] not in self.net(ret):
            reference = self.net(ret, self.sure)
        walk = nx.Graph(self.joins.edges)
        walk.add_node(hw.island[hi])
        for group in self._passed(skip):
            walk.add_edges_from(combinations((hw.island[t] for t in group), 2))
        walk.remove_nodes_from((reference | {STRUCTURE}) - {hw.island[hi]})
        return set(nx.node_connected_component(walk, hw.island[hi]))

    def _passed(self, skip: set[str]) -> Iterator[tuple[str, ...]]:
        """Yield the terminals that pass voltage to one another, a group at a time."""
        for name, unit in self.hw.units.items():
            if name not in skip and self._unit_there(name, False):
                for group in unit.isolated or (unit.terminals,):
                    yield tuple(f"{name}.{t}" for t in group)
        for name, cap in self.hw.baseline.caps.items():
            terminals = tuple(f"{name}.{t}" for t in cap.terminals)
            if terminals and name in self.hw.contacts and self._there(terminals[0], False):
                yield terminals


def _visits(path: list[str], stops: tuple[Islands, ...]) -> bool:
    """Whether a path visits an island of each stop, in turn (one island may serve several)."""
    at = 0
    for stop in stops:
        while at < len(path) and path[at] not in stop:
            at += 1
        if at == len(path):
            return False
    return True
