"""What moves: every connector that is mated or demated, in order, and cable by cable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.reports.outage import OutageRow
from cablewalk.timeline.account import Account
from cablewalk.units import clock, minutes


@dataclass(frozen=True, slots=True)
class Move:
    """One connector of a cable that comes off a half or goes onto one."""

    phase: int
    step: str
    pet: str
    cable: str
    """The cable as it is marked."""
    half: str
    verb: str
    """``off``, ``on`` or ``parked on``."""
    other: str
    place: str
    """Where that is, as marked; empty where it is not known."""
    at_min: float
    """Mission elapsed minutes."""

    @property
    def words(self) -> str:
        """The move in one line."""
        return f"{self.half} {self.verb} {self.other}"


@dataclass(slots=True)
class Cable:
    """A cable that the work alters: what it is taken off, what it is put on."""

    id: str
    named: str
    fate: str
    """``comes off``, ``goes on`` or ``moves``."""
    carries: tuple[str, ...]
    off: list[Move] = field(default_factory=list)
    on: list[Move] = field(default_factory=list)


def moves_of(account: Account) -> list[Move]:
    """Return every mate and demate of the replay in order of time."""
    trace = account.trace
    wiring, config = trace.wiring, trace.start.copy()
    found: list[Move] = []
    for event in trace.events:
        for change in event.changes:
            item = wiring.items[change.item]
            if change.field is not Field.LINK or item.kind != "half" or item.role != "free":
                continue
            old, new = config.link[change.item], change.new
            timed = trace.phases[event.task.phase]
            for verb, mate in (("off", old), ("on", new)):
                if not isinstance(mate, int) or mate == NONE or wiring.items[mate].kind != "half":
                    continue
                parked = verb == "on" and wiring.items[mate].role == "parking"
                found.append(
                    Move(
                        event.task.phase,
                        event.task.step_id,
                        clock(event.time_s - timed.zero_s),
                        _cable(wiring, change.item),
                        item.named,
                        "parked on" if parked else verb,
                        wiring.items[mate].named,
                        _place(config, mate),
                        minutes(event.time_s),
                    )
                )
        config.apply(event.changes)
    return found


@dataclass(slots=True)
class Beat:
    """What one step does to connectors, or to services: a line of the order of the work."""

    at_min: float
    step: str
    pet: str
    kind: str
    """``moves``, ``dark`` or ``back``."""
    words: list[str] = field(default_factory=list)


def beats_of(moves: Sequence[Move], outages: Sequence[OutageRow], phase: int) -> list[Beat]:
    """Return in order of time what moves, goes dark and comes back in a phase (from 0)."""
    found: dict[tuple[str, str], Beat] = {}

    def tell(kind: str, step: str, at_min: float, pet: str, words: str) -> None:
        beat = found.setdefault((kind, step), Beat(at_min, step, pet, kind))
        beat.words.append(words)

    for move in (m for m in moves if m.phase == phase):
        tell("moves", move.step, move.at_min, move.pet, move.words)
    for row in outages:
        if row.lost_by_step and row.from_pet.phase_number == phase + 1:
            tell("dark", row.lost_by_step, row.from_min, row.from_pet.pet, row.service)
        if row.to_min is None or row.to_pet is None or row.retired or not row.restored_by_step:
            continue
        if row.to_pet.phase_number == phase + 1:
            tell("back", row.restored_by_step, row.to_min, row.to_pet.pet, row.service)
    return sorted(found.values(), key=lambda beat: beat.at_min)


def _place(config: Configuration, half: int) -> str:
    spot = config.place_of(half)
    return "" if spot == NONE else config.wiring.items[spot].label or config.wiring.items[spot].id


def _cable(wiring: Wiring, half: int) -> str:
    leg = wiring.leg_of.get(half, NONE)
    owner = wiring.items[leg].owner if leg != NONE else NONE
    return wiring.items[owner].named if owner != NONE else ""


def cables_of(
    account: Account, moves: list[Move], roles: dict[int, str], carries: dict[int, tuple[int, ...]]
) -> list[Cable]:
    """Return the cables that the work alters: taken off, then moved, then put on.

    Args:
        account: the replay.
        moves: all its moves.
        roles: harness to ``old``, ``new``, ``moved`` or nothing.
        carries: harness to the services that ever run over it.
    """
    wiring = account.trace.wiring
    fates = {"old": "comes off", "moved": "moves", "new": "goes on"}
    found: list[Cable] = []
    for role, fate in fates.items():
        for harness in (h for h, r in roles.items() if r == role):
            named = wiring.items[harness].named
            own = [m for m in moves if m.cable == named]
            services = tuple(wiring.services[s].id for s in carries.get(harness, ()))
            cable = Cable(wiring.items[harness].id, named, fate, services)
            cable.off = [m for m in own if m.verb == "off"]
            cable.on = [m for m in own if m.verb != "off"]
            found.append(cable)
    return found
