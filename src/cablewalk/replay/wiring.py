"""Wiring: the hardware compiled to integers, made once and never changed.

Items, islands, terminals, feeds, strings and services are numbered. An **island** is a set of
contacts and terminals joined for good; island 0 is structure.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from cablewalk.findings import Path

STRUCTURE = 0
"""The island of structure."""
NONE = -1
"""No item, no island, no link."""

STATEFUL = {
    "half": "half",
    "leg": "leg",
    "cap": "cap",
    "cover": "cover",
    "switch": "switch",
    "unit": "unit",
    "panel": "panel",
    "bag": "bag",
    "person": "actor",
}
"""Item kind to the machine that governs it. Places, paths, points, segments and harnesses
have no machine: they are where things are, or what they are part of."""


@dataclass(slots=True)
class Item:
    """One thing of the hardware: what it is called and where it stands."""

    kind: str
    id: str
    label: str
    where: str
    path: Path
    owner: int = NONE
    """Half: its panel or unit (fixed). Leg, segment: its harness. Panel, unit, switch, cover:
    its place."""
    role: str = ""
    """Half: ``fixed``, ``free`` or ``parking``. Person, unit: its kind."""

    @property
    def named(self) -> str:
        """The id, with the label as marked where that says more."""
        return self.id if not self.label or self.label == self.id else f"{self.id} ({self.label})"


@dataclass(slots=True)
class Terminal:
    """A terminal of a unit or of an electrical cap."""

    name: str
    owner: int
    island: int
    group: int
    """Terminals of one group pass voltage to one another through the unit."""
    family: int = 0
    """Terminals that some service means to be joined share a family."""


@dataclass(slots=True)
class FeedLine:
    """A feed: its terminals, switches and, for a converter, its input."""

    id: str
    unit: int
    hi: int
    ret: int
    volts: float
    limit_a: float | None
    switches: tuple[int, ...]
    input: tuple[int, int] | None
    accepts: tuple[int, ...]
    parallel_with: tuple[int, ...]
    grounded: bool
    path: Path
    limit_source: str = ""


@dataclass(slots=True)
class Conductor:
    """One line of a string, between two islands."""

    name: str
    a: int
    b: int
    a_terminal: int
    b_terminal: int
    """Terminal numbers; NONE for structure."""
    through: tuple[frozenset[int], ...] = ()
    parallel: tuple[int, ...] = ()
    need: int = 0
    banned: frozenset[int] = frozenset()
    family: int = 0


@dataclass(slots=True)
class StringLine:
    """One way of providing a service."""

    id: str
    service: int
    lines: tuple[Conductor, ...]
    load: tuple[Conductor, Conductor] | None
    """High and return, from the load's terminal; the other end is the feed's."""
    feeds: tuple[int, ...]
    terminated: tuple[int, ...]
    """Terminals that must be joined to the string."""
    cold: bool
    selected_by: int
    path: Path


@dataclass(slots=True)
class ServiceLine:
    """A service: its strings and how many it needs."""

    id: str
    kind: str
    label: str
    strings: tuple[int, ...]
    need: int
    needs: tuple[int, ...]
    recovery_s: int
    begins_established: bool
    arrives_with: int
    path: Path


class Join(NamedTuple):
    """What joining two halves, or half and cap, joins."""

    pairs: tuple[tuple[int, int], ...]
    """Islands: the first's, the second's. Pairs that join nothing (one is a stub, or both are
    the same island) are left out."""
    steps: frozenset[frozenset[int]]
    """The pairs, whichever way round."""
    islands: frozenset[int]


@dataclass(slots=True, eq=False, repr=False)
class Wiring:
    """All tables. Lists are indexed by item, island, terminal, feed, string or service."""

    items: list[Item] = field(default_factory=list)
    by_id: dict[str, int] = field(default_factory=dict)
    """Id to item; for a leg with a half it is the half."""
    leg_of: dict[int, int] = field(default_factory=dict)
    """Free half to its leg."""
    half_of: dict[int, int] = field(default_factory=dict)
    """Leg to the free half at its end."""
    legs_of: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Harness to its legs."""
    segments_of: dict[int, tuple[int, ...]] = field(default_factory=dict)
    segment_legs: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Segment to the legs whose own segment it is."""
    segment_of_leg: dict[int, int] = field(default_factory=dict)

    interface_key: dict[int, tuple[str, str, str, str, tuple[str, ...]]] = field(
        default_factory=dict
    )
    gender: dict[int, str] = field(default_factory=dict)
    contact_names: dict[int, tuple[str, ...]] = field(default_factory=dict)
    joints: list[tuple[int, ...]] = field(default_factory=list)
    """Item to the islands of its contacts, shell last; empty where it joins nothing."""
    sites: list[list[tuple[int, int]]] = field(default_factory=list)
    """Island to the (half or cap, contact position) pairs in it."""
    island_terminals: list[tuple[int, ...]] = field(default_factory=list)
    stubs: frozenset[int] = frozenset()
    """Islands of one contact and no terminal, which no line names: joining one joins nothing."""
    _joins: dict[tuple[int, int], Join] = field(default_factory=dict)
    _wired: dict[int, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    _of_kind: dict[str, list[int]] = field(default_factory=dict)
    _sorted: int = 0
    """How many items are sorted by kind."""
    _beyond: dict[tuple[int, int], tuple[tuple[int, int], ...]] = field(default_factory=dict)

    terminals: list[Terminal] = field(default_factory=list)
    terminal_by_name: dict[str, int] = field(default_factory=dict)
    group_members: list[tuple[int, ...]] = field(default_factory=list)
    structure_family: int = 0
    allowed: dict[int, frozenset[int]] = field(default_factory=dict)
    """Terminating terminal to the families it may be joined to."""
    any_power: dict[int, str] = field(default_factory=dict)
    """Input terminal of a converter that takes any feed to ``hi`` or ``ret``."""

    feeds: list[FeedLine] = field(default_factory=list)
    feed_by_id: dict[str, int] = field(default_factory=dict)
    strings: list[StringLine] = field(default_factory=list)
    services: list[ServiceLine] = field(default_factory=list)
    service_by_id: dict[str, int] = field(default_factory=dict)
    service_order: tuple[int, ...] = ()
    """Services so ordered that what a service needs comes before it."""

    cap_on: dict[int, int] = field(default_factory=dict)
    """Cap to the half it belongs to."""
    cap_of: dict[int, int] = field(default_factory=dict)
    """Half to its own cap."""
    cap_fits: dict[int, tuple[tuple[str, str, str, str, tuple[str, ...]], str]] = field(
        default_factory=dict
    )
    cap_tethered: dict[int, bool] = field(default_factory=dict)
    covers_over: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Half to the covers above it."""
    cover_segments: dict[int, tuple[int, ...]] = field(default_factory=dict)
    fasteners: dict[int, int] = field(default_factory=dict)
    command_service: dict[int, int] = field(default_factory=dict)
    """Switch to the service it is commanded through."""
    by_hand: frozenset[int] = frozenset()
    can_hold: dict[int, int] = field(default_factory=dict)
    path_ends: dict[int, tuple[int, int]] = field(default_factory=dict)
    path_length_m: dict[int, float] = field(default_factory=dict)
    point_path: dict[int, int] = field(default_factory=dict)
    """Tie point to the path it is on."""
    mounted: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Panel or unit to the halves on it."""

    def item(self, kind: str, name: str) -> int:
        """Return the item of this kind and id, or NONE."""
        index = self.by_id.get(name, NONE)
        if index == NONE:
            return NONE
        if kind == "leg" and self.items[index].kind == "half":
            return self.leg_of.get(index, NONE)
        return index if self.items[index].kind == kind else NONE

    def join(self, item: int, mate: int) -> Join:
        """Return what joining two halves, or half and cap, joins: kept, for it never changes."""
        join = self._joins.get((item, mate))
        if join is None:
            stubs = self.stubs
            pairs = tuple(
                (a, b)
                for a, b in zip(self.joints[item], self.joints[mate], strict=False)
                if a != b and a not in stubs and b not in stubs
            )
            steps = frozenset(map(frozenset, pairs))
            join = self._joins[(item, mate)] = Join(pairs, steps, frozenset().union(*pairs))
        return join

    def joins(self, item: int, mate: int) -> tuple[tuple[int, int], ...]:
        """Return the island pairs that joining two halves, or half and cap, joins."""
        return self.join(item, mate).pairs

    def wired(self, item: int) -> tuple[tuple[int, int], ...]:
        """Return (position, island) of each contact of a half or cap whose island is no stub."""
        found = self._wired.get(item)
        if found is None:
            rows = enumerate(self.joints[item])
            found = self._wired[item] = tuple((n, i) for n, i in rows if i not in self.stubs)
        return found

    def beyond(self, half: int, mate: int) -> tuple[tuple[int, int], ...]:
        """Return (position, the mate's island) of each contact wired at the mate's end only."""
        found = self._beyond.get((half, mate))
        if found is None:
            own, stubs = self.joints[half], self.stubs
            rows = self.wired(mate) if own else ()
            found = self._beyond[half, mate] = tuple(row for row in rows if own[row[0]] in stubs)
        return found

    def ids(self, *kinds: str) -> list[int]:
        """Return the items of these kinds, in document order."""
        if len(self.items) != self._sorted:  # items are only ever added, while it is compiled
            self._of_kind = {}
            for n, item in enumerate(self.items):
                self._of_kind.setdefault(item.kind, []).append(n)
            self._sorted = len(self.items)
        if len(kinds) == 1:
            return self._of_kind.get(kinds[0], []).copy()
        return sorted(n for kind in kinds for n in self._of_kind.get(kind, ()))

    def contact(self, half: int, position: int) -> str:
        """Return the printed name of a contact."""
        names = self.contact_names[half]
        name = names[position] if position < len(names) else "shell"
        return f"{self.items[half].id}.{name}"

    def island_name(self, island: int) -> str:
        """Return a short printed name of an island: a terminal of it, else a contact."""
        if island == STRUCTURE:
            return "structure"
        for terminal in self.island_terminals[island]:
            return self.terminals[terminal].name
        for half, position in self.sites[island]:
            return self.contact(half, position)
        return "a bare conductor"
