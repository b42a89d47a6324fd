"""Where every contact that is wired to a unit goes: end to end over mated pairs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Literal

from pydantic import Field

from cablewalk.continuity.graph import is_sure
from cablewalk.replay.configuration import AWAITED
from cablewalk.replay.wiring import NONE, STRUCTURE
from cablewalk.reports.base import Part
from cablewalk.reports.table_half import owner_of
from cablewalk.reports.table_moment import Moment

WAYS_AT_MOST: Final = 1000
"""Ways listed from one end; what is left off is told by name."""

Kind = Literal["terminal", "structure", "open", "spare"]


class HopRow(Part):
    """A mated pair on the way, with the contacts it joins."""

    near: str = Field(description="Id of the half (or electrical cap) on the start's side.")
    far: str = Field(description="Id of the half (or electrical cap) on the other side.")
    contacts: tuple[str, ...] = Field(
        description="The contacts, the same on both; several where they lie in parallel."
    )
    sure: bool = Field(description="False: part-engaged, lock not verified, or being worked on.")


class WayRow(Part):
    """One way from a terminal over mated pairs to an end. A splice makes several ways."""

    place: str = Field(description="Id of the place where it starts; empty: not known.")
    on: str = Field(description="Id of the panel, unit or harness whose half it leaves by.")
    on_label: str = Field(description="The label of that, as marked; may be empty.")
    start: tuple[str, ...] = Field(description="The terminals it starts from (UNIT.terminal).")
    hops: tuple[HopRow, ...] = Field(description="The mated pairs, in order.")
    end_kind: Kind = Field(
        description="terminal, structure, open (a contact with nothing on it), or spare (a "
        "contact that leads nowhere behind its half)."
    )
    end: tuple[str, ...] = Field(description="The terminals it ends on, or the contacts.")
    end_state: str = Field(description="How an open end stands; empty for other ends.")
    strings: tuple[str, ...] = Field(description="Ids of the strings that run over the whole way.")


class WaysTable(Part):
    """All ways at one moment."""

    rows: tuple[WayRow, ...] = Field(
        description="By place and panel of the start. A way between two terminals stands once, "
        "from the source's side."
    )
    left_off: tuple[str, ...] = Field(
        description="Starts with more ways than are listed; ways of theirs are missing."
    )


Pair = tuple[int, int, int]
"""(island on the far side, half or cap on this side, its mate)."""
Edge = tuple[int, int, int]
"""(half or cap on this side, its mate, contact position)."""


@dataclass(slots=True)
class _Way:
    """A way before it is put into words."""

    path: tuple[int, ...]
    edges: tuple[tuple[Edge, ...], ...]
    kind: Kind
    opens: tuple[tuple[int, int], ...] = ()
    """For a way without a terminal at its end, the (half or cap, position) it ends at."""


@dataclass
class _Walk:
    """Walks over islands that carry mated pairs."""

    moment: Moment
    left_off: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.config = self.moment.scene.config
        self.wiring = self.moment.scene.wiring

    def around(self, island: int) -> tuple[dict[Pair, list[Edge]], list[tuple[int, int]]]:
        """Return the joins of an island, by pair and where it leads, and the contacts with none."""
        config, joints = self.config, self.wiring.joints
        joined: dict[Pair, list[Edge]] = {}
        loose = []
        for item, position in self.wiring.sites[island]:
            mate = config.link[item]
            if mate != NONE and config.link[mate] == item and joints[mate]:
                pair = (joints[mate][position], item, mate)
                joined.setdefault(pair, []).append((item, mate, position))
            elif self.wiring.items[item].kind == "half":
                loose.append((item, position))
        return joined, loose

    def from_terminals(self, start: int) -> Iterator[_Way]:
        """Yield every way from an island, depth first; no island twice on one way."""
        joined, loose = self.around(start)
        if start == STRUCTURE:
            joined = {k: [e for e in v if not self._shell(e[0], e[2])] for k, v in joined.items()}
            joined, loose = {k: v for k, v in joined.items() if v}, []
        for contact in loose:
            if not self._shell(*contact):
                yield _Way((start,), (), "open", (contact,))
        stack: list[tuple[tuple[int, ...], tuple[tuple[Edge, ...], ...]]]
        stack = [((start, pair[0]), (tuple(edges),)) for pair, edges in reversed(joined.items())]
        count = 0
        while stack:
            path, edges = stack.pop()
            for way in self._ends(path, edges):
                count += 1
                if count > WAYS_AT_MOST:
                    self.left_off.append(start)
                    return
                yield way
            if not self._is_end(path[-1]):
                onward = self.around(path[-1])[0]
                stack.extend(
                    ((*path, pair[0]), (*edges, tuple(more)))
                    for pair, more in reversed(onward.items())
                    if pair[0] not in path
                )

    def _shell(self, item: int, position: int) -> bool:
        return position >= len(self.wiring.contact_names.get(item, ()))

    def _is_end(self, island: int) -> bool:
        return island == STRUCTURE or bool(self.wiring.island_terminals[island])

    def _ends(self, path: tuple[int, ...], edges: tuple[tuple[Edge, ...], ...]) -> Iterator[_Way]:
        """Yield the ways that end in the last island of a path."""
        last = path[-1]
        if self._is_end(last):
            yield _Way(path, edges, "structure" if last == STRUCTURE else "terminal")
            return
        joined, loose = self.around(last)
        for contact in loose:
            yield _Way(path, edges, "open", (contact,))
        if not loose and {pair[0] for pair in joined} <= {path[-2]}:
            entered = tuple((mate, position) for _item, mate, position in edges[-1])
            yield _Way(path, edges, "spare", entered)


def way_table(moment: Moment) -> WaysTable:
    """Return every way at a moment from contacts that are joined for good to a unit's terminal."""
    wiring = moment.scene.wiring
    walk = _Walk(moment)
    serves = _serves(moment)
    rank = _ranks(moment)
    rows = []
    for island, terminals in enumerate(wiring.island_terminals):
        owners = (wiring.items[wiring.terminals[t].owner].kind for t in terminals)
        if "unit" not in owners:
            continue
        for way in walk.from_terminals(island):
            if not way.opens and rank[way.path[-1]] < rank[island]:
                continue
            rows.append((_order(moment, way), _way_row(moment, way, serves)))
    return WaysTable(
        rows=tuple(row for _key, row in sorted(rows, key=lambda entry: entry[0])),
        left_off=tuple(wiring.island_name(island) for island in walk.left_off),
    )


