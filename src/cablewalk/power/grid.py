"""The grid: every circuit of a configuration, solved again only where a change touched it."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.continuity.services import Continuity
from cablewalk.continuity.touched import touched_by
from cablewalk.power.circuit import Circuit, solved
from cablewalk.power.copper import Copper
from cablewalk.power.network import Surveyor
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import STRUCTURE


class Grid:
    """All circuits of the feeds that are up.

    ``update`` must be called after each ``Continuity.update`` with the same changes. ``sure``:
    joins in doubt are not made (what a load then gets is the least); else they are.
    """

    def __init__(
        self, config: Configuration, continuity: Continuity, copper: Copper, sure: bool = True
    ) -> None:
        self.config = config
        self.continuity = continuity
        self.copper = copper
        self.surveyor = Surveyor(config, copper, sure)
        self.circuits: dict[int, Circuit] = {}
        self.of_feed: dict[int, int] = {}
        """Feed that is up to its circuit."""
        self._of_island: dict[int, int] = {}
        self._number = 0
        self._up = bytearray(continuity.feed_up)
        self.build(range(len(config.wiring.feeds)))

    def build(self, feeds: Sequence[int] | range) -> list[int]:
        """Find and solve the circuits of these feeds; return the numbers of those solved."""
        fresh: list[int] = []
        for feed in feeds:
            if not self._up[feed] or feed in self.of_feed:
                continue
            network = self.surveyor.network(feed, self._up)
            for other in network.feeds:
                if other in self.of_feed:
                    self._drop(self.of_feed[other])
            number = self._number
            self._number += 1
            self.circuits[number] = Circuit(network, ())
            self.of_feed.update(dict.fromkeys(network.feeds, number))
            self._of_island.update(dict.fromkeys(network.net_of, number))
            fresh.append(number)
        return self._solve([n for n in fresh if n in self.circuits])

    def _drop(self, number: int) -> None:
        circuit = self.circuits.pop(number)
        for feed in circuit.network.feeds:
            self.of_feed.pop(feed, None)
        for island in circuit.network.net_of:
            if self._of_island.get(island) == number:
                del self._of_island[island]

    def _solve(self, numbers: list[int]) -> list[int]:
        """Solve circuits, and those above them whose converters feed them.

        A circuit comes after the ones its converters feed, so each is solved once; feeds that
        are up form no ring of converters.
        """
        pending = set(numbers)
        done: list[int] = []
        while pending:
            number = next(
                (n for n in sorted(pending) if not self._below(n) & pending), min(pending)
            )
            pending.discard(number)
            network = self.circuits[number].network
            passed = {n: w for n in network.loads if (w := self._passed(n)) is not None}
            self.circuits[number] = solved(self.copper, network, passed)
            if number not in done:
                done.append(number)
            for feed in network.feeds:
                for load in self.copper.passing.get(feed, ()):
                    above = self.circuit_of(load)
                    if above is not None and above != number and above not in done:
                        pending.add(above)
        return done

    def _below(self, number: int) -> set[int]:
        """Return the circuits that the converters fed by a circuit feed."""
        feeds = (self.copper.loads[n].passes for n in self.circuits[number].network.loads)
        return {self.of_feed[f] for f in feeds if f >= 0 and f in self.of_feed} - {number}

    def circuit_of(self, load: int) -> int | None:
        """Return the number of the circuit a load hangs on, by its high."""
        return self._of_island.get(self.copper.at(self.copper.loads[load].hi))

    def _passed(self, load: int) -> float | None:
        """Return the power a converter's input takes; None where it is not known."""
        row = self.copper.loads[load]
        if row.passes < 0:
            return None
        if row.passes not in self.of_feed:
            return 0.0
        amps = self.circuits[self.of_feed[row.passes]].feeds.get(row.passes)
        if amps is None:
            return None
        volts = self.config.wiring.feeds[row.passes].volts
        return max(0.0, amps) * volts / row.efficiency

    def update(self, changes: Sequence[Change]) -> list[int]:
        """Follow changes already applied; return the numbers of the circuits solved anew."""
        touched = touched_by(self.config, changes)
        up = self.continuity.feed_up
        feeds = {n for n, (a, b) in enumerate(zip(up, self._up, strict=True)) if a != b}
        if not (touched.joined or touched.units or feeds):
            return []
        self._up = bytearray(up)
        stale = {self.of_feed[f] for f in feeds if f in self.of_feed}
        tails = self.copper.tails_at(touched.joined)
        stale |= {self._of_island[tail] for tail in tails if tail in self._of_island}
        islands = touched.islands(self.config)
        for unit in touched.units:
            islands |= self._ends(unit)
        components = self.continuity.components
        seen: set[int] = set()
        for island in islands:
            if island in self._of_island:
                stale.add(self._of_island[island])
            component = components.of[island]
            if id(component) not in seen and island != STRUCTURE:
                seen.add(id(component))
                for terminal in component.special:
                    feeds |= {feed for feed, _ in components.feeds_at.get(terminal, ())}
        stale |= {self.of_feed[f] for f in feeds if f in self.of_feed}
        above: set[int] = set()
        for number in stale:
            network = self.circuits[number].network
            feeds |= set(network.feeds)
            above |= {load for f in network.feeds for load in self.copper.passing.get(f, ())}
            self._drop(number)
        done = self.build(sorted(feeds))
        left = [c for load in above if (c := self.circuit_of(load)) is not None]
        return done + self._solve([c for c in dict.fromkeys(left) if c not in done])

    def _ends(self, unit: int) -> set[int]:
        """Return the islands of the loads and feeds of a unit."""
        wiring = self.config.wiring
        return {t.island for t in wiring.terminals if t.owner == unit} - {STRUCTURE}
