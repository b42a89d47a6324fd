"""Liveness: which contacts could be live, by which feed, along which path."""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.continuity.feeds import INSTALLED, may_be_on
from cablewalk.continuity.graph import FITTED, Parents, chain, neighbours, net
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import STRUCTURE


@dataclass(frozen=True, slots=True)
class Region:
    """All that one feed may make live."""

    parents: Parents
    """Live island to the one it is live from; empty when the feed is surely off."""
    watched: frozenset[int]


_DEAD = Region({}, frozenset())


class Liveness:
    """The live region of every feed, walked anew only when something in it changed.

    A region is dropped when a join, switch or unit it saw is touched; the greatest solution is
    taken for feeds that need their input: a loop keeps itself live.
    """

    def __init__(self, config: Configuration) -> None:
        self.config = config
        self._converters = {f.unit for f in config.wiring.feeds if f.input is not None}
        self.regions: list[Region] = [_DEAD] * len(config.wiring.feeds)
        self.support = list(self.regions)
        """What may keep inputs live: of a feed that needs its own input, the region without
        passing back through converters, which would else all keep themselves live."""
        self.refresh(frozenset(), everything=True)

    def refresh(self, islands: frozenset[int], everything: bool = False) -> set[int]:
        """Walk the regions anew that saw one of ``islands``; return the feeds whose region changed.

        With ``everything`` (a switch or unit changed) every region is looked at again.
        """
        config = self.config
        feeds = config.wiring.feeds
        before = list(self.regions)
        candidates = {n for n, feed in enumerate(feeds) if may_be_on(config, feed)}
        for n in range(len(feeds)):
            if n not in candidates:
                self.regions[n] = self.support[n] = _DEAD
            elif everything or not before[n].parents or before[n].watched & islands:
                self.regions[n] = self._walk(n)
                fed_by_input = feeds[n].input is not None
                self.support[n] = self._walk(n, False) if fed_by_input else self.regions[n]
        fed = [n for n in candidates if feeds[n].input is not None]
        changed = True
        while changed and fed:
            changed = False
            for n in list(fed):
                if not self._input_live(n, candidates):
                    candidates.discard(n)
                    fed.remove(n)
                    self.regions[n] = self.support[n] = _DEAD
                    changed = True
        return {n for n in range(len(feeds)) if self.regions[n].parents != before[n].parents}

    def _input_live(self, number: int, candidates: set[int]) -> bool:
        wiring = self.config.wiring
        ends = wiring.feeds[number].input
        assert ends is not None
        islands = [wiring.terminals[t].island for t in ends]
        return any(island in self.support[n].parents for n in candidates for island in islands)

    def _walk(self, number: int, converters: bool = True) -> Region:
        """Walk outward from a feed's high terminal, through units, up to its own return.

        Where the high is itself tied to the return there is no reference to stop at.
        """
        config, wiring = self.config, self.config.wiring
        feed = wiring.feeds[number]
        start = wiring.terminals[feed.hi].island
        reference = net(config, wiring.terminals[feed.ret].island, sure=True)
        watched = set(reference)
        if start in reference:
            reference = {}
        parents = {start: start}
        stack = [start]
        while stack:
            island = stack.pop()
            for other in self._around(island, converters):
                if other in parents:
                    continue
                watched.add(other)
                if other == STRUCTURE or other in reference:
                    continue
                parents[other] = island
                stack.append(other)
        return Region(parents, frozenset(watched | parents.keys()))

    def _around(self, island: int, converters: bool) -> list[int]:
        """Return what an island may make live: by joins, and through the units it ends on."""
        config, wiring = self.config, self.config.wiring
        found = [other for other, _item in neighbours(config, island, False)]
        for terminal in wiring.island_terminals[island]:
            row = wiring.terminals[terminal]
            if self._passes(row.owner) and (converters or row.owner not in self._converters):
                found.extend(wiring.terminals[t].island for t in wiring.group_members[row.group])
        return found

    def _passes(self, owner: int) -> bool:
        config = self.config
        if config.wiring.items[owner].kind == "cap":
            return config.state[owner] == FITTED or config.moving(owner)
        return config.state[owner] == INSTALLED or config.moving(owner)

    def of(self, island: int) -> list[int]:
        """Return the feeds that may make an island live."""
        return [n for n, region in enumerate(self.regions) if island in region.parents]

    def path(self, feed: int, island: int) -> tuple[int, ...]:
        """Return the islands from a feed's high terminal to a live island."""
        return chain(self.regions[feed].parents, island)

    def killers(self, feed: int) -> list[int]:
        """Return the switches that would kill a feed: its own, else those of what feeds it."""
        wiring = self.config.wiring
        own = list(wiring.feeds[feed].switches)
        ends = wiring.feeds[feed].input
        if ends is not None:
            for terminal in ends:
                for source in self.of(wiring.terminals[terminal].island):
                    if source != feed:
                        own.extend(s for s in wiring.feeds[source].switches if s not in own)
        return own