def _ranks(moment: Moment) -> dict[int, tuple[int, int]]:
    """Return island to what tells the start of a way from its end.

    Sources stand first, then units as the baseline has them, caps, and structure last.
    """
    wiring = moment.scene.wiring
    fed = {terminal for feed in wiring.feeds for terminal in (feed.hi, feed.ret)}
    ranks = {STRUCTURE: (3, 0)}
    for island, terminals in enumerate(wiring.island_terminals):
        if island == STRUCTURE or not terminals:
            continue
        caps = all(wiring.items[wiring.terminals[t].owner].kind == "cap" for t in terminals)
        kind = 0 if fed.intersection(terminals) else 2 if caps else 1
        ranks[island] = (kind, terminals[0])
    return ranks


def _leaves_by(way: _Way) -> tuple[int, int]:
    """Return the (half, position) by which a way leaves its start."""
    if way.edges:
        item, _mate, position = way.edges[0][0]
        return item, position
    return way.opens[0]


def _order(moment: Moment, way: _Way) -> tuple[int | bool | tuple[int, ...], ...]:
    half, position = _leaves_by(way)
    place = moment.place(half)
    steps = tuple(n for edges in way.edges for edge in edges for n in edge)
    opens = tuple(n for contact in way.opens for n in contact)
    return place == NONE, place, owner_of(moment, half), half, position, steps, opens, way.path


def _serves(moment: Moment) -> dict[frozenset[int], set[int]]:
    """Return joined island pair to the courses over it; awaited services are left out."""
    found: dict[frozenset[int], set[int]] = {}
    for n, course in enumerate(moment.courses):
        service = moment.scene.wiring.strings[course.string].service
        if moment.scene.views[service].life != AWAITED:
            for step in pairwise(course.path):
                found.setdefault(frozenset(step), set()).add(n)
    return found


def _way_row(moment: Moment, way: _Way, serves: dict[frozenset[int], set[int]]) -> WayRow:
    wiring = moment.scene.wiring
    half, _position = _leaves_by(way)
    place, owner = moment.place(half), owner_of(moment, half)
    over = [serves.get(frozenset(step), set()) for step in pairwise(way.path)]
    whole = set.intersection(*over) if over and not way.opens else set()
    strings = sorted({moment.courses[n].string for n in whole})
    end: tuple[str, ...]
    if way.opens:
        end = tuple(wiring.contact(*contact) for contact in way.opens)
    elif way.kind == "structure":
        end = ("structure", *_terminals(moment, STRUCTURE))
    else:
        end = _terminals(moment, way.path[-1])
    return WayRow(
        place="" if place == NONE else wiring.items[place].id,
        on=wiring.items[owner].id,
        on_label=wiring.items[owner].label,
        start=_terminals(moment, way.path[0]),
        hops=tuple(_hop(moment, edges) for edges in way.edges),
        end_kind=way.kind,
        end=end,
        end_state=_open_state(moment, way.opens[0][0]) if way.kind == "open" else "",
        strings=tuple(wiring.strings[s].id for s in strings),
    )


def _terminals(moment: Moment, island: int) -> tuple[str, ...]:
    wiring = moment.scene.wiring
    return tuple(wiring.terminals[t].name for t in wiring.island_terminals[island])


def _hop(moment: Moment, edges: tuple[Edge, ...]) -> HopRow:
    """Return the joins of one pair between two islands as one hop."""
    config, wiring = moment.scene.config, moment.scene.wiring
    item, mate, _position = edges[0]
    names = (*wiring.contact_names[item], "shell")
    return HopRow(
        near=wiring.items[item].id,
        far=wiring.items[mate].id,
        contacts=tuple(names[position] for _item, _mate, position in edges),
        sure=is_sure(config, item, mate),
    )


def _open_state(moment: Moment, half: int) -> str:
    """Return how a half stands whose contacts touch nothing, with what is on it."""
    config, wiring = moment.scene.config, moment.scene.wiring
    on = config.link[half]
    if on == NONE:
        state = config.state_name(half)
    elif wiring.items[on].kind == "cap":
        state = f"capped by {wiring.items[on].id}"
    else:
        state = f"parked on {wiring.items[on].id}"
    owner = wiring.items[half].owner
    gone = owner != NONE and config.state_name(owner) != "installed"
    return f"{state}, {wiring.items[owner].id} {config.state_name(owner)}" if gone else state
