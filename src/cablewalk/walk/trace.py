"""What a replay leaves: its events, and how each service stood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
from cablewalk.findings import Findings
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import ALIVE, LIVES, Configuration
from cablewalk.replay.wiring import Wiring
from cablewalk.schedule.order import Timed
from cablewalk.schedule.tasks import Task


class View(NamedTuple):
    """How one service stands at one moment."""

    state: State
    life: int
    strings: tuple[Standing, ...]
    unproven: tuple[int, ...]
    """Strings up but not verified since they were disturbed."""
    via: tuple[tuple[tuple[int, ...], ...], ...] = ()
    """For each string that is up, the islands it runs over: tells a re-routing."""

    @property
    def words(self) -> str:
        """``up``, ``up unproven``, ``reduced``, ``down``, ``awaited`` or ``retired``."""
        if self.life != ALIVE:
            return LIVES[self.life]
        text = str(self.state)
        return f"{text} unproven" if self.unproven else text


class Reason(NamedTuple):
    """Why a service stands otherwise: from the step to the line."""

    step: str
    verb: str
    item: str
    harness: str = ""
    line: str = ""

    @property
    def text(self) -> str:
        """The chain in one line."""
        return " → ".join(
            p for p in (self.step, f"{self.verb} {self.item}".strip(), self.harness, self.line) if p
        )


class Shift(NamedTuple):
    """A service that stands otherwise after an event than before it."""

    service: int
    before: View
    after: View
    reasons: tuple[Reason, ...] = ()
    planned: bool = True


class Event(NamedTuple):
    """One task that began or ended, with all it changed."""

    time_s: int
    begins: bool
    task: Task
    changes: tuple[Change, ...]
    shifts: tuple[Shift, ...]
    mates: Mapping[int, int] = MappingProxyType({})
    """Half the action was at work on to what it is joined with as the event is over."""
    joins_broken: frozenset[int] = frozenset()
    """Strings one of whose joins was broken or made doubtful here."""


class Refused(NamedTuple):
    """A task that could not be done, with the skipped step it follows from, if any."""

    task: Task
    time_s: int
    text: str
    because_of: str | None


@dataclass(slots=True)
class Trace:
    """A start configuration and everything that happened to it."""

    wiring: Wiring
    start: Configuration
    start_views: tuple[View, ...]
    phases: list[Timed] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    findings: Findings = field(default_factory=Findings)
    end: Configuration | None = None
    end_views: tuple[View, ...] = ()
    end_s: int = 0
    stopped: bool = False
    unusable: bool = False
    """The documents have faults that forbid a replay; nothing was replayed."""
    verified: list[tuple[int, int]] = field(default_factory=list)
    """(service, mission elapsed time) of each verify that found the service up."""
    get_aheads: list[tuple[int, str]] = field(default_factory=list)
    """(phase, id) of the get-aheads that entered."""

    def configuration_after(self, step: str | None, phase: int | None = None) -> Configuration:
        """Return the configuration after a step's last ending; the start for None.

        Raises:
            KeyError: no step of that id was replayed.
        """
        config = self.start.copy()
        for event in self.events[: self.position_after(step, phase)]:
            config.apply(event.changes)
        return config

    def position_after(self, step: str | None, phase: int | None = None) -> int:
        """Return how many events have happened when a step is over."""
        if step is None:
            return 0
        position = None
        for n, event in enumerate(self.events):
            if event.task.step_id == step and phase in (None, event.task.phase):
                position = n + 1
        if position is None:
            raise KeyError(step)
        return position

    def views_after(self, step: str | None, phase: int | None = None) -> list[View]:
        """Return how every service stands after a step; at the start for None."""
        views = list(self.start_views)
        for event in self.events[: self.position_after(step, phase)]:
            for shift in event.shifts:
                views[shift.service] = shift.after
        return views
