"""Services: kept up to date change by change."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise

from cablewalk.continuity.feeds import FeedInputs
from cablewalk.continuity.strings import judge
from cablewalk.continuity.verdict import Standing, Verdict
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE


class State(IntEnum):
    """How a service stands."""

    DOWN = 0
    REDUCED = 1
    UP = 2

    def __str__(self) -> str:
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class ServiceChange:
    """A service, or one of its strings, that stands otherwise than before."""

    service: int
    before: State
    after: State
    strings: tuple[tuple[int, Verdict, Verdict], ...]
    """(string, verdict before, verdict after) for each string whose standing changed."""


@dataclass(frozen=True, slots=True)
class Touched:
    """What a set of changes touched: islands whose joins may differ, switches, units."""

    islands: frozenset[int]
    switches: bool
    units: frozenset[int]


def touched_by(config: Configuration, changes: Iterable[Change]) -> Touched:
    """Return what changes touched, whether they are applied already or not."""
    wiring = config.wiring
    islands: set[int] = set()
    units: set[int] = set()
    switches = False
    for change in changes:
        if change.field not in (Field.STATE, Field.LINK, Field.CLAIM):
            continue
        kind = wiring.items[change.item].kind
        if kind in ("half", "cap"):
            islands.update(wiring.joints[change.item])
            if kind == "cap":
                units.add(change.item)
        elif kind == "switch":
            switches = True
        elif kind in ("unit", "panel"):
            units.add(change.item)
    islands.discard(STRUCTURE)
    return Touched(frozenset(islands), switches, frozenset(units))


class Continuity:
    """Every string's verdict and every service's state, for one configuration.

    ``update`` must be called after each application or undoing of changes. A string is judged
    anew only when a join of an island it watches, a switch, a feed or a unit it depends on
    changed: that, and nothing else, makes a kept verdict stale.
    """

    def __init__(self, config: Configuration) -> None:
        self.config = config
        wiring = config.wiring
        self.inputs = FeedInputs(config)
        self.rejudged: dict[int, tuple[Verdict, Verdict]] = {}
        """The strings judged anew by the last update, with the verdicts before and after."""
        self.feed_up = self.inputs.up()
        self.if_selected: dict[int, bytearray] = {}
        self._owners: dict[int, set[int]] = {}
        for n, string in enumerate(wiring.strings):
            ends = [t for line in string.lines for t in (line.a_terminal, line.b_terminal)]
            ends += [line.a_terminal for line in string.load or ()]
            for terminal in (*ends, *string.terminated):
                if terminal != NONE:
                    self._owners.setdefault(wiring.terminals[terminal].owner, set()).add(n)
        self._watchers: list[set[int]] = [set() for _ in wiring.sites]
        self.verdicts: list[Verdict] = []
        for n in range(len(wiring.strings)):
            verdict = self._judge(n)
            self.verdicts.append(verdict)
            for island in verdict.watched:
                self._watchers[island].add(n)
        self.states = [State.DOWN] * len(wiring.services)
        for n in wiring.service_order:
            self.states[n] = self._state(n)

    def _judge(self, number: int) -> Verdict:
        string = self.config.wiring.strings[number]
        selected = None
        if string.cold:
            selected = self.if_selected.get(string.selected_by)
            if selected is None:
                selected = self.inputs.up(assume_on=string.selected_by)
                self.if_selected[string.selected_by] = selected
        return judge(self.config, string, self.feed_up, selected)

    def _state(self, number: int) -> State:
        service = self.config.wiring.services[number]
        standings = [self.verdicts[s].standing for s in service.strings]
        if standings.count(Standing.UP) < service.need:
            return State.DOWN
        needed = min((self.states[n] for n in service.needs), default=State.UP)
        if needed is State.DOWN:
            return State.DOWN
        if needed is State.REDUCED or Standing.DOWN in standings:
            return State.REDUCED
        return State.UP

    def update(self, changes: Iterable[Change]) -> list[ServiceChange]:
        """Judge anew what the changes touched; return what stands otherwise than before."""
        touched = touched_by(self.config, changes)
        stale: set[int] = set()
        for island in touched.islands:
            stale |= self._watchers[island]
        for unit in touched.units:
            stale |= self._owners.get(unit, set())
        if touched.islands:
            for n, watched in self.inputs.watched.items():
                if watched & touched.islands:
                    self.inputs.find(n)
        if touched.islands or touched.switches or touched.units:
            stale |= self._feeds_changed(touched)
        return self._rejudge(stale)

    def _feeds_changed(self, touched: Touched) -> set[int]:
        """Find the feeds anew; return the strings that a change among them may alter."""
        wiring = self.config.wiring
        up = self.inputs.up()
        changed = {n for n, (a, b) in enumerate(zip(up, self.feed_up, strict=True)) if a != b}
        self.feed_up = up
        self.if_selected.clear()
        stale = {
            n
            for n, string in enumerate(wiring.strings)
            if string.cold or not changed.isdisjoint(string.feeds)
        }
        if touched.units:
            owners = {
                wiring.terminals[t].island for unit in touched.units for t in self._terminals(unit)
            }
            for island in owners - {STRUCTURE}:
                stale |= self._watchers[island]
        return stale

    def _terminals(self, unit: int) -> list[int]:
        return [n for n, t in enumerate(self.config.wiring.terminals) if t.owner == unit]

    def _rejudge(self, stale: set[int]) -> list[ServiceChange]:
        wiring = self.config.wiring
        before: dict[int, list[tuple[int, Verdict, Verdict]]] = {}
        self.rejudged = {}
        for n in sorted(stale):
            old, new = self.verdicts[n], self._judge(n)
            self.verdicts[n] = new
            self.rejudged[n] = (old, new)
            for island in old.watched - new.watched:
                self._watchers[island].discard(n)
            for island in new.watched - old.watched:
                self._watchers[island].add(n)
            rows = before.setdefault(wiring.strings[n].service, [])
            if old.standing != new.standing:
                rows.append((n, old, new))
        changes: list[ServiceChange] = []
        altered: set[int] = set()
        for n in wiring.service_order:
            if n not in before and altered.isdisjoint(wiring.services[n].needs):
                continue
            old_state, new_state = self.states[n], self._state(n)
            self.states[n] = new_state
            if old_state != new_state:
                altered.add(n)
            if old_state != new_state or before.get(n):
                changes.append(ServiceChange(n, old_state, new_state, tuple(before.get(n, ()))))
        return changes

    def unproven(self, service: int) -> list[int]:
        """Return the strings of a service that are up but disturbed and not verified since."""
        config = self.config
        return [
            s
            for s in config.wiring.services[service].strings
            if config.disturbed[s] and self.verdicts[s].standing is Standing.UP
        ]

    def why_down(self, service: int) -> str:
        """Return what is wrong with the strings of a service, in words."""
        texts = (
            trouble.text
            for s in self.config.wiring.services[service].strings
            for trouble in self.verdicts[s].troubles
        )
        return "; ".join(dict.fromkeys(texts))

    def users(self, item: int) -> list[int]:
        """Return the strings whose own path uses the joined pair this half or cap belongs to."""
        wiring = self.config.wiring
        mate = self.config.link[item]
        if mate == NONE or not wiring.joints[mate] or not wiring.joints[item]:
            return []
        pairs = list(zip(wiring.joints[item], wiring.joints[mate], strict=True))
        near: set[int] = set()
        for a, b in pairs:
            near |= self._watchers[a if a != STRUCTURE else b]
        return sorted(s for s in near if uses(self.verdicts[s], pairs))


def uses(verdict: Verdict, pairs: Iterable[tuple[int, int]]) -> bool:
    """Return whether a string's own path runs along one of these joined island pairs."""
    steps = {frozenset(step) for path in verdict.paths for step in pairwise(path)}
    return any(frozenset(pair) in steps for pair in pairs)
