"""What moves: cables' connectors, caps that carry current, units and panels, in order of time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.timeline.account import Account
from cablewalk.units import clock, minutes
from cablewalk.walk.trace import Event

_FATES: Final = {"old": "comes off", "moved": "moves", "new": "goes on"}
"""What a picture calls a cable, and how the book says it; in this order they are told."""


@dataclass(frozen=True, slots=True)
class Move:
    """A connector, wired cap, unit or panel that comes off, or goes on."""

    phase: int
    step: str
    pet: str
    kind: str
    """``cable``, ``cap``, ``unit`` or ``panel``."""
    owner: str
    """What moves as a whole, as it is marked: the cable, or the thing itself."""
    item: str
    """What comes off or goes on: the connector with its cable's label, or the thing itself."""
    verb: str
    """``off``, ``on``, ``parked on``, ``installed at`` or ``removed from``."""
    other: str
    """The half, as marked; of a unit or panel the place."""
    place: str
    """Where that is, as marked; empty where it is not known."""
    at_min: float
    """Mission elapsed minutes."""
    is_echo: bool = False
    """Of two free connectors that are joined or parted, the one told second."""

    @property
    def is_on(self) -> bool:
        """Whether it goes on."""
        return self.verb not in ("off", "removed from")

    @property
    def words(self) -> str:
        """The move in one line."""
        return f"{self.item} {self.verb} {self.other}"


@dataclass(slots=True)
class Thing:
    """What the work alters as a whole: what it is taken off, what it is put on."""

    kind: str
    named: str
    fate: str
    """``comes off``, ``goes on`` or ``moves``."""
    carries: tuple[str, ...]
    off: list[Move] = field(default_factory=list)
    on: list[Move] = field(default_factory=list)

    @property
    def trail(self) -> list[Move]:
        """Of a thing with one connector: where it comes off first, then all it is put on."""
        return [*self.off[:1], *self.on]


def moves_of(account: Account) -> list[Move]:
    """Return every move of the replay in order of time."""
    trace = account.trace
    config = trace.start.copy()
    marks = marks_of(trace.wiring)
    ends = {(e.task.phase, e.task.serial): e.time_s for e in trace.events if not e.begins}
    found: list[Move] = []
    for event in trace.events:
        # A connector is on its half as it is put there; it is mated when that is done.
        done_s = ends.get((event.task.phase, event.task.serial), event.time_s)
        found.extend(_joined(account, config, event, done_s, marks))
        touched = {c.item for c in event.changes if c.field is Field.STATE}
        others = sorted(i for i in touched if _is_other(account, i))
        before = [(config.state_name(i), config.link[i]) for i in others]
        config.apply(event.changes)
        for item, (state, link) in zip(others, before, strict=True):
            found.extend(_seated(account, config, event, item, state, link))
    return sorted(found, key=lambda move: move.at_min)


def _joined(
    account: Account, config: Configuration, event: Event, done_s: int, marks: Mapping[str, str]
) -> Iterator[Move]:
    """Yield the connectors of cables that an event is about to join or part."""
    wiring = account.trace.wiring
    told: set[frozenset[int]] = set()
    for change in event.changes:
        item = wiring.items[change.item]
        if change.field is not Field.LINK or item.kind != "half" or item.role != "free":
            continue
        for verb, mate in (("off", config.link[change.item]), ("on", change.new)):
            if not isinstance(mate, int) or mate == NONE or wiring.items[mate].kind != "half":
                continue
            parked = verb == "on" and wiring.items[mate].role == "parking"
            pair = frozenset((change.item, mate))
            yield Move(
                event.task.phase,
                event.task.step_id,
                _pet(account, event, done_s),
                "cable",
                _cable(wiring, change.item),
                _marked(wiring, change.item, marks),
                "parked on" if parked else verb,
                _marked(wiring, mate, marks),
                _place(config, mate),
                minutes(done_s),
                pair in told,
            )
            told.add(pair)


def _is_other(account: Account, item: int) -> bool:
    """Whether a thing is a unit, a panel, or a cap that carries current."""
    row = account.trace.wiring.items[item]
    if row.kind == "cap":
        return account.ground.baseline.caps[row.id].electrical
    return row.kind in ("unit", "panel")


