"""The fold: tasks applied to a configuration moment by moment, everything watched."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.continuity.services import Continuity, ServiceChange, State
from cablewalk.continuity.touched import touched_by
from cablewalk.continuity.verdict import Standing
from cablewalk.findings import Finding, Severity
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect, Refusal
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE, AWAITED, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import Moment
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.walk.hands import full_hands
from cablewalk.walk.losses import is_planned, unplanned
from cablewalk.walk.outset import judge_start
from cablewalk.walk.reasons import Joined, joined_pairs, loses, reasons
from cablewalk.walk.taint import Taint, left_apart
from cablewalk.walk.trace import Event, Refused, Shift, Trace, View
from cablewalk.walk.watch import TOUCHING, Watch, touched_halves
from cablewalk.walk.words import unlike

PHASE_SERIALS = 1_000_000
"""Serial numbers set aside for each phase: claims of different phases never look alike."""
_DISTURBED, _LIFE = Field.DISTURBED, Field.LIFE


class Fold:
    """Applies moments to a configuration and writes a trace."""

    def __init__(self, trace: Trace, config: Configuration, keep_going: bool) -> None:
        self.trace = trace
        self.config = config
        self.keep_going = keep_going
        self.continuity = Continuity(config)
        self.watch = Watch(config, self.continuity)
        self.running: dict[tuple[int, int], tuple[Effect, Joined]] = {}
        """What is being done: its effect, and the joins at work."""
        self.taint = Taint(config.wiring)
        self._awaited = {n for n, life in enumerate(config.life) if life == AWAITED}
        self._come_alive()
        self.views = [self._view(n) for n in range(len(config.wiring.services))]
        trace.start_views = tuple(self.views)
        judge_start(self.config, self.continuity, self.watch, trace.findings)

    # -- views ------------------------------------------------------------------------

    def _view(self, number: int) -> View:
        service = self.config.wiring.services[number]
        verdicts = [self.continuity.verdicts[s] for s in service.strings]
        return View(
            self.continuity.states[number],
            self.config.life[number],
            tuple([v.standing for v in verdicts]),
            tuple(self._unproven(number)),
            tuple([v.paths if v.standing is Standing.UP else () for v in verdicts]),
        )

    def _unproven(self, number: int) -> list[int]:
        """Return the strings of a service that are up, disturbed and not verified since."""
        return self.continuity.unproven(number)

    def _come_alive(self) -> list[Change]:
        """Bring awaited services to life that are up now and whose unit has arrived."""
        if not self._awaited:
            return []
        config = self.config
        changes = []
        for n in sorted(self._awaited):
            if config.life[n] != AWAITED or self.continuity.states[n] is State.DOWN:
                continue
            unit = config.wiring.services[n].arrives_with
            if unit == NONE or config.state_name(unit) == "installed":
                changes.append(Change(Field.LIFE, n, AWAITED, ALIVE))
        config.apply(changes)
        self._awaited -= {change.item for change in changes}
        return changes

    # -- moments ----------------------------------------------------------------------

    def moment(self, moment: Moment, plan: Plan) -> None:
        """Let one task begin or end."""
        key = (moment.task.phase, moment.task.serial)
        if moment.begins:
            self._begin(moment, plan)
        elif key in self.running:
            self._end(moment, plan, *self.running.pop(key))

    def _begin(self, moment: Moment, plan: Plan) -> None:
        task = moment.task
        wiring = self.config.wiring
        workers = tuple(wiring.by_id[w] for w in task.workers)
        outcome = attempt_action(
            self.config,
            task.action,
            workers,
            task.phase * PHASE_SERIALS + task.serial + 1,
            lambda n: self.continuity.states[n] is State.DOWN,
            plan.procedure.roles,
        )
        if isinstance(outcome, Refusal):
            self._refuse(task, moment.time_s, outcome)
            return
        self._start(moment, plan, outcome)

    def _start(self, moment: Moment, plan: Plan, outcome: Effect) -> None:
        """Let a task that is possible begin."""
        task = moment.task
        for finding in unlike(self.config, self.views, task):
            self._note(finding)
        for finding in full_hands(self.config, task, plan):
            self._note(finding)
        users = self.continuity.users_of
        broken = frozenset(users(self._parted(task, outcome)))
        shaken = broken | users(self._shaken(task, outcome))
        disturbed = [
            Change(Field.DISTURBED, s, 0, 1) for s in sorted(shaken) if not self.config.disturbed[s]
        ]
        changes = [*outcome.begin, *disturbed]
        joined = self._happen(moment, plan, outcome.items, None, changes, broken)
        self.running[(task.phase, task.serial)] = (outcome, joined)
        touched = self.watch.touched(task, outcome.items)
        if touched is not None:
            self._note(touched)

    def _parted(self, task: Task, outcome: Effect) -> tuple[int, ...]:
        """Return the halves and caps whose joins an action breaks or makes doubtful."""
        return outcome.items if task.verb in TOUCHING or task.verb == "found" else ()

    def _shaken(self, task: Task, outcome: Effect) -> list[int]:
        """Return the halves whose legs an action moves though they stay mated."""
        if task.verb not in ("pull_aside", "restore"):
            return []
        half_of = self.config.wiring.half_of
        return [half_of[leg] for leg in outcome.items if leg in half_of]

    def _end(self, moment: Moment, plan: Plan, effect: Effect, pairs: Joined) -> None:
        task = moment.task
        self._happen(moment, plan, effect.items, pairs, list(effect.end), frozenset())
        if isinstance(task.action.verify, str):
            self._verify(task, moment, plan)

    def _happen(
        self,
        moment: Moment,
        plan: Plan,
        items: tuple[int, ...],
        pairs: Joined | None,
        changes: list[Change],
        broken: frozenset[int],
    ) -> Joined:
        """Apply changes, follow what they do, and write the event; return the joins at work.

        These are ``pairs``, or where those are None what the items are joined with now.
        """
        config, task = self.config, moment.task
        config.apply(changes)
        touched = touched_by(config, changes)
        service_changes = self.continuity.update(changes, touched)
        fresh = self.watch.update(changes, touched)
        now_joined = pairs if pairs is not None else joined_pairs(config, items)
        more = self._disturb(task, now_joined, moment.begins)
        more += self._come_alive()
        for finding in self.watch.new_faults(task, sorted(self.continuity.rejudged)):
            self._note(finding)
        halves = touched_halves(config, items)
        for finding in self.watch.newly_exposed(task, fresh, halves):
            self._note(finding)
        altered = {c.service for c in service_changes}
        for change in (*changes, *more):
            if change.field is _DISTURBED:
                altered.add(config.wiring.strings[change.item].service)
            elif change.field is _LIFE:
                altered.add(change.item)
        shifts = self._shifts(plan, task, items, now_joined, altered, service_changes)
        self.trace.events.append(
            Event(
                moment.time_s,
                moment.begins,
                task,
                (*changes, *more),
                shifts,
                {half: config.link[half] for half in halves},
                broken,
            )
        )
        return now_joined

    def _disturb(self, task: Task, pairs: Joined, begins: bool) -> list[Change]:
        """Mark the strings disturbed: now run over a join made, or gone or back by a join."""
        if task.verb not in TOUCHING and task.verb not in ("lock", "found", "install", "remove"):
            return []
        config = self.config
        strings = {
            s
            for s, (old, new) in self.continuity.rejudged.items()
            if old.join_troubles != new.join_troubles
        }
        if not begins:
            for item, join in pairs:
                users = self.continuity.users_of((item,))
                if users:
                    strings |= users & self.continuity.index.users(join.steps)
        changes = [
            Change(Field.DISTURBED, s, 0, 1) for s in sorted(strings) if not config.disturbed[s]
        ]
        config.apply(changes)
        return changes

    def _shifts(
        self,
        plan: Plan,
        task: Task,
        items: tuple[int, ...],
        pairs: Joined,
        altered: Iterable[int],
        service_changes: list[ServiceChange],
    ) -> tuple[Shift, ...]:
        by_service = {c.service: c for c in service_changes}
        shifts = []
        for n in sorted(altered):
            before, after = self.views[n], self._view(n)
            if before == after:
                continue
            self.views[n] = after
            change = by_service.get(n)
            lost = change is not None and loses(change)
            why = reasons(self.config, task, items, pairs, change, lost)
            planned = is_planned(plan, task, self.config.wiring.services[n].id)
            shifts.append(Shift(n, before, after, why, planned))
            down = before.state is not State.DOWN and after.state is State.DOWN
            if down and after.life == ALIVE and not planned:
                self._note(unplanned(task, self.config.wiring.services[n].id, why))
        return tuple(shifts)

    def _verify(self, task: Task, moment: Moment, plan: Plan) -> None:
        """Prove every string of a service that is up; a service that is down is a finding."""
        assert isinstance(task.action.verify, str)
        wiring = self.config.wiring
        n = wiring.service_by_id[task.action.verify]
        row = wiring.services[n]
        if self.continuity.states[n] is State.DOWN or self.config.life[n] != ALIVE:
            self._note(
                Finding(
                    "verify-failed",
                    Severity.ERROR,
                    task.address,
                    f"{row.id} cannot be verified: it is {self.views[n].words}",
                    expected="the service up when it is verified",
                    difference=self.continuity.why_down(n) or f"it is {self.views[n].words}",
                    way_out=f"bring {row.id} up first, or verify it later",
                    step=task.step_id,
                    items=(row.id,),
                )
            )
            return
        self.trace.verified.append((n, moment.time_s))
        proven = [Change(Field.DISTURBED, s, 1, 0) for s in self._unproven(n)]
        if proven:
            self._happen(moment, plan, (), (), proven, frozenset())

    # -- refusals -----------------------------------------------------------

    def _refuse(self, task: Task, time_s: int, refusal: Refusal) -> None:
        wiring = self.config.wiring
        named = self.taint.named(task)
        guilty = [wiring.items[i].id for i in refusal.blame if i != NONE]
        if refusal.service != NONE:
            guilty.append(wiring.services[refusal.service].id)
        cause = self.taint.cause(guilty)
        self.trace.findings.add(
            Finding(
                "refused",
                Severity.ERROR,
                task.address,
                f"{task.verb} is impossible: {refusal.found}",
                expected=refusal.expected,
                difference=refusal.difference(self.config),
                way_out=refusal.way_out or "do what it needs before, or leave it out",
                step=task.step_id,
                items=tuple(named),
                because_of=cause,
            )
        )
        self.trace.refused.append(Refused(task, time_s, refusal.found, cause))
        self.taint.add(
            [*self.taint.changed(task), *left_apart(self.continuity, task)], cause or task.step_id
        )
        if not self.keep_going:
            self.trace.stopped = True

    def _note(self, finding: Finding) -> None:
        """Add a finding, beneath the skipped step it follows from where there is one."""
        live = bool(self.taint.since) and finding.rule.startswith("live-")
        also = self.watch.killers_of(finding) if live else ()
        self.trace.findings.add(self.taint.mark(finding, also, self._view))
