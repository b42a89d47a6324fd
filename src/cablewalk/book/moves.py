"""What moves: every connector that is mated or demated, in order, and cable by cable."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.replay.change import Field
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.timeline.account import Account
from cablewalk.units import clock


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
                    )
                )
        config.apply(event.changes)
    return found


def by_step(moves: list[Move]) -> list[list[Move]]:
    """Return the moves of one phase step by step, the steps by their first move."""
    found: dict[str, list[Move]] = {}
    for move in moves:
        found.setdefault(move.step, []).append(move)
    return list(found.values())


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
