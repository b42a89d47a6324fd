"""The case: a replay as the rules look at it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from cablewalk.checks.failures import Element, takers
from cablewalk.checks.stated import Stated, stated
from cablewalk.checks.touches import Survey, survey
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Half
from cablewalk.documents.harness import Leg
from cablewalk.documents.limits import Limits
from cablewalk.findings import Address
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STATEFUL, Wiring
from cablewalk.timeline.account import Account
from cablewalk.units import clock
from cablewalk.walk.trace import Event, Trace

ALTERING: Final = frozenset({Field.STATE, Field.LINK, Field.COUNT, Field.TIES, Field.ALONG})
"""The fields whose change alters an item; a claim alone does not."""


@dataclass(eq=False)
class Case:
    """An account of a replay, with what several rules need worked out once."""

    account: Account

    @property
    def trace(self) -> Trace:
        """What was replayed."""
        return self.account.trace

    @property
    def wiring(self) -> Wiring:
        """The hardware."""
        return self.account.ground.wiring

    @property
    def baseline(self) -> Baseline:
        """The baseline document."""
        return self.account.ground.baseline

    @property
    def limits(self) -> Limits:
        """The user's limits."""
        return self.baseline.limits

    @cached_property
    def end(self) -> Configuration:
        """How everything stands at the end, or where the replay stopped."""
        assert self.trace.end is not None, "an unusable trace is never judged"
        return self.trace.end

    @cached_property
    def survey(self) -> Survey:
        """Every touch of contacts and every switch-on, with what could reach them."""
        return survey(self.trace, self.limits.touch_volts is not None)

    @cached_property
    def stated(self) -> list[Stated]:
        """The inhibits the procedures state."""
        return stated(self)

    @cached_property
    def takers_at_start(self) -> dict[int, list[Element]]:
        """Service with strings to spare to the elements whose loss alone takes it at the start."""
        return takers(self.trace.start)

    @cached_property
    def last_task(self) -> dict[int, Event]:
        """Item to the last event that altered it (its claim alone does not count)."""
        return {
            change.item: event
            for event in self.trace.events
            for change in event.changes
            if change.field in ALTERING
        }

    @cached_property
    def last_shift(self) -> dict[int, Event]:
        """Service to the last event after which it stood otherwise."""
        return {shift.service: event for event in self.trace.events for shift in event.shifts}

    @cached_property
    def own_cycle_limits(self) -> dict[int, tuple[int, str]]:
        """Half to the mates it may have by its own document, and who says so."""
        found: dict[int, tuple[int, str]] = {}
        documents: list[tuple[str, Half | Leg]] = []
        for place in self.baseline.places.values():
            groups = [place.halves, *(p.halves for p in place.panels.values())]
            groups += [unit.halves for unit in place.units.values()]
            for halves in groups:
                documents.extend(halves.items())
        for harness in self.baseline.harnesses.values():
            documents.extend(harness.legs.items())
        for name, document in documents:
            half = self.wiring.item("half", name)
            if half != NONE and document.cycles_limit is not None:
                found[half] = (document.cycles_limit, document.cycles_source)
        return found

    def walk(self) -> Iterator[tuple[int, Event, Configuration]]:
        """Yield position, event and the configuration after it; the same object throughout."""
        config = self.trace.start.copy()
        for position, event in enumerate(self.trace.events):
            config.apply(event.changes)
            yield position, event, config

    def phase_ends(self) -> Iterator[tuple[int, Configuration]]:
        """Yield each phase that was replayed and the configuration at its end."""
        config = self.trace.start.copy()
        events = self.trace.events
        for position, event in enumerate(events):
            config.apply(event.changes)
            phase = event.task.phase
            if position + 1 == len(events) or events[position + 1].task.phase != phase:
                yield phase, config

    def pet(self, time_s: int, phase: int) -> str:
        """Return a moment in a phase's elapsed time, ``PET H:MM``; ``P2`` before it for several."""
        number = f"P{phase + 1} " if len(self.trace.phases) > 1 else ""
        return f"{number}PET {clock(time_s - self.trace.phases[phase].zero_s)}"

    def address_of(self, item: int) -> Address:
        """Return where the last action on an item stands, or where the item itself does."""
        event = self.last_task.get(item)
        return event.task.address if event else Address(0, self.wiring.items[item].path)

    def step_of(self, item: int) -> str | None:
        """Return the step of the last action on an item, or None."""
        event = self.last_task.get(item)
        return event.task.step_id if event else None

    def state_words(self, state: int, item: int) -> str:
        """Return a machine state of an item in words."""
        machine = COMPILED[STATEFUL[self.wiring.items[item].kind]]
        return machine.states[state].replace("_", " ")

    def id(self, item: int) -> str:
        """Return the id of an item."""
        return self.wiring.items[item].id if item != NONE else "nowhere"

    def named(self, item: int) -> str:
        """Return the id of an item, with its label where that says more."""
        return self.wiring.items[item].named if item != NONE else "nowhere"
