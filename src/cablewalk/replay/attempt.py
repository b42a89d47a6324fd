"""An attempt at an action: what it would change, or why it is impossible."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.change import Change, Field, Value
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STATEFUL, Wiring

HALF = COMPILED["half"].state_index
LEG = COMPILED["leg"].state_index
CAP = COMPILED["cap"].state_index
COVER = COMPILED["cover"].state_index
SWITCH = COMPILED["switch"].state_index
UNIT = COMPILED["unit"].state_index
BAG = COMPILED["bag"].state_index
ACTOR = COMPILED["actor"].state_index
_IDLE, _WORKING = ACTOR["idle"], ACTOR["working"]
_STATE, _LINK, _CLAIM = Field.STATE, Field.LINK, Field.CLAIM

VERB_OF_EVENT = {
    "cap": "fit_cap",
    "uncap": "remove_cap",
    "remove_tethered": "remove_cap",
    "remove_loose": "remove_cap",
    "release_some": "release",
    "release_all": "release",
    "fasten_some": "fasten",
    "fasten_all": "fasten",
}
"""The action verb behind a machine event, where they differ."""

TOLD = frozenset(
    {"slip", "lose", "recover", "trip", "lose_sight", "see_on", "see_off", "see_blocked"}
)
"""Events nobody does on purpose: not offered as what is legal now."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an action is physically impossible, and what is possible instead."""

    item: int
    found: str
    expected: str
    legal: tuple[str, ...] = ()
    blame: tuple[int, ...] = ()
    """The items whose being otherwise would have made it possible."""
    service: int = NONE
    """The service that is down and keeps it from being done."""
    instead: str = ""
    """What would be possible instead, in words, where no verb says it."""

    def difference(self, config: Configuration) -> str:
        """Return how the item stands, against what was wanted of it."""
        items = config.wiring.items
        if self.service != NONE:
            return f"{config.wiring.services[self.service].id} is down meanwhile"
        if self.item == NONE or items[self.item].kind not in STATEFUL:
            return "nothing of the action is done"
        state = config.state_name(self.item).replace("_", " ")
        return f"{items[self.item].id} stands {state}; needed: {self.expected}"

    @property
    def way_out(self) -> str:
        """What is possible, in words; empty where nothing is known."""
        return self.instead or (f"legal now: {', '.join(self.legal)}" if self.legal else "")


class Effect(NamedTuple):
    """What an action changes when it begins and when it ends."""

    begin: tuple[Change, ...]
    end: tuple[Change, ...]
    items: tuple[int, ...]
    """The items it touches and claims."""


