"""What is wrong with a network before any number: shorts, cross-ties, floating loads.

Structure is one node without resistance. Nets joined to it count as one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.power.loads import Load
from cablewalk.power.network import Fault, Network, path
from cablewalk.replay.wiring import STRUCTURE, Wiring

GROUND = -1
"""The position that stands for structure among the nets."""


@dataclass(slots=True)
class Survey:
    """A network sorted out: which loads have a voltage, and what is wrong."""

    faults: list[Fault] = field(default_factory=list)
    """Of the network: where there is any, nothing in it is solved."""
    load_faults: list[Fault] = field(default_factory=list)
    """Of single loads, which have no number then."""
    fed: list[int] = field(default_factory=list)
    """Positions of loads whose two ends share a reference."""
    reference: dict[int, int] = field(default_factory=dict)
    """Net (or GROUND) to its reference group, for those that a feed ties."""


class _Survey:
    def __init__(self, wiring: Wiring, network: Network, loads: list[Load]) -> None:
        self.wiring = wiring
        self.network = network
        self.loads = loads
        self.found = Survey()
        self.group: dict[int, int] = {}

    def place(self, terminal: int) -> int:
        """Return the net of a terminal; GROUND for structure and for nets joined to it."""
        island = self.wiring.terminals[terminal].island
        if island == STRUCTURE:
            return GROUND
        net = self.network.net_of[island]
        return GROUND if self.network.nets[net].grounded else net

    def way(self, a: int, b: int) -> tuple[int, ...]:
        """Return the islands from one terminal to another, by joins, over structure if it must."""
        ends = [self.wiring.terminals[t].island for t in (a, b)]
        links = [link for net in self.network.nets for link in net.links]
        return path(links, *ends)

    def fault(self, rule: str, text: str, way: tuple[int, ...]) -> None:
        self.found.faults.append(Fault(rule, text, way))

    def feeds(self) -> None:
        """Find shorts and unwanted ties of feeds, and tie the nets that feeds refer to."""
        feeds = self.wiring.feeds
        at: dict[int, list[tuple[int, str]]] = {}
        for n in self.network.feeds:
            hi, ret = self.place(feeds[n].hi), self.place(feeds[n].ret)
            if hi == ret:
                self.fault(
                    "short-circuit",
                    f"the high of feed {feeds[n].id} is joined to its own return",
                    self.way(feeds[n].hi, feeds[n].ret),
                )
            at.setdefault(hi, []).append((n, "hi"))
            at.setdefault(ret, []).append((n, "ret"))
            self.tie(hi, ret)
        for rows in at.values():
            self._ties(rows)

    def _ties(self, rows: list[tuple[int, str]]) -> None:
        feeds = self.wiring.feeds
        highs = [n for n, end in rows if end == "hi"]
        for k, one in enumerate(highs):
            for other in highs[k + 1 :]:
                if other in feeds[one].parallel_with or feeds[one].hi == feeds[other].hi:
                    continue
                self.fault(
                    "feeds-tied",
                    f"the highs of feeds {feeds[one].id} and {feeds[other].id} are joined",
                    self.way(feeds[one].hi, feeds[other].hi),
                )
        for one in highs:
            for other, end in rows:
                if end == "ret" and other != one:
                    self.fault(
                        "feeds-in-series",
                        f"the high of feed {feeds[one].id} is joined to the return of "
                        f"{feeds[other].id}",
                        self.way(feeds[one].hi, feeds[other].ret),
                    )

    def root(self, net: int) -> int:
        while self.group.setdefault(net, net) != net:
            net = self.group[net]
        return net

    def tie(self, a: int, b: int) -> None:
        self.group[self.root(a)] = self.root(b)

    def judge_loads(self) -> None:
        """Tell which loads have a voltage, and which have none and should not be passed over."""
        tied = {net: self.root(net) for net in list(self.group)}
        self.found.reference = tied
        loose: dict[int, set[int]] = {}
        """Cluster of nets without a feed to the nets with one that loads tie it to."""
        clusters: dict[int, int] = {}

        def cluster(net: int) -> int:
            while clusters.setdefault(net, net) != net:
                net = clusters[net]
            return net

        ends = [(self.place(load.hi), self.place(load.ret)) for load in self.loads]
        for hi, ret in ends:
            if hi not in tied and ret not in tied:
                clusters[cluster(hi)] = cluster(ret)
        for hi, ret in ends:
            for net, other in ((hi, ret), (ret, hi)):
                if net not in tied and other in tied:
                    loose.setdefault(cluster(net), set()).add(other)
        for n, (hi, ret) in enumerate(ends):
            if hi in tied and ret in tied:
                self._both(n, hi, ret, tied)
            elif hi in tied or ret in tied:
                bound = loose[cluster(ret if hi in tied else hi)]
                self._one(n, hi if hi in tied else ret, bound)

    def _both(self, n: int, hi: int, ret: int, tied: dict[int, int]) -> None:
        load = self.loads[n]
        if tied[hi] != tied[ret]:
            text = f"{load.name} lies between feeds that have nothing in common"
            self._load(n, "floating-circuit", text)
        elif hi == ret:
            text = f"both ends of {load.name} are on one net"
            self._load(n, "load-shorted", text, self.way(load.hi, load.ret))
        else:
            wrong = self.highs(ret)
            if wrong:
                text = f"the high of feed {self.wiring.feeds[wrong[0]].id} is on its return end"
                self._load(n, "reversed-load", f"{load.name} is fed the wrong way round: {text}")
            elif self.highs(hi):
                self.found.fed.append(n)
            # between two returns: no feed drives it

    def highs(self, net: int) -> list[int]:
        """Return the feeds up whose high is on a net, by any part of it."""
        feeds = self.wiring.feeds
        return [n for n in self.network.feeds if self.place(feeds[n].hi) == net]

    def _one(self, n: int, bound: int, others: set[int]) -> None:
        """Judge a load with one end on a net that no feed refers to."""
        load = self.loads[n]
        if len(others) > 1 and any(self.highs(net) for net in others):
            self._load(
                n,
                "floating-circuit",
                f"{load.name} is in series with other loads through a net that no feed refers to",
            )
        elif self.highs(bound):
            end = "return" if self.place(load.hi) == bound else "high"
            self._load(
                n,
                "floating-circuit",
                f"{load.name} floats at its feed's voltage: its {end} leads nowhere",
            )

    def _load(self, n: int, rule: str, text: str, way: tuple[int, ...] = ()) -> None:
        way = way or self._reach(self.loads[n])
        self.found.load_faults.append(Fault(rule, text, way, self.loads[n].name))

    def _reach(self, load: Load) -> tuple[int, ...]:
        """Return the way from a feed's end to the load's, for naming."""
        feeds = self.wiring.feeds
        for end in (load.hi, load.ret):
            for n in self.network.feeds:
                for terminal in (feeds[n].hi, feeds[n].ret):
                    if self.place(terminal) == self.place(end):
                        return self.way(terminal, end)
        return ()


def survey(wiring: Wiring, network: Network, loads: list[Load]) -> Survey:
    """Return what a network's topology says of its feeds and loads (``loads``: its own)."""
    judge = _Survey(wiring, network, loads)
    judge.feeds()
    if not judge.found.faults:
        judge.judge_loads()
    return judge.found


def described(wiring: Wiring, fault: Fault) -> str:
    """Return the printed names along a fault's path."""
    return " / ".join(wiring.island_name(island) for island in fault.path)
