"""Where everybody is, task by task, and every way that is gone."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.replay.change import Field
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.account import Account
from cablewalk.units import SECONDS_PER_MIN, clock

TaskKey = tuple[int, int]
"""Phase and serial number of a task."""


@dataclass(frozen=True, slots=True)
class Translation:
    """One way that a person went."""

    phase: int
    person: str
    step: str
    pet: str
    """When they set out, phase elapsed time."""
    start: str
    end: str
    takes: str
    """``H:MM``; less than a minute in seconds."""
    with_bags: tuple[str, ...] = ()


@dataclass(slots=True)
class Whereabouts:
    """Places of people: as each task begins, and each change of place."""

    at: dict[tuple[TaskKey, str], str] = field(default_factory=dict)
    """(task, person) to the place as it is marked."""
    ways: list[Translation] = field(default_factory=list)


def whereabouts(account: Account) -> Whereabouts:
    """Return where each person is as each task begins, and all translations in order of time."""
    trace = account.trace
    wiring, config = trace.wiring, trace.start.copy()
    found = Whereabouts()
    begun: dict[TaskKey, int] = {}

    def place(item: int) -> str:
        spot = config.place_of(item)
        return "" if spot == NONE else wiring.items[spot].label or wiring.items[spot].id

    for event in trace.events:
        key = (event.task.phase, event.task.serial)
        if event.begins:
            begun[key] = event.time_s
        for name in event.task.workers:
            found.at.setdefault((key, name), place(wiring.by_id[name]))
        movers = [
            c.item
            for c in event.changes
            if c.field is Field.LINK and wiring.items[c.item].kind == "person"
        ]
        before = {item: place(item) for item in movers}
        config.apply(event.changes)
        for item in movers:
            start_s = begun.get(key, event.time_s)
            found.ways.append(
                Translation(
                    key[0],
                    wiring.items[item].id,
                    event.task.step_id,
                    clock(start_s - trace.phases[key[0]].zero_s),
                    before[item],
                    place(item),
                    _lasting(event.time_s - start_s),
                    tuple(
                        wiring.items[n].named
                        for n in config.held_by(item)
                        if wiring.items[n].kind == "bag"
                    ),
                )
            )
    return found


def _lasting(secs: int) -> str:
    return f"{secs} s" if secs < SECONDS_PER_MIN else clock(secs)
