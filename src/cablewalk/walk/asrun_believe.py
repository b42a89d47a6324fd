"""Services found down, or up, against the model: what people saw goes before it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
from cablewalk.documents.actions import Action
from cablewalk.findings import Finding
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect, Refusal
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import Moment
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.walk.asrun_entry import Key
from cablewalk.walk.asrun_overtaken import already_so, only_looks, overtaken_by
from cablewalk.walk.asrun_parted import taken_down
from cablewalk.walk.asrun_strings import StringsFold
from cablewalk.walk.asrun_untested import untested, way_up
from cablewalk.walk.fold import PHASE_SERIALS
from cablewalk.walk.reasons import Joined
from cablewalk.walk.trace import Trace, View

JOINING: Final = ("mate", "seat", "engage", "park")
"""Verbs that bring two halves together."""


class BelievingFold(StringsFold):
    """A fold in which a service is down, or up, as it was found, whatever its joins say.

    One found down is so until it is found or verified up; one found up until something takes it
    down. What needs such a service stands by it. Its strings owe a test from then on, so that it
    is not forgotten in a baseline as left, which has no word for what the model cannot explain.
    """

    def __init__(
        self,
        trace: Trace,
        config: Configuration,
        keep_going: bool,
        down: Iterable[int] = (),
        up: Mapping[int, frozenset[int]] = MappingProxyType({}),
        dead: Iterable[int] = (),
    ) -> None:
        self.said_down: set[int] = set(down)
        self.said_up: dict[int, frozenset[int]] = dict(up)
        """Services found up that the model has down, to what they need that was down then."""
        self.found_up: list[tuple[int, int]] = []
        """(service, mission elapsed seconds) of each time somebody found a service up."""
        self.done_already: dict[Key, str] = {}
        """What was done off the plan before: to how its items stand already, in words."""
        self.guilty: dict[Key, frozenset[str]] = {}
        """What could not be done to the ids of what stands in its way."""
        self._left_apart: dict[int, str] = {}
        """Island at a half that a skipped action was to join, to the step that skips it."""
        super().__init__(trace, config, keep_going, dead)
        self._fed = bytes(self.continuity.feed_up)
        """Which feeds were up as something last happened since a service was found up."""

    def _go_on_believing(self, dark: Iterable[int], found_down: Iterable[int]) -> None:
        """Hold down from the start what was handed over found down, or dark though joined."""
        up = {n for n in dark if self.continuity.states[n] is not State.DOWN}
        self.said_down |= {n for n in up.union(found_down) if self.config.life[n] == ALIVE}
        self.views = [self._view(n) for n in range(len(self.config.wiring.services))]
        self.trace.start_views = tuple(self.views)

    def _begin(self, moment: Moment, plan: Plan) -> None:
        task = moment.task
        overtaken = overtaken_by(self.config, task.action)
        looks = bool(overtaken) or only_looks(self.config, task.action)
        half = (task.action.lock or next(iter(task.action.argument))) if looks else ""
        outcome = self._tried(task, Action(inspect=half) if looks else task.action, plan)
        if isinstance(outcome, Refusal):
            self._done_or_refused(moment, plan, outcome)
            return
        if overtaken:
            self.done_already[(task.phase, task.serial)] = overtaken
        if looks:
            outcome = outcome._replace(items=())  # no join of theirs is disturbed
        self._start(moment, plan, outcome)

    def _tried(self, task: Task, action: Action, plan: Plan) -> Effect | Refusal:
        """Return what an action comes to, done by a task's workers as that task."""
        return attempt_action(
            self.config,
            action,
            tuple(self.config.wiring.by_id[w] for w in task.workers),
            task.phase * PHASE_SERIALS + task.serial + 1,
            self.is_down,
            plan.procedure.roles,
        )

    def _done_or_refused(self, moment: Moment, plan: Plan, refusal: Refusal) -> None:
        """Let what was done off the plan be done already, and hinder nothing; else refuse it.

        Not where an action that is itself impossible left its things so: it then follows from that.
        """
        task = moment.task
        workers = tuple(self.config.wiring.by_id[w] for w in task.workers)
        so = already_so(self.config, task.action, workers, plan.procedure.roles)
        follows = self.taint.cause([*self.taint.named(task), *self.taint.changed(task)])
        waits = self._tried(task, Action(wait=0), plan)
        if not so or follows or isinstance(waits, Refusal):
            self._refuse(task, moment.time_s, refusal)
            return
        self.done_already[(task.phase, task.serial)] = so
        # As one who waits: what an action takes down by its kind, this one does not.
        idle = replace(task, verb="wait", action=Action(wait=0))
        self._start(moment._replace(task=idle), plan, waits)

    def is_down(self, service: int) -> bool:
        """Return whether a service is down, by the model or by what was seen."""
        return self.states()[service] is State.DOWN

    def states(self) -> list[State]:
        """Return how every service stands, by the model and by what was seen."""
        states = list(self.continuity.states)
        wiring, dead = self.config.wiring, self._dead_services()
        told = self.said_down | set(self.said_up) | dead
        for n in wiring.service_order if told else ():
            service = wiring.services[n]
            if n in self.said_down or n in self.said_up:
                states[n] = State.DOWN if n in self.said_down else State.UP
            elif n in dead or told & set(service.needs):
                states[n] = min([self._own_state(n), *(states[m] for m in service.needs)])
            else:
                continue
            told.add(n)
        return states

    def _view(self, number: int) -> View:
        view = super()._view(number)
        if view.life != ALIVE or not (self.said_down or self.said_up or self.said_dead):
            return view
        state = self.states()[number]
        if number in self.said_up:
            owed = (s for s in self.config.wiring.services[number].strings)
            unproven = tuple(s for s in owed if self.config.disturbed[s])
            strings = tuple(Standing.UP for _ in view.strings)
            return view._replace(state=state, strings=strings, unproven=unproven)
        if state is not State.DOWN or view.state is State.DOWN:
            return view._replace(state=state)
        strings = tuple(Standing.DOWN for _ in view.strings)
        return view._replace(
            state=State.DOWN, strings=strings, unproven=(), via=tuple(() for _ in strings)
        )

    def believe(self, moment: Moment, plan: Plan, service: int, down: bool) -> None:
        """Let a service be down, or no longer be so, because somebody saw it."""
        before = self.states()
        self.said_up.pop(service, None)
        if not down:
            self._revive(service)
        (self.said_down.add if down else self.said_down.discard)(service)
        against = not down and self.states()[service] is State.DOWN
        if against and self.config.life[service] == ALIVE:
            self.said_up[service] = self._needs_down(service)
            self._fed = bytes(self.continuity.feed_up)
        after = self.states()
        if not down and after[service] is not State.DOWN:
            self.found_up.append((service, moment.time_s))
        moved = {n for n, (a, b) in enumerate(zip(before, after, strict=True)) if a is not b}
        if moved or down:
            self._tell(moment, plan, moved | {service}, service if down or against else None)

    def _moved(self) -> set[int]:
        """Return the services that stand otherwise than they were last told to."""
        states = self.states()
        return {n for n, view in enumerate(self.views) if view.state is not states[n]}

    def _lost_a_feed(self, service: int, before: bytes) -> bool:
        """Return whether a feed of a service was up before, and is not now."""
        wiring, now = self.config.wiring, self.continuity.feed_up
        strings = wiring.services[service].strings
        return any(before[f] and not now[f] for s in strings for f in wiring.strings[s].feeds)

    def _needs_down(self, service: int) -> frozenset[int]:
        states = self.states()
        needs = self.config.wiring.services[service].needs
        return frozenset(n for n in needs if states[n] is State.DOWN)

    def _tell(self, moment: Moment, plan: Plan, services: set[int], owed: int | None) -> None:
        """Write an event for services that stand otherwise; the strings of one owe a test."""
        self._happen(moment, plan, (), (), self._owing(services, owed), frozenset())

    def _owing(self, services: Iterable[int], owed: int | None) -> list[Change]:
        config = self.config
        return [
            Change(Field.DISTURBED, s, config.disturbed[s], 1 if n == owed else config.disturbed[s])
            for n in sorted(services)
            for s in config.wiring.services[n].strings
        ]

    def _disturb(self, task: Task, pairs: Joined, begins: bool) -> list[Change]:
        changes = super()._disturb(task, pairs, begins)
        if self.said_dead:
            changes += self._owing(self._moved(), None)
        if not self.said_up:
            return changes
        before = self.states()
        taken = taken_down(self.continuity, task) if begins else set()
        fed, self._fed = self._fed, bytes(self.continuity.feed_up)
        taken |= {n for n in self.said_up if self._lost_a_feed(n, fed)}
        for n in [n for n in self.config.wiring.service_order if n in self.said_up]:
            agrees = self.continuity.states[n] is not State.DOWN
            if agrees or n in taken or self._needs_down(n) - self.said_up[n]:
                del self.said_up[n]
        after = self.states()
        moved = [n for n, (a, b) in enumerate(zip(before, after, strict=True)) if a is not b]
        return [*changes, *self._owing(moved, None)]

    def _verify(self, task: Task, moment: Moment, plan: Plan) -> None:
        assert isinstance(task.action.verify, str)
        wiring = self.config.wiring
        n = wiring.service_by_id[task.action.verify]
        if n in self.said_up:
            self.trace.verified.append((n, moment.time_s))
            owed = [s for s in wiring.services[n].strings if self.config.disturbed[s]]
            proven = [Change(Field.DISTURBED, s, 1, 0) for s in owed]
            self._happen(moment, plan, (), (), proven, frozenset())
            return
        if self.continuity.states[n] is not State.DOWN:
            if n in self.said_down or self._own_state(n) is State.DOWN:
                self.believe(moment, plan, n, down=False)
            needs = [wiring.services[m].id for m in sorted(self._needs_down(n))]
            if needs:
                self._note(untested(task, wiring.services[n].id, needs))
                return
        super()._verify(task, moment, plan)

    def _refuse(self, task: Task, time_s: int, refusal: Refusal) -> None:
        # Under a cover that a skipped action left closed, it follows from that action.
        refusal = replace(refusal, blame=(*refusal.blame, *self._shut(refusal)))
        super()._refuse(task, time_s, refusal)
        items, services = self.config.wiring.items, self.config.wiring.services
        guilty = {items[i].id for i in (refusal.item, *refusal.blame) if i != NONE}
        if refusal.service != NONE:
            guilty.add(services[refusal.service].id)
        guilty |= {worker for worker in task.workers if worker in self.taint.since}  # left behind
        self.guilty[(task.phase, task.serial)] = frozenset(guilty)
        if task.verb not in JOINING:
            return
        wiring, cause = self.config.wiring, self.trace.refused[-1].because_of or task.step_id
        for name in next(iter(task.action.argument.items())):
            for island in wiring.joints[wiring.by_id[name]]:
                self._left_apart.setdefault(island, cause)

    def _shut(self, refusal: Refusal) -> list[int]:
        """Return the covers that are over what a refused action would touch."""
        wiring, config = self.config.wiring, self.config
        if "open" not in refusal.legal:
            return []
        covers = [*wiring.covers_over.get(refusal.item, ())]
        covers += [c for c, beneath in wiring.cover_segments.items() if refusal.item in beneath]
        return [c for c in covers if config.state_name(c) not in ("open", "removed")]

    def _note(self, finding: Finding) -> None:
        if finding.rule == "verify-failed":
            n = self.config.wiring.service_by_id[finding.items[0]]
            if self.config.life[n] != ALIVE:  # nothing that was skipped has it so
                self.trace.findings.add(finding)
                return
            needed = self.taint.needed_down(finding.items, self._view)
            finding = replace(
                finding,
                way_out=way_up(self.config.wiring, self.states(), self._is_own, n)
                or finding.way_out,
                because_of=self._ended_by((*finding.items, *needed)),
            )
        super()._note(finding)

    def _is_own(self, service: int) -> bool:
        """Return whether a service is down by itself: by its own strings, or as it was found."""
        return service in self.said_down or (
            service not in self.said_up and self._own_state(service) is State.DOWN
        )

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
