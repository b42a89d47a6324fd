"""What is left outside when a phase is over, and which step of a later phase finishes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from cablewalk.continuity.services import State
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.standing import told
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.timeline.account import Account
from cablewalk.walk.trace import Event, View

OPEN_END: Final = "no step of these phases"
_SEEN: Final = frozenset({Field.STATE, Field.LINK, Field.COUNT, Field.TIES, Field.ALONG})
_LEG_WORDS: Final = {
    "routed": "laid at",
    "stowed": "stowed at",
    "restrained": "clipped for now at",
    "loose": "LOOSE at",
    "in_hand": "in the hand of",
    "pulled_aside": "pulled aside at",
    "packed": "in",
}


@dataclass(frozen=True, slots=True)
class Left:
    """One thing as a phase leaves it."""

    group: str
    """``ends``, ``bags``, ``covers``, ``switches``, ``services`` or ``other``."""
    named: str
    place: str
    how: str
    finished: str
    """The step that next alters it, with its phase; or that no step does."""
    is_new: bool
    """Whether the work left it so; false: it was so from the start."""
    owner: str = ""
    """Of a cable's end: the cable."""
    end: str = ""
    """Of a cable's end: its own name."""

    @property
    def brief(self) -> str:
        """How it is left, in few words; of a cable's end with its name, else with its place."""
        if self.end:
            return f"{self.end} {self.how}"
        return f"at {self.place}: {self.how}" if self.place else self.how


GROUPS: Final = {
    "ends": "Cable ends mated nowhere or not laid, and their caps",
    "bags": "Bags that stay out, and what is in them",
    "covers": "Covers not fastened",
    "other": "Loose things",
    "switches": "Switches left blocked",
    "services": "Services that owe something",
}
"""Group to its heading, in the order in which they stand."""


@dataclass(slots=True)
class _Ending:
    """How a phase ends."""

    account: Account
    phase: int
    config: Configuration
    views: tuple[View, ...]
    later: list[Event]

    @property
    def wiring(self) -> Wiring:
        return self.config.wiring

    def label(self, item: int) -> str:
        return "" if item == NONE else self.wiring.items[item].label or self.wiring.items[item].id

    def finished(self, items: Iterable[int]) -> str:
        """Return the first later step that alters any of these."""
        wanted = set(items)
        for event in self.later:
            if any(c.item in wanted and c.field in _SEEN for c in event.changes):
                return self._step(event)
        return OPEN_END

    def finished_service(self, service: int) -> str:
        """Return the first later step that alters how a service stands."""
        for event in self.later:
            if any(shift.service == service for shift in event.shifts):
                return self._step(event)
        return OPEN_END

    def _step(self, event: Event) -> str:
        procedure = self.account.procedures[event.task.phase].procedure
        return f"{procedure}, step {event.task.step_id}"


def left_after(account: Account, phase: int) -> list[Left]:
    """Return what stands outside when a phase (from 0) is over, by group."""
    trace = account.trace
    config, views = trace.start.copy(), list(trace.start_views)
    later: list[Event] = []
    for event in trace.events:
        if event.task.phase > phase:
            later.append(event)
            continue
        config.apply(event.changes)
        for shift in event.shifts:
            views[shift.service] = shift.after
    ending = _Ending(account, phase, config, tuple(views), later)
    return [*_ends(ending), *_bags(ending), *_things(ending), *_services(ending)]


def _ends(ending: _Ending) -> Iterator[Left]:
    wiring, config, start = ending.wiring, ending.config, ending.account.trace.start
    for leg, half in wiring.half_of.items():
        state, mate = config.state_name(leg), config.link[half]
        mated = mate != NONE and wiring.items[mate].kind == "half"
        parked = mated and wiring.items[mate].role == "parking"
        settled = mated and not parked and state in ("routed", "packed")
        if settled or state == "packed":
            continue
        words = [told(config, half).replace("_", " ")]
        if parked:
            words = [f"parked on {wiring.items[mate].named}"]
        spot = ending.label(config.link[leg])
        words.append(f"{_LEG_WORDS.get(state, state)} {spot}".rstrip())
        was = (start.state[half], start.link[half], start.state[leg], start.link[leg])
        now = (config.state[half], config.link[half], config.state[leg], config.link[leg])
        owner = wiring.items[wiring.items[leg].owner]
        name = wiring.items[half].named
        yield Left(
            "ends",
            f"{name} of {owner.named}",
            ending.label(config.place_of(leg)),
            ", ".join(words),
            ending.finished((leg, half)),
            was != now,
            owner.named,
            name,
        )