class Refused(Exception):
    """Raised inside an attempt; never leaves :mod:`cablewalk.replay`."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.found)
        self.refusal = refusal


class Attempt:
    """Collects the changes of one action, checking each against what is possible."""

    def __init__(
        self,
        config: Configuration,
        workers: tuple[int, ...],
        serial: int,
        is_down: Callable[[int], bool],
        roles: Mapping[str, str],
    ) -> None:
        self.config = config
        self.wiring: Wiring = config.wiring
        self.workers = workers
        self.serial = serial
        self.is_down = is_down
        self.roles = roles
        self.begin: list[Change] = []
        self.end: list[Change] = []
        self.items: list[int] = []
        self.others: list[int] = []
        """People who take no part but are kept busy: riders of a vehicle that moves."""
        self._here = NONE
        for worker in workers:
            self.idle(worker)

    # -- results ----------------------------------------------------------------------

    def effect(self) -> Effect:
        """Return the changes collected, workers claimed for the whole duration."""
        people = (*self.workers, *self.others)
        busy = [Change(_STATE, w, _IDLE, _WORKING) for w in people]
        free = [Change(_STATE, w, _WORKING, _IDLE) for w in people]
        unclaim = [c.inverse for c in self.begin if c.field is _CLAIM]
        return Effect((*busy, *self.begin), (*self.end, *unclaim, *free), tuple(self.items))

    def refuse(
        self,
        item: int,
        found: str,
        expected: str,
        legal: Iterable[str] = (),
        blame: Iterable[int] | None = None,
        service: int = NONE,
        instead: str = "",
    ) -> Refused:
        """Return the refusal to raise; ``blame`` is the item itself where not given."""
        guilty = (item,) if blame is None else tuple(blame)
        return Refused(Refusal(item, found, expected, tuple(legal), guilty, service, instead))

    def idle(self, person: int) -> None:
        """Refuse where a person is in the middle of another action."""
        if self.config.state[person] != _IDLE:
            raise self.refuse(
                person,
                f"{self.named(person)} is busy with another action",
                "one action at a time for each worker",
                ("wait",),
                (),
            )

    def busy(self, person: int) -> None:
        """Keep a person who takes no part from acting while this runs."""
        if self.config.state[person] != _IDLE:
            raise self.refuse(
                person,
                f"{self.named(person)} rides {self._names()} and is busy with another action",
                "nobody at work on what moves",
                ("wait",),
            )
        self.others.append(person)

    # -- reading ----------------------------------------------------------------------

    def named(self, item: int) -> str:
        """Return the printed name of an item."""
        return self.wiring.items[item].named if item != NONE else "nowhere"

    def known(self, name: str, *kinds: str) -> int:
        """Return the item of this id; what is unknown was found before the replay began."""
        for kind in kinds:
            item = self.wiring.item(kind, name)
            if item != NONE:
                return item
        raise self.refuse(NONE, f"there is no {' or '.join(kinds)} {name}", "an id of the baseline")

    def state(self, item: int) -> str:
        """Return the machine state of an item in words."""
        return self.config.state_name(item)

    def here(self) -> int:
        """Return the place where all workers are: the same throughout, for nothing is changed."""
        if self._here == NONE:
            self._here = self._meeting()
        return self._here

    def _meeting(self) -> int:
        places = [self.config.place_of(w) for w in self.workers]
        if NONE in places:
            who = self.wiring.items[self.workers[places.index(NONE)]]
            raise self.refuse(
                self.workers[places.index(NONE)],
                f"{who.named} is {who.role} and at no place of the work",
                "a worker at the place",
            )
        if len(set(places)) > 1:
            spots = ", ".join(
                f"{self.wiring.items[w].id} at {self.wiring.items[p].id}"
                for w, p in zip(self.workers, places, strict=True)
            )
            raise self.refuse(self.workers[0], f"the workers are apart: {spots}", "one place")
        return places[0]

    def reach(self, item: int) -> int:
        """Refuse unless all workers are where the item is; return that place."""
        here = self.here()
        place = self.config.place_of(item)
        if place != here:
            at = self.wiring.items[place].id if place != NONE else "a place nothing tells"
            raise self.refuse(
                item,
                f"{self.named(item)} is at {at}, and {self._names()} at "
                f"{self.wiring.items[here].id}",
                "a worker where the item is",
                ("walk",),
                (item, *self.workers),
            )
        return here

    def _names(self) -> str:
        return " and ".join(self.wiring.items[w].id for w in self.workers)

    def holder(self, item: int) -> int:
        """Return the worker who holds the item, refusing where none of them does."""
        link = self.config.link[item]
        if link not in self.workers:
            where = self.named(link) if link != NONE else "nobody"
            raise self.refuse(
                item,
                f"{self.named(item)} is {self.state(item)}, with {where}, not held by "
                f"{self._names()}",
                "the worker holds it",
            )
        return link

    # -- writing ----------------------------------------------------------------------

    def claim(self, item: int, moves: bool = True) -> None:
        """Claim an item for the duration, refusing where another action is at work on it.

        ``moves`` says that the action can alter the item's joins or state: while it runs they
        are doubtful.
        """
        if item in self.items:
            return
        if self.config.claim[item] != NONE:
            raise self.refuse(
                item,
                f"another action is at work on {self.named(item)}",
                "one action at a time on an item",
                ("wait",),
                (),
            )
        self.items.append(item)
        self.begin.append(Change(_CLAIM, item, NONE, self.serial * 2 + moves))

    def event(self, item: int, event: str, moves: bool = True) -> None:
        """Send an item through a machine event at the action's end."""
        compiled = COMPILED[STATEFUL[self.wiring.items[item].kind]]
        self.claim(item, moves)
        state = self.config.state[item]
        new = compiled.step(state, compiled.event_index[event])
        if new < 0:
            verb = VERB_OF_EVENT.get(event, event)
            sources = [
                name
                for name, index in compiled.state_index.items()
                if compiled.step(index, compiled.event_index[event]) >= 0
            ]
            legal = [VERB_OF_EVENT.get(e, e) for e in compiled.legal(state) if e not in TOLD]
            raise self.refuse(
                item,
                f"{self.named(item)} is {compiled.states[state]}: it cannot {verb}",
                f"{' or '.join(sources)}",
                dict.fromkeys(legal),
            )
        self.set(_STATE, item, new)

    def set(self, field: Field, item: int, new: Value) -> None:
        """Write a value at the action's end."""
        old = self.config.value(field, item)
        if old != new:
            self.end.append(Change(field, item, old, new))

    def link(self, item: int, target: int, at_begin: bool = False) -> None:
        """Link an item at the action's end, or already at its begin (a doubtful join)."""
        old = self.config.link[item]
        if old != target:
            (self.begin if at_begin else self.end).append(Change(_LINK, item, old, target))
