"""Liveness: which contacts could be live, by which feed, along which path."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.continuity.components import Components
from cablewalk.continuity.edges import Edges, islands_of
from cablewalk.continuity.feeds import INSTALLED, may_be_on
from cablewalk.continuity.graph import FITTED, Parents, chain
from cablewalk.continuity.reach import Reach
from cablewalk.continuity.region import Heat, Region, book
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE


class Liveness:
    """The live region of every feed that may be on, mended join by join.

    A feed that may be on has no switch surely off; one that needs its input is taken by the
    greatest solution: a loop keeps itself live. When a switch or unit changes, regions are
    walked anew; a join that changes mends only the branches that ran over it.
    """

    def __init__(self, config: Configuration, components: Components | None = None) -> None:
        """Walk all regions; ``components``, where given, are kept up to date by the caller."""
        self.config = config
        self._follow = components is None
        self.components = components or Components(config)
        feeds = config.wiring.feeds
        self._converters = {feed.unit for feed in feeds if feed.input is not None}
        self.regions: dict[int, Region] = {}
        self._fed = {n for n, feed in enumerate(feeds) if feed.input is not None}
        self._dormant: set[int] = set()
        """Feeds that may be on but whose input cannot be live."""
        self._touched: dict[int, bool] = {}
        """Islands whose feeds changed in this update: whether they were live before."""
        self.hot: dict[int, set[int]] = {}
        """Live island to the feeds that may make it so."""
        self._reference_of: dict[int, set[int]] = {}
        """Island to the feeds whose live region ends at it."""
        self._walk_all()

    # -- keeping up -------------------------------------------------------------------

    def update(self, changes: Sequence[Change], switches: bool, units: bool) -> Heat:
        """Follow changes already applied; say whether a switch, or a unit, is among them."""
        if self._follow:
            self.components.update(changes)
        edges = self.components.edges
        if not (edges or switches or units):
            return Heat()
        self._touched = {}
        if units:
            self._walk_all()
        else:
            for n in self._near(edges):
                self._mend(n, edges)
                self._count(n)
            if switches:
                self._switched()
            if self._fed:
                self._settle()
        if not self._touched:
            return Heat()
        was = {island for island, hot in self._touched.items() if hot}
        now = frozenset(self._touched.keys() & self.hot.keys())
        return Heat(now - was, frozenset(was - now), now)

    def _near(self, edges: Edges) -> set[int]:
        """Return the feeds whose region joins that differ may alter.

        A reference follows what is beyond doubt, what may be live follows every join.
        """
        near: set[int] = set()
        for turns, feeds_at in ((edges.joined, self.hot), (edges.sure, self._reference_of)):
            for island in feeds_at.keys() & islands_of(turns):
                near |= feeds_at[island]
        return near

    def _mend(self, number: int, edges: Edges) -> None:
        region = self.regions[number]
        reference = region.reference
        shorted = self.components.joined(region.live.start, reference.start)
        turned, region.shorted = shorted != region.shorted, shorted
        reference.follow(edges.sure)
        lost, added = reference.gone, reference.gained
        reference.gone, reference.gained = [], []
        book(self._reference_of, number, added, lost)
        for reach in (region.live, region.support):
            if reach is None:
                continue
            if turned:
                reach.begin_anew()
                continue
            for island in added:
                if not reach.allowed(island):  # a shorted feed has no reference to stop at
                    reach.island_forbidden(island)
            reach.follow(edges.joined)
            for island in lost:
                if reach.allowed(island):
                    reach.island_allowed(island)

    def _count(self, number: int) -> None:
        """Bring the live islands up to date with one region."""
        live = self.regions[number].live
        if live.gained or live.gone:
            gained, gone = live.gained, live.gone
            live.gained, live.gone = [], []
            for island in (*gained, *gone):
                self._touched.setdefault(island, island in self.hot)
            book(self.hot, number, gained, gone)

    # -- walking ----------------------------------------------------------------------

    def _walk_all(self) -> None:
        for n in list(self.regions):
            self._drop(n)
        for n, feed in enumerate(self.config.wiring.feeds):
            if may_be_on(self.config, feed):
                self._add(n)
        self._settle()

    def _switched(self) -> None:
        """Add and drop the feeds that a switch made possible or impossible."""
        for n, feed in enumerate(self.config.wiring.feeds):
            here = n in self.regions or n in self._dormant
            if may_be_on(self.config, feed) != here:
                if here:
                    self._drop(n)
                else:
                    self._add(n)

    def _add(self, number: int) -> None:
        region = self._walk(number)
        self.regions[number] = region
        book(self._reference_of, number, region.reference.gained, ())
        region.reference.gained = []
        self._count(number)

    def _drop(self, number: int) -> None:
        self._dormant.discard(number)
        region = self.regions.get(number)
        if region is not None:
            region.live.gone, region.live.gained = list(region.live.parents), []
            self._count(number)
            book(self._reference_of, number, (), list(region.reference.parents))
            del self.regions[number]

    def _settle(self) -> None:
        """Drop the feeds whose input cannot be live; wake those whose input may be again."""
        for n in sorted(self._dormant):
            self._add(n)
        self._dormant = set()
        fed = [n for n in self.regions if n in self._fed]
        changed = True
        while changed:
            changed = False
            for n in list(fed):
                if not self._input_live(n):
                    fed.remove(n)
                    self._drop(n)
                    self._dormant.add(n)
                    changed = True

    def _input_live(self, number: int) -> bool:
        wiring = self.config.wiring
        ends = wiring.feeds[number].input
        assert ends is not None
        islands = [wiring.terminals[t].island for t in ends]
        return any(
            island in (region.support or region.live).parents
            for region in self.regions.values()
            for island in islands
        )

    def _walk(self, number: int) -> Region:
        """Walk outward from a feed's high terminal, through units, up to its own return.

        Where the high is itself tied to the return there is no reference to stop at.
        """
        wiring = self.config.wiring
        feed = wiring.feeds[number]
        start = wiring.terminals[feed.hi].island
        back = wiring.terminals[feed.ret].island
        reference = Reach(
            back, self.components.joins.surely_beside, lambda island: island != STRUCTURE
        )

        def allowed(island: int) -> bool:
            if island == STRUCTURE:
                return False
            return island not in reference.parents or region.shorted

        region = Region(reference, reference, self.components.joined(start, back))
        region.live = Reach(start, self._around, allowed)
        if feed.input is not None:
            region.support = Reach(start, self._around_but_converters, allowed)
        return region

    def _around(self, island: int) -> list[int]:
        return self._beside(island, True)

    def _around_but_converters(self, island: int) -> list[int]:
        return self._beside(island, False)

    def _beside(self, island: int, converters: bool) -> list[int]:
        """Return what an island may make live: by joins, and through the units it ends on."""
        wiring = self.config.wiring
        found = self.components.joins.beside(island)
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

    # -- asking -----------------------------------------------------------------------

    def of(self, island: int) -> list[int]:
        """Return the feeds that may make an island live."""
        return sorted(self.hot.get(island, ()))

    def at(self, half: int, position: int) -> int:
        """Return the island that makes a contact live, or NONE where nothing can.

        A contact wired to nothing is live when what it is mated with is.
        """
        config, wiring = self.config, self.config.wiring
        joints = wiring.joints[half]
        if not joints:
            return NONE
        if joints[position] in self.hot:
            return joints[position]
        mate = config.link[half]
        if joints[position] in wiring.stubs and mate != NONE and config.link[mate] == half:
            others = wiring.joints[mate]
            if others and others[position] in self.hot:
                return others[position]
        return NONE

    def contacts(self, half: int) -> list[int]:
        """Return the positions of a half's contacts that something could make live."""
        return [position for position, _ in self.rows(half)]

    def rows(self, half: int) -> list[tuple[int, int]]:
        """Return (position, island) of the contacts that something could make live.

        The island is the one that makes it so, as :meth:`at` tells it.
        """
        wiring, hot, link = self.config.wiring, self.hot, self.config.link
        own = [row for row in wiring.wired(half) if row[1] in hot]
        mate = link[half]
        if mate == NONE or link[mate] != half:
            return own
        others = [row for row in wiring.beyond(half, mate) if row[1] in hot]
        return sorted([*own, *others]) if others else own

    def path(self, feed: int, island: int) -> tuple[int, ...]:
        """Return the islands from a feed's high terminal to a live island."""
        parents: Parents = self.regions[feed].live.parents
        return chain(parents, island)

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
