"""Single failures: what the loss of one thing would take, as everything stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cablewalk.continuity.feeds import switches_on, unit_there
from cablewalk.continuity.graph import BARE
from cablewalk.continuity.services import Continuity
from cablewalk.continuity.strings import judge
from cablewalk.continuity.verdict import Standing
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE, Wiring


@dataclass(frozen=True, slots=True)
class Element:
    """One thing that can fail: its kind, its id, and what goes with it."""

    kind: str
    """``connector``, ``harness``, ``cover``, ``feed`` or ``switch``."""
    name: str
    pairs: tuple[int, ...] = ()
    """A half of each pair that opens."""
    number: int = NONE
    """The feed, or the switch, that fails off."""


def elements(config: Configuration) -> list[Element]:
    """Return everything whose single loss is tried.

    Connectors (a mated pair), harnesses (all pairs of their legs), covers (the pairs beneath,
    and the pairs of the legs whose own segment passes beneath; of a trunk, of all its legs),
    feeds, switches.
    """
    wiring = config.wiring
    found = []
    for half in wiring.ids("half"):
        mate = config.link[half]
        if (
            _joined(config, half)
            and wiring.items[half].role == "free"
            and (wiring.items[mate].role != "free" or half < mate)
        ):
            found.append(
                Element("connector", f"{wiring.items[half].id}/{wiring.items[mate].id}", (half,))
            )
    for harness in wiring.ids("harness"):
        pairs = _pairs(config, wiring.legs_of[harness])
        if pairs:
            found.append(Element("harness", wiring.items[harness].id, pairs))
    for cover in wiring.ids("cover"):
        beneath = [h for h, covers in wiring.covers_over.items() if cover in covers]
        under = [h for h in beneath if _joined(config, h)]
        for segment in wiring.cover_segments.get(cover, ()):
            legs = wiring.segment_legs[segment] or wiring.legs_of[wiring.items[segment].owner]
            under.extend(_pairs(config, legs))
        if under:
            found.append(Element("cover", wiring.items[cover].id, tuple(dict.fromkeys(under))))
    found.extend(Element("feed", row.id, (), n) for n, row in enumerate(wiring.feeds))
    used = {s for row in wiring.feeds for s in row.switches}
    found.extend(Element("switch", wiring.items[s].id, (), s) for s in sorted(used))
    return found


def _joined(config: Configuration, half: int) -> bool:
    mate = config.link[half]
    return (
        mate != NONE
        and config.wiring.items[mate].kind == "half"
        and bool(config.wiring.joints[half] and config.wiring.joints[mate])
    )


def _pairs(config: Configuration, legs: Iterable[int]) -> tuple[int, ...]:
    halves = (config.wiring.half_of.get(leg, NONE) for leg in legs)
    return tuple(h for h in halves if h != NONE and _joined(config, h))


class Failures:
    """Tries the loss of one element after another on a copy of a configuration."""

    def __init__(self, config: Configuration) -> None:
        self.config = config.copy()
        self.wiring: Wiring = config.wiring
        self.continuity = Continuity(self.config)
        self.services = {
            n
            for n in range(len(self.wiring.services))
            if config.life[n] == ALIVE and self._carried(n, self._standings(n))
        }
        self.dependants: dict[int, list[int]] = {}
        """Service to those that need it."""
        for n, row in enumerate(self.wiring.services):
            for needed in row.needs:
                self.dependants.setdefault(needed, []).append(n)
        self._cold = {n for n, string in enumerate(self.wiring.strings) if string.cold}
        self._hangs_on: dict[int, set[int]] = {}
        """Feed to the strings that list it."""
        for n, string in enumerate(self.wiring.strings):
            for feed in string.feeds:
                self._hangs_on.setdefault(feed, set()).add(n)
        self.elements = elements(self.config)

    def _standings(self, service: int) -> list[Standing]:
        return [self.continuity.verdicts[s].standing for s in self.wiring.services[service].strings]

    def _carried(self, service: int, standings: list[Standing]) -> bool:
        """Return whether enough strings are up or could be selected."""
        return sum(s is not Standing.DOWN for s in standings) >= self.wiring.services[service].need

    def takes(self, element: Element) -> list[int]:
        """Return the services that the loss of an element takes, no string of theirs enough left.

        A cold string that could be selected counts as left.
        """
        if element.kind in ("feed", "switch"):
            return self._without_power(element)
        changes = self._opened(element.pairs)
        self.config.apply(changes)
        self.continuity.update(changes)
        wiring = self.wiring
        touched = {wiring.strings[s].service for s in self.continuity.rejudged}
        lost = {n for n in touched & self.services if not self._carried(n, self._standings(n))}
        self.config.undo(changes)
        self.continuity.update([change.inverse for change in reversed(changes)])
        return self._with_dependants(lost)

    def _with_dependants(self, lost: set[int]) -> list[int]:
        """Return the services lost, with those that need them, directly or through others."""
        found = set(lost)
        todo = list(lost)
        for service in todo:
            for other in self.dependants.get(service, ()):
                if other in self.services and other not in found:
                    found.add(other)
                    todo.append(other)
        return sorted(found)

    def _opened(self, halves: Iterable[int]) -> list[Change]:
        config = self.config
        changes: list[Change] = []
        done: set[int] = set()
        for half in halves:
            mate = config.link[half]
            if half in done:
                continue
            done |= {half, mate}
            for one, other in ((half, mate), (mate, half)):
                changes.append(Change(Field.STATE, one, config.state[one], BARE))
                changes.append(Change(Field.LINK, one, other, NONE))
        return changes

    def _without_power(self, element: Element) -> list[int]:
        """Judge the strings anew with a feed, or the feeds behind a switch, off."""
        wiring = self.wiring
        if element.kind == "switch":
            lost_feeds = {n for n, row in enumerate(wiring.feeds) if element.number in row.switches}
        else:
            lost_feeds = {element.number}
        up = self._up(lost_feeds, NONE)
        changed = {n for n, now in enumerate(up) if now != self.continuity.feed_up[n]}
        near = {s for feed in changed | lost_feeds for s in self._hangs_on.get(feed, ())}
        near |= self._cold
        lost: set[int] = set()
        for n in {wiring.strings[s].service for s in near} & self.services:
            row = wiring.services[n]
            stands = [self._stands(s, element, up, changed, lost_feeds) for s in row.strings]
            if sum(one is not Standing.DOWN for one in stands) < row.need:
                lost.add(n)
        return self._with_dependants(lost)

    def _stands(
        self, number: int, element: Element, up: bytearray, changed: set[int], lost: set[int]
    ) -> Standing:
        """Return how a string stands with some feeds lost; judged anew only where that matters."""
        old = self.continuity.verdicts[number].standing
        string = self.wiring.strings[number]
        if element.kind == "switch" and string.selected_by == element.number:
            return Standing.DOWN
        if old is Standing.DOWN or string.load is None:
            return old
        if not string.cold and changed.isdisjoint(string.feeds):
            return old
        selected = self._up(lost, string.selected_by) if string.cold else None
        return judge(self.config, self.continuity.components, string, up, selected).standing

    def _up(self, lost: set[int], assume_on: int) -> bytearray:
        """Return which feeds are up without some of them: the least solution."""
        config, feeds = self.config, self.wiring.feeds
        ready = [
            n not in lost and unit_there(config, row.unit) and switches_on(config, row, assume_on)
            for n, row in enumerate(feeds)
        ]
        up = bytearray(ready[n] and row.input is None for n, row in enumerate(feeds))
        changed = True
        while changed:
            changed = False
            for n, sources in self.continuity.inputs.reaching.items():
                if not up[n] and ready[n] and any(up[s] for s in sources):
                    up[n] = 1
                    changed = True
        return up

    def single(self) -> Iterator[tuple[int, Element]]:
        """Yield (service, element) for every element whose loss alone takes a service."""
        for element in self.elements:
            for service in self.takes(element):
                yield service, element


def takers(config: Configuration) -> dict[int, list[Element]]:
    """Return, for each service with more strings than it needs, what takes it alone."""
    wiring = config.wiring
    redundant = {n for n, row in enumerate(wiring.services) if row.need < len(row.strings)}
    found: dict[int, list[Element]] = {}
    if redundant:
        for service, element in Failures(config).single():
            if service in redundant:
                found.setdefault(service, []).append(element)
    return found