def _seated(
    account: Account, config: Configuration, event: Event, item: int, state: str, link: int
) -> Iterator[Move]:
    """Yield how a wired cap, unit or panel came off or went on, given how it stood before."""
    wiring = account.trace.wiring
    row = wiring.items[item]
    rest = "fitted" if row.kind == "cap" else "installed"
    is_on = config.state_name(item) == rest
    if is_on == (state == rest):
        return
    if row.kind == "cap":
        half = config.link[item] if is_on else link
        verb, other, place = (
            "on" if is_on else "off",
            wiring.items[half].named,
            _place(config, half),
        )
    else:
        verb, place = "installed at" if is_on else "removed from", ""
        other = wiring.items[row.owner].label or wiring.items[row.owner].id
    yield Move(
        event.task.phase,
        event.task.step_id,
        _pet(account, event, event.time_s),
        row.kind,
        row.named,
        row.named,
        verb,
        other,
        place,
        minutes(event.time_s),
    )


def _pet(account: Account, event: Event, at_s: int) -> str:
    return clock(at_s - account.trace.phases[event.task.phase].zero_s)


def marks_of(wiring: Wiring) -> dict[str, str]:
    """Return the id of each cable end to the label that its cable bears, where it bears one."""
    found = {}
    for leg, half in wiring.half_of.items():
        label = wiring.items[wiring.items[leg].owner].label
        if label and not wiring.items[half].label:
            found[wiring.items[half].id] = label
    return found


def _marked(wiring: Wiring, half: int, marks: Mapping[str, str]) -> str:
    item = wiring.items[half]
    return f"{item.id} ({marks[item.id]})" if item.id in marks else item.named


def _place(config: Configuration, half: int) -> str:
    spot = config.place_of(half)
    return "" if spot == NONE else config.wiring.items[spot].label or config.wiring.items[spot].id


def _cable(wiring: Wiring, half: int) -> str:
    leg = wiring.leg_of.get(half, NONE)
    owner = wiring.items[leg].owner if leg != NONE else NONE
    return wiring.items[owner].named if owner != NONE else ""


def things_of(
    account: Account, moves: list[Move], roles: dict[int, str], carries: dict[int, tuple[int, ...]]
) -> list[Thing]:
    """Return what the work alters: taken off, then moved, then put on; cables before the rest.

    Args:
        account: the replay.
        moves: all its moves.
        roles: harness to ``old``, ``new``, ``moved`` or nothing.
        carries: harness to the services that ever run over it.
    """
    wiring = account.trace.wiring
    found: list[Thing] = []
    for harness, role in roles.items():
        if role in _FATES:
            named = wiring.items[harness].named
            services = tuple(wiring.services[s].id for s in carries.get(harness, ()))
            found.append(Thing("cable", named, _FATES[role], services))
    others = {move.owner: move.kind for move in moves if move.kind != "cable"}
    for named, kind in others.items():
        own = {move.is_on for move in moves if move.owner == named and move.kind == kind}
        fate = "moves" if len(own) == 2 else ("goes on" if own == {True} else "comes off")
        found.append(Thing(kind, named, fate, _served(wiring, named)))
    for thing in found:
        own_moves = [m for m in moves if (m.kind, m.owner) == (thing.kind, thing.named)]
        thing.off = [m for m in own_moves if not m.is_on]
        thing.on = [m for m in own_moves if m.is_on]
    order = list(_FATES.values())
    return sorted(found, key=lambda thing: order.index(thing.fate))


def _served(wiring: Wiring, named: str) -> tuple[str, ...]:
    """Return the services that begin, end or are terminated in a cap, unit or panel."""
    ends = {n for n, end in enumerate(wiring.terminals) if wiring.items[end.owner].named == named}
    found: dict[str, None] = {}
    for string in wiring.strings:
        lines = [*string.lines, *(string.load or ())]
        own = {t for line in lines for t in (line.a_terminal, line.b_terminal)}
        if ends & (own | set(string.terminated)):
            found[wiring.services[string.service].id] = None
    return tuple(found)