def in_brief(rows: Iterable[Left], only_finished: bool) -> list[tuple[str, list[Left]]]:
    """Return what the work left at places, cable by cable and bag by bag.

    ``only_finished``: only what a later step alters; the rest is told at the end.
    """
    found: dict[str, list[Left]] = {}
    for row in rows:
        told = row.is_new and row.group in ("ends", "bags", "covers", "other")
        if told and not (only_finished and row.finished == OPEN_END):
            found.setdefault(row.owner or row.named, []).append(row)
    return list(found.items())


def bag_contents(config: Configuration, bag: int) -> list[str]:
    """Return what a bag holds: a cable by its name where all its legs are in, else leg by leg."""
    wiring = config.wiring
    found: list[str] = []
    for harness, legs in wiring.legs_of.items():
        inside = [g for g in legs if config.state_name(g) == "packed" and config.link[g] == bag]
        if inside and len(inside) == len(legs):
            found.append(wiring.items[harness].named)
        else:
            halves = (wiring.half_of.get(g, g) for g in inside)
            found += [f"{wiring.items[h].named} (end)" for h in halves]
    for n, item in enumerate(wiring.items):
        if item.kind in ("cap", "cover", "unit", "panel") and config.link[n] == bag:
            found.append(item.named)
    return found


def _bags(ending: _Ending) -> Iterator[Left]:
    wiring, config = ending.wiring, ending.config
    home = {
        config.place_of(n)
        for n, item in enumerate(wiring.items)
        if item.kind == "person" and item.role == "outside"
    }
    start = ending.account.trace.start
    for n, item in enumerate(wiring.items):
        spot = config.place_of(n)
        if item.kind != "bag" or spot == NONE or spot in home:
            continue
        inside = bag_contents(config, n)
        how = f"holds {', '.join(inside)}" if inside else "holds no cable and no cap"
        moved = start.link[n] != config.link[n]
        yield Left("bags", item.named, ending.label(spot), how, ending.finished((n,)), moved)


def _things(ending: _Ending) -> Iterator[Left]:
    wiring, config, start = ending.wiring, ending.config, ending.account.trace.start
    for n, item in enumerate(wiring.items):
        if item.kind not in ("cover", "switch", "cap"):
            continue
        group = _group(item.kind, config.state_name(n))
        if not group:
            continue
        is_new = (start.state[n], start.link[n]) != (config.state[n], config.link[n])
        how = told(config, n).replace("_", " ")
        place = ending.label(config.place_of(n))
        yield Left(group, item.named, place, how, ending.finished((n,)), is_new)


def _group(kind: str, state: str) -> str:
    """Return the group of a cover, switch or cap that is not at rest; nothing for one that is."""
    if kind == "cover":
        return "" if state == "fastened" else "covers"
    if kind == "switch":
        return "switches" if state == "blocked" else ""
    return "other" if state in ("lost", "held") else ""


def _services(ending: _Ending) -> Iterator[Left]:
    start = ending.account.trace.start_views
    for n, (service, view) in enumerate(zip(ending.wiring.services, ending.views, strict=True)):
        if view.life != ALIVE or (view.state is State.UP and not view.unproven):
            continue
        owes = "verify owed" if view.unproven else "not as it should be"
        named = service.id if not service.label else f"{service.id} ({service.label})"
        yield Left(
            "services",
            named,
            "",
            f"{view.words}: {owes}",
            ending.finished_service(n),
            start[n].words != view.words,
        )
