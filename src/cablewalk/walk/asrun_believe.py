"""Services found down though the model has them up: what people saw goes before the model."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
from cablewalk.findings import Finding
from cablewalk.replay.attempt import Refusal
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.schedule.order import Moment
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.walk.fold import Fold
from cablewalk.walk.trace import Trace, View

JOINING: Final = ("mate", "seat", "engage", "park")
"""Verbs that bring two halves together."""


class BelievingFold(Fold):
    """A fold in which a service that was found down is down until it is found or verified up.

    What needs such a service is down with it. Its strings owe a test from then on, so that it
    is not forgotten in a baseline as left, which has no word for a service that is down for no
    reason the model knows.
    """

    def __init__(
        self, trace: Trace, config: Configuration, keep_going: bool, down: Iterable[int] = ()
    ) -> None:
        self.said_down: set[int] = set(down)
        self._left_apart: dict[int, str] = {}
        """Island at a half that a skipped action was to join, to the step that skips it."""
        super().__init__(trace, config, keep_going)

    def _go_on_believing(self, dark: Iterable[int]) -> None:
        """Hold down from the start what was handed over dark though its joins have it up."""
        up = {n for n in dark if self.continuity.states[n] is not State.DOWN}
        self.said_down |= {n for n in up if self.config.life[n] == ALIVE}
        self.views = [self._view(n) for n in range(len(self.config.wiring.services))]
        self.trace.start_views = tuple(self.views)

    def is_down(self, service: int) -> bool:
        """Return whether a service is down, by the model or by what was seen."""
        return self.continuity.states[service] is State.DOWN or service in self._down()

    def _down(self) -> set[int]:
        """Return the services that are down by what was seen, and those that need them."""
        down = set(self.said_down)
        wiring = self.config.wiring
        for n in wiring.service_order if down else ():
            if down & set(wiring.services[n].needs):
                down.add(n)
        return down

    def _view(self, number: int) -> View:
        view = super()._view(number)
        if view.life != ALIVE or number not in self._down():
            return view
        strings = tuple(Standing.DOWN for _ in view.strings)
        return view._replace(
            state=State.DOWN, strings=strings, unproven=(), via=tuple(() for _ in strings)
        )

    def believe(self, moment: Moment, plan: Plan, service: int, down: bool) -> None:
        """Let a service be down, or no longer be so, because somebody saw it."""
        before = self._down()
        (self.said_down.add if down else self.said_down.discard)(service)
        if before != self._down() or down:
            self._tell(moment, plan, (before ^ self._down()) | {service}, service if down else None)

    def _tell(self, moment: Moment, plan: Plan, services: set[int], owed: int | None) -> None:
        """Write an event for services that stand otherwise; the strings of one owe a test."""
        config = self.config
        changes = [
            Change(Field.DISTURBED, s, config.disturbed[s], 1 if n == owed else config.disturbed[s])
            for n in sorted(services)
            for s in config.wiring.services[n].strings
        ]
        self._happen(moment, plan, (), (), changes, frozenset())

    def _verify(self, task: Task, moment: Moment, plan: Plan) -> None:
        assert isinstance(task.action.verify, str)
        n = self.config.wiring.service_by_id[task.action.verify]
        if self.continuity.states[n] is not State.DOWN:
            self.believe(moment, plan, n, down=False)
        super()._verify(task, moment, plan)

    def _refuse(self, task: Task, time_s: int, refusal: Refusal) -> None:
        super()._refuse(task, time_s, refusal)
        if task.verb not in JOINING:
            return
        wiring, cause = self.config.wiring, self.trace.refused[-1].because_of or task.step_id
        for name in next(iter(task.action.argument.items())):
            for island in wiring.joints[wiring.by_id[name]]:
                self._left_apart.setdefault(island, cause)

    def _note(self, finding: Finding) -> None:
        if finding.rule == "verify-failed":
            n = self.config.wiring.service_by_id[finding.items[0]]
            if self.config.life[n] != ALIVE:  # nothing that was skipped has it so
                self.trace.findings.add(finding)
                return
            needed = self.taint.needed_down(finding.items, self._view)
            finding = replace(finding, because_of=self._ended_by((*finding.items, *needed)))
        super()._note(finding)

    def _ended_by(self, names: Iterable[str]) -> str | None:
        """Return the skipped step at whose halves what keeps these services down ends now."""
        wiring = self.config.wiring
        strings: set[int] = set()
        for n in map(wiring.service_by_id.__getitem__, names):
            view = self._view(n)
            if view.life == ALIVE and view.state is State.DOWN:
                strings.update(wiring.services[n].strings)
        for island, step in self._left_apart.items():
            if not strings.isdisjoint(self.continuity.strings_near((island,))):
                return step
        return None
