"""Support: the items on which a service's state can depend, in whatever order things happen."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.orders.joinable import Joinable
from cablewalk.replay.wiring import NONE, STRUCTURE, Conductor, StringLine, Wiring


class Support:
    """Finds, for each service, its halves, caps, units and switches that matter.

    A join matters to a line only where it lies on a way between the line's ends, as long as
    nothing foreign could ever be joined to the line; where something could, every join matters
    that the line could reach.
    """

    def __init__(self, joinable: Joinable) -> None:
        self.joinable = joinable
        self.wiring: Wiring = joinable.wiring
        self._known: dict[int, frozenset[int]] = {}
        self._feeds_at: dict[int, list[int]] = {}
        for n, feed in enumerate(self.wiring.feeds):
            for terminal in (feed.hi, feed.ret):
                self._feeds_at.setdefault(terminal, []).append(n)

    def of(self, service: int) -> frozenset[int]:
        """Return the items on which the state of a service can depend."""
        if service not in self._known:
            row = self.wiring.services[service]
            items: set[int] = {row.arrives_with} - {NONE}
            for string in row.strings:
                items |= self._string(self.wiring.strings[string])
            for need in row.needs:
                items |= self.of(need)
            self._known[service] = frozenset(items)
        return self._known[service]

    def _string(self, string: StringLine) -> set[int]:
        terminals = self.wiring.terminals
        items = {string.selected_by} if string.cold else set()
        ends: set[int] = set()
        for line in string.lines:
            items |= self._owners((line.a_terminal, line.b_terminal))
            items |= self._between(line.a, line.b, line, {line.family})
            ends |= {line.a, line.b} - {STRUCTURE}
        if string.load is not None:
            hi, ret = string.load
            ends |= {hi.a, ret.a} - {STRUCTURE}
            own = {hi.family, ret.family}
            items |= self._owners((hi.a_terminal,))
            tangled = self._tangled(hi.a, ret.a)
            for line in (hi, ret):
                if tangled:
                    items |= self._all(line.a)
                items |= self._clean(line.a, line, own)
            feeds: set[int] = set()
            for feed in string.feeds:
                row = self.wiring.feeds[feed]
                items |= self._pairs(hi.a, terminals[row.hi].island)
                items |= self._pairs(ret.a, terminals[row.ret].island)
                items |= self._feed(feed, feeds)
        for terminal in string.terminated:
            items |= self._owners((terminal,))
            for end in ends:
                items |= self._pairs(terminals[terminal].island, end)
        return items

    # -- lines ------------------------------------------------------------------------

    def _between(self, a: int, b: int, line: Conductor, own: set[int]) -> set[int]:
        items = self._pairs(a, b)
        for end in {a, b} - {STRUCTURE}:
            items |= self._clean(end, line, own)
        return items

    def _pairs(self, a: int, b: int) -> set[int]:
        return {item for pair in self.joinable.pairs_between(a, b) for item in pair}

    def _owners(self, terminals: Iterable[int]) -> set[int]:
        return {self.wiring.terminals[t].owner for t in terminals if t != NONE}

    def _clean(self, start: int, line: Conductor, own: set[int]) -> set[int]:
        """Return nothing where nothing foreign could reach a net, else all that could touch it."""
        component = self.joinable.component(start)
        wiring = self.wiring
        if STRUCTURE in component and line.family != wiring.structure_family:
            return self._all(start)
        for island in component - {STRUCTURE}:
            for terminal in wiring.island_terminals[island]:
                if wiring.terminals[terminal].family not in own:
                    return self._all(start)
        return set()

    def _tangled(self, hi: int, ret: int) -> bool:
        """Return whether high and return could meet, or two feeds."""
        if ret in self.joinable.component(hi):
            return True
        return any(len(self._feeds_in(island)) > 1 for island in (hi, ret))

    def _feeds_in(self, start: int) -> set[int]:
        return {
            feed
            for island in self.joinable.component(start)
            for terminal in self.wiring.island_terminals[island]
            for feed in self._feeds_at.get(terminal, ())
        }

    def _all(self, start: int) -> set[int]:
        component = self.joinable.component(start)
        items = {item for pair in self.joinable.pairs_in(component) for item in pair}
        for island in component - {STRUCTURE}:
            items |= self._owners(self.wiring.island_terminals[island])
        return items | {self.wiring.feeds[f].unit for f in self._feeds_in(start)}

    # -- feeds ------------------------------------------------------------------------

    def _feed(self, number: int, seen: set[int]) -> set[int]:
        """Return what it takes for a feed to be up."""
        if number in seen:
            return set()
        seen.add(number)
        wiring = self.wiring
        feed = wiring.feeds[number]
        items = {feed.unit, *feed.switches}
        if feed.input is None:
            return items
        hi, ret = (wiring.terminals[t].island for t in feed.input)
        if ret in self.joinable.component(hi):
            items |= self._all(hi) | self._all(ret)
        for other in range(len(wiring.feeds)):
            source = wiring.feeds[other]
            f_hi, f_ret = wiring.terminals[source.hi].island, wiring.terminals[source.ret].island
            if feed.accepts and other not in feed.accepts:
                continue
            if f_hi in self.joinable.component(hi) and f_ret in self.joinable.component(ret):
                items |= self._pairs(hi, f_hi) | self._pairs(ret, f_ret)
                items |= self._feed(other, seen)
        return items
