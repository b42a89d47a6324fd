"""A table a service: how it stands after each reachable set of the events that touch it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from cablewalk.continuity.services import Continuity, State
from cablewalk.orders.network import Network, Replayed, bits
from cablewalk.orders.support import Support
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import RETIRED
from cablewalk.replay.wiring import NONE

SETS_AT_MOST: Final = 5_000
"""Reachable sets a table may have; past that the service is not judged in other orders."""

_STATES: Final = frozenset({Field.STATE, Field.LINK, Field.CLAIM, Field.COUNT})


class Standing(NamedTuple):
    """How a service stands at one reachable set."""

    down: bool
    arrived: bool
    """It is not down, and the unit it arrives with is there: awaited no longer."""


class TooMany(Exception):
    """A service has more reachable sets than a table may have."""


@dataclass(slots=True)
class Table:
    """One service over the events that matter to it.

    Attributes:
        service: its number.
        events: the events, by number in the network; bit ``n`` of a set is ``events[n]``.
        life: its life at the start.
        at: reachable set to how it stands there.
        breaks: (set, event's bit) where a join on the service's own path is broken.
        retires: bits of the events that retire it.
    """

    service: int
    events: tuple[int, ...]
    life: int
    at: dict[int, Standing] = field(default_factory=dict)
    breaks: set[tuple[int, int]] = field(default_factory=set)
    retires: frozenset[int] = frozenset()
    verifies: frozenset[int] = frozenset()
    """Bits of the events that verify it, where that matters."""

    def inert(self) -> set[int]:
        """Return the bits of the events that never make a difference, whenever they happen."""
        idle = set(range(len(self.events))) - self.retires - self.verifies
        idle -= {bit for _, bit in self.breaks}
        broken: dict[int, set[int]] = {}
        for before, bit in self.breaks:
            broken.setdefault(before, set()).add(bit)
        for before, standing in self.at.items():
            for bit in tuple(idle):
                after = before | 1 << bit
                if after == before or after not in self.at:
                    continue
                same = broken.get(before, _NONE) == broken.get(after, _NONE)
                if self.at[after] != standing or not same:
                    idle.discard(bit)
        return idle

    def without(self, bits_out: set[int]) -> Table:
        """Return the table without events that make no difference."""
        kept = [n for n in range(len(self.events)) if n not in bits_out]
        place = {n: k for k, n in enumerate(kept)}

        def smaller(group: int) -> int:
            return sum(1 << place[n] for n in bits(group) if n in place)

        return Table(
            self.service,
            tuple(self.events[n] for n in kept),
            self.life,
            {smaller(group): standing for group, standing in self.at.items()},
            {(smaller(group), place[bit]) for group, bit in self.breaks},
            frozenset(place[bit] for bit in self.retires),
            frozenset(place[bit] for bit in self.verifies),
        )


_NONE: Final[frozenset[int]] = frozenset()


class Tables:
    """Makes the tables of one replay. Nothing of the replay is altered."""

    def __init__(
        self,
        replayed: Replayed,
        network: Network,
        support: Support,
        breaking: frozenset[str],
    ) -> None:
        """``breaking``: verbs whose beginning breaks the joins of what they are at work on."""
        self.replayed = replayed
        self.network = network
        self.support = support
        self.breaking = breaking
        self.config = replayed.start.copy()
        self.continuity = Continuity(self.config)
        self.changes: dict[int, list[Change]] = {}
        """Event to the changes it made when it was replayed."""
        for happened in replayed.happened:
            self.changes.setdefault(happened.event, []).extend(happened.changes)

    def touching(self, service: int) -> list[int]:
        """Return the events that touch a service, by number in the network."""
        items = self.support.of(service)
        return sorted(
            number
            for number, changes in self.changes.items()
            if any(
                (c.field in _STATES and c.item in items)
                or (c.field is Field.LIFE and c.item == service and c.new == RETIRED)
                for c in changes
            )
        )

    def verifying(self, service: int) -> list[int]:
        """Return the events at which a verify of a service is over, by number in the network."""
        name = self.config.wiring.services[service].id
        return sorted(
            number
            for number in self.changes
            if number & 1 and self.network.events[number].task.action.verify == name
        )

    def table(
        self, service: int, events: Sequence[int], breaks: bool, verifies: Sequence[int] = ()
    ) -> Table:
        """Return the table of a service over these events.

        Args:
            service: its number.
            events: what touches it, and what else matters.
            breaks: whether broken joins matter (it has a clock that starts at the demate).
            verifies: those of the events that verify it, if that matters.

        Raises:
            TooMany: it would be larger than :data:`SETS_AT_MOST`.
        """
        earlier = self.network.earlier
        return _Build(self, service, events, breaks, earlier, SETS_AT_MOST, verifies).table

    def along(
        self, service: int, events: Sequence[int], breaks: bool, verifies: Sequence[int] = ()
    ) -> Table:
        """Return the table of a service over one order of its events only, the one given."""
        past, earlier = 0, dict[int, int]()
        for event in events:
            earlier[event] = past
            past |= 1 << event
        return _Build(self, service, events, breaks, earlier, len(events) + 1, verifies).table


class _Build:
    """Walks all reachable sets of some events, depth first, changes done and undone."""

    def __init__(
        self,
        own: Tables,
        service: int,
        events: Sequence[int],
        breaks: bool,
        earlier: Sequence[int] | Mapping[int, int],
        most: int,
        verifies: Sequence[int],
    ) -> None:
        self.own = own
        self.most = most
        self.config = own.config
        self.items = own.support.of(service)
        row = own.config.wiring.services[service]
        self.strings = frozenset(row.strings)
        self.with_breaks = breaks
        self.arrives_with = row.arrives_with
        self.waits = [
            sum(1 << n for n, other in enumerate(events) if earlier[event] >> other & 1)
            for event in events
        ]
        retires = frozenset(
            n
            for n, event in enumerate(events)
            if any(
                c.field is Field.LIFE and c.item == service and c.new == RETIRED
                for c in own.changes[event]
            )
        )
        life = own.replayed.lives[service]
        seeing = frozenset(n for n, event in enumerate(events) if event in verifies)
        self.table = Table(service, tuple(events), life, retires=retires, verifies=seeing)
        self._walk()

    def _standing(self) -> Standing:
        down = self.own.continuity.states[self.table.service] is State.DOWN
        unit = self.arrives_with
        there = unit == NONE or self.config.state_name(unit) == "installed"
        return Standing(down, there and not down)

    def _walk(self) -> None:
        table = self.table
        table.at[0] = self._standing()
        stack: list[tuple[int, list[int], list[Change]]] = [(0, self._open(0), [])]
        while stack:
            group, still, came_by = stack[-1]
            if not still:
                stack.pop()
                self._undo(came_by)
                continue
            bit = still.pop()
            after = group | 1 << bit
            if self.with_breaks and self._breaks(table.events[bit]):
                table.breaks.add((group, bit))
            if after in table.at:
                continue
            done = self._do(table.events[bit])
            table.at[after] = self._standing()
            if len(table.at) > self.most:
                for _, _, changes in [(0, 0, done), *reversed(stack)]:
                    self._undo(changes)
                raise TooMany
            stack.append((after, self._open(after), done))

    def _open(self, group: int) -> list[int]:
        """Return the bits of the events that can come next."""
        return [
            n for n, waits in enumerate(self.waits) if not group >> n & 1 and waits & ~group == 0
        ]

    def _do(self, event: int) -> list[Change]:
        changes = []
        for field_, item, _, new in self.own.changes[event]:
            if field_ in _STATES and item in self.items:
                changes.append(Change(field_, item, self.config.value(field_, item), new))
                self.config.apply(changes[-1:])
        self.own.continuity.update(changes)
        return changes

    def _undo(self, changes: list[Change]) -> None:
        if changes:
            self.config.undo(changes)
            self.own.continuity.update([change.inverse for change in reversed(changes)])

    def _breaks(self, event: int) -> bool:
        row = self.own.network.events[event]
        if not row.begins or row.task.verb not in self.own.breaking:
            return False
        moving = {c.item for c in self.own.changes[event] if c.field is Field.CLAIM}
        users = (s for item in moving for s in self.own.continuity.users(item))
        return not self.strings.isdisjoint(users)
