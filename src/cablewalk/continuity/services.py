"""Services: kept up to date change by change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import IntEnum
from heapq import heapify, heappop, heappush
from typing import NamedTuple

from cablewalk.continuity.components import Components
from cablewalk.continuity.feeds import FeedInputs, is_gone
from cablewalk.continuity.string_index import NOBODY, StringIndex
from cablewalk.continuity.strings import judge
from cablewalk.continuity.touched import Touched, touched_by
from cablewalk.continuity.verdict import Standing, Verdict
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE


class State(IntEnum):
    """How a service stands."""

    DOWN = 0
    REDUCED = 1
    UP = 2

    def __str__(self) -> str:
        return self.name.lower()


class ServiceChange(NamedTuple):
    """A service, or one of its strings, that stands otherwise than before."""

    service: int
    before: State
    after: State
    strings: tuple[tuple[int, Verdict, Verdict], ...]
    """(string, verdict before, verdict after) for each string whose standing changed."""


class Continuity:
    """Every string's verdict and every service's state, for one configuration.

    ``update`` must be called after each application or undoing of changes. A kept verdict is
    judged anew when (1) a join on its own path came into doubt or out of it; (2) a component it
    ends in changed what isolation depends on; (3) it has a gap or an unwanted join, parallel
    conductors, or several feeds and none that is up, and a join in a component it ends in came
    into doubt or out of it, or came or went beyond doubt; (4) the same, but any join came or
    went, and it has an unwanted join, or that component a terminal of a unit that is gone; (5) a
    unit it ends on, a feed it lists, or a switch that selects it changed. Nothing else can alter
    it: lines are made by joins beyond doubt alone, and of what else is on a net the component's
    summary tells, but for what (4) names.
    """

    def __init__(self, config: Configuration) -> None:
        self.config = config
        wiring = config.wiring
        self.components = Components(config)
        self.inputs = FeedInputs(config, self.components)
        self.rejudged: dict[int, tuple[Verdict, Verdict]] = {}
        """The strings judged anew by the last update, with the verdicts before and after."""
        self.feed_up = self.inputs.up()
        self.if_selected: dict[int, bytearray] = {}
        self.index = StringIndex(wiring)
        self._ends_of: dict[int, set[int]] = {}
        """Unit or cap to the islands of its terminals, structure left out."""
        for terminal in wiring.terminals:
            if terminal.island != STRUCTURE:
                self._ends_of.setdefault(terminal.owner, set()).add(terminal.island)
        self._gone: dict[int, set[int]] = {}
        """The same for the units that are surely not there."""
        for owner in self._ends_of:
            self._note_gone(owner)
        self._commanded: dict[int, set[int]] = {}
        """Service to the cold strings whose switch is commanded through it."""
        for n, string in enumerate(wiring.strings):
            through = wiring.command_service.get(string.selected_by, NONE)
            if string.cold and through != NONE:
                self._commanded.setdefault(through, set()).add(n)
        self.states = [State.DOWN] * len(wiring.services)
        self.verdicts: list[Verdict] = []
        for n in range(len(wiring.strings)):
            self.verdicts.append(self._judge(n))
            self.index.keep(n, None, self.verdicts[n])
        self._rank = {n: k for k, n in enumerate(wiring.service_order)}
        self._needed_by: dict[int, list[int]] = {}
        for n, service in enumerate(wiring.services):
            for need in service.needs:
                self._needed_by.setdefault(need, []).append(n)
        for n in wiring.service_order:
            self.states[n] = self._state(n)
        # Whether a service is down never hangs on what is merely available: once more is enough.
        self._rejudge({s for strings in self._commanded.values() for s in strings})
        self.rejudged = {}

    def _judge(self, number: int) -> Verdict:
        string = self.config.wiring.strings[number]
        selected = None
        if string.cold:
            selected = self.if_selected.get(string.selected_by)
            if selected is None:
                selected = self.inputs.up(assume_on=string.selected_by)
                self.if_selected[string.selected_by] = selected
        through = self.config.wiring.command_service.get(string.selected_by, NONE)
        commandable = through == NONE or self.states[through] is not State.DOWN
        return judge(self.config, self.components, string, self.feed_up, selected, commandable)

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

    def update(
        self, changes: Sequence[Change], touched: Touched | None = None
    ) -> list[ServiceChange]:
        """Judge anew what the changes touched; return what stands otherwise than before.

        ``touched`` is what :func:`touched_by` says of the changes, where it is known already.
        """
        if touched is None:
            touched = touched_by(self.config, changes)
        altered = self.components.update(changes, touched.joined)
        edges = self.components.edges
        self.rejudged = {}
        if not (edges or touched.switches or touched.units):
            return []
        index = self.index
        stale: set[int] = set()
        for _, join in edges.sure:
            stale |= index.users(join.steps)
        for group in altered:
            stale |= index.ending_in(group)
        for unit in touched.units:
            self._note_gone(unit)
        if edges and (index.eager or index.tangled or self._gone):
            stale |= index.eager_near(edges, self.components.of, self._gone.values())
        for unit in touched.units:
            stale |= index.owners.get(unit, NOBODY)
        stale |= self._feeds_changed(touched)
        found = self._rejudge(stale)
        if self._commanded:
            turned = {c.service for c in found if State.DOWN in (c.before, c.after)}
            if not turned.isdisjoint(self._commanded):
                found += self._rejudge({s for n in turned for s in self._commanded.get(n, ())})
        return found

    def _feeds_changed(self, touched: Touched) -> set[int]:
        """Find the feeds anew; return the strings that a change among them may alter."""
        wiring = self.config.wiring
        if self.inputs.reaching and self.components.edges:
            self.inputs.find_all()
        elif not (touched.switches or touched.units):
            return set()
        up = self.inputs.up()
        changed = {n for n, (a, b) in enumerate(zip(up, self.feed_up, strict=True)) if a != b}
        self.feed_up = up
        if not (changed or touched.switches or touched.units):
            return set()
        self.if_selected.clear()
        stale = {
            n
            for n, string in enumerate(wiring.strings)
            if string.cold or not changed.isdisjoint(string.feeds)
        }
        for unit in touched.units:
            stale |= self.strings_near(self._ends_of.get(unit, ()))
        return stale

    def _note_gone(self, unit: int) -> None:
        """Note whether a unit, or a cap, is surely not there."""
        ends = self._ends_of.get(unit)
        if ends and is_gone(self.config, unit):
            self._gone[unit] = ends
        else:
            self._gone.pop(unit, None)

    def _rejudge(self, stale: set[int]) -> list[ServiceChange]:
        wiring = self.config.wiring
        before: dict[int, list[tuple[int, Verdict, Verdict]]] = {}
        for n in sorted(stale):
            old, new = self.verdicts[n], self._judge(n)
            self.verdicts[n] = new
            self.rejudged[n] = (self.rejudged.get(n, (old, new))[0], new)
            self.index.keep(n, old, new)
            if old.standing != new.standing:
                before.setdefault(wiring.strings[n].service, []).append((n, old, new))
        changes: list[ServiceChange] = []
        queue = [(self._rank[n], n) for n in before]
        heapify(queue)
        last = -1
        while queue:
            rank, n = heappop(queue)
            if rank == last:
                continue
            last = rank
            old_state, new_state = self.states[n], self._state(n)
            self.states[n] = new_state
            if old_state != new_state:
                for other in self._needed_by.get(n, ()):
                    heappush(queue, (self._rank[other], other))
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

    def strings_near(self, islands: Iterable[int]) -> set[int]:
        """Return the strings that end in a component one of these islands is in."""
        found: set[int] = set()
        for island in islands:
            if island != STRUCTURE:
                found |= self.index.ending_in(self.components.of[island].islands)
        return found

    def why_down(self, service: int) -> str:
        """Return what is wrong with the strings of a service, and what it needs, in words."""
        services = self.config.wiring.services
        texts = [
            trouble.text for s in services[service].strings for trouble in self.verdicts[s].troubles
        ]
        texts += [
            f"it needs {services[need].id}, which is down"
            for need in services[service].needs
            if self.states[need] is State.DOWN
        ]
        return "; ".join(dict.fromkeys(texts))

    def users(self, item: int) -> list[int]:
        """Return the strings whose own path uses the joined pair this half or cap belongs to."""
        return sorted(self.users_of((item,)))

    def users_of(self, items: Iterable[int]) -> set[int]:
        """Return the strings whose own path uses a joined pair one of these belongs to."""
        wiring, link = self.config.wiring, self.config.link
        joints = wiring.joints
        found: set[int] = set()
        seen: set[int] = set()
        for item in items:
            mate = link[item]
            if mate in seen and link[mate] == item:
                continue  # the pair was met from its other side
            if mate != NONE and joints[item] and joints[mate]:
                seen.add(item)
                found |= self.index.users(wiring.join(item, mate).steps)
        return found
