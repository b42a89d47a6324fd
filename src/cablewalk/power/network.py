"""Networks: what one or more feeds that are up reach, and what is topologically wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from cablewalk.continuity.graph import is_sure
from cablewalk.power.copper import Copper
from cablewalk.power.loads import Load
from cablewalk.power.pieces import Piece
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring

INSTALLED = "installed"


@dataclass(slots=True)
class Net:
    """Islands joined to one another, with the pieces that join them. Structure is never within;
    its tails are.
    """

    islands: set[int]
    pieces: list[Piece]
    links: list[tuple[int, int]]
    """Joined island pairs, structure included: for naming paths."""
    grounded: bool = False
    """It is joined to structure."""
    doubtful: bool = False
    """It has joins that are not beyond doubt."""
    feeds: list[tuple[int, str]] = field(default_factory=list)
    """(feed, ``hi`` or ``ret``) of the feeds up that end on it."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a network, or a load, has no number."""

    rule: str
    text: str
    path: tuple[int, ...] = ()
    load: str = ""


@dataclass(slots=True)
class Network:
    """All that hangs together with some feeds that are up: by joins, by loads, by sources."""

    nets: list[Net]
    feeds: list[int]
    loads: list[int]
    net_of: dict[int, int]
    """Island to the position of its net; structure is in none."""

    @property
    def doubtful(self) -> bool:
        """Whether any of its joins is not beyond doubt."""
        return any(net.doubtful for net in self.nets)


class Surveyor:
    """Finds networks in one configuration. ``sure``: doubtful joins are not made."""

    def __init__(self, config: Configuration, copper: Copper, sure: bool = True) -> None:
        self.config = config
        self.copper = copper
        self.sure = sure
        self.wiring: Wiring = config.wiring
        self.feeds_at: dict[int, list[tuple[int, str]]] = {}
        """Island to the feeds that have an end on it."""
        for n, feed in enumerate(self.wiring.feeds):
            for terminal, end in ((feed.hi, "hi"), (feed.ret, "ret")):
                island = copper.at(terminal)
                if island != STRUCTURE:
                    self.feeds_at.setdefault(island, []).append((n, end))

    def net(self, start: int, up: bytearray) -> Net:
        """Return the net of an island or tail (not structure)."""
        net = Net({start}, [], [])
        stack = [start]
        while stack:
            island = stack.pop()
            net.grounded |= island < STRUCTURE
            net.pieces.extend(self.copper.wires(island))
            net.feeds.extend(row for row in self.feeds_at.get(island, ()) if up[row[0]])
            for other, item, position in self._joins(island, net):
                mate = self.config.link[item]
                if other == STRUCTURE:
                    net.grounded = True
                elif other not in net.islands:
                    net.islands.add(other)
                    stack.append(other)
                if other == STRUCTURE or item < mate:  # the others are met from both sides
                    net.links.append((max(island, STRUCTURE), max(other, STRUCTURE)))
                    net.pieces.append(self.copper.contact(item, mate, position))
        return net

    def _joins(self, island: int, net: Net) -> Iterator[tuple[int, int, int]]:
        """Yield (island joined, half or cap, contact position)."""
        config, wiring = self.config, self.wiring
        joints, link, stubs = wiring.joints, config.link, wiring.stubs
        for item, position in self.copper.sites(island):
            mate = link[item]
            if mate == NONE or not joints[mate] or link[mate] != item:
                continue
            other = self.copper.met(mate, position)
            if other in stubs:
                continue
            if not is_sure(config, item, mate):
                net.doubtful = True
                if self.sure:
                    continue
            yield other, item, position

    def there(self, load: Load) -> bool:
        """Return whether a load's unit is installed."""
        return self.config.state_name(load.unit) == INSTALLED

    def network(self, feed: int, up: bytearray) -> Network:
        """Return the network a feed that is up belongs to.

        Everything joined to it, what loads lie between, what those are joined to, and the feeds
        met on the way.
        """
        found = Network([], [], [], {})
        at = self.copper.at
        todo = [feed]
        known, loads = {feed}, set()
        while todo:
            row = self.wiring.feeds[todo.pop()]
            islands = [at(row.hi), at(row.ret)]
            while islands:
                island = islands.pop()
                if island == STRUCTURE or island in found.net_of:
                    continue
                net = self.net(island, up)
                found.net_of.update(dict.fromkeys(net.islands, len(found.nets)))
                found.nets.append(net)
                fresh = {f for f, _ in net.feeds} - known
                known |= fresh
                todo.extend(sorted(fresh))
                for inside in net.islands & self.copper.loads_at.keys():
                    for n in self.copper.loads_at[inside]:
                        load = self.copper.loads[n]
                        if n not in loads and self.there(load):
                            loads.add(n)
                            islands += [at(load.hi), at(load.ret)]
        found.feeds = sorted(known)
        found.loads = sorted(loads)
        return found


def path(links: Iterable[tuple[int, int]], a: int, b: int) -> tuple[int, ...]:
    """Return a shortest path of islands from ``a`` to ``b``; empty where there is none."""
    beside: dict[int, list[int]] = {}
    for one, other in links:
        beside.setdefault(one, []).append(other)
        beside.setdefault(other, []).append(one)
    via = {a: a}
    queue = [a]
    for island in queue:
        if island == b:
            break
        for other in beside.get(island, ()):
            if other not in via:
                via[other] = island
                queue.append(other)
    if b not in via:
        return ()
    found = [b]
    while found[-1] != a:
        found.append(via[found[-1]])
    return tuple(reversed(found))
