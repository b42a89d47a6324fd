"""The fold of what was recorded: it never refuses, and tells what the model says to it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cablewalk.continuity.services import State
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect, Refusal
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.standing import subject, told
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import Moment
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.walk.asrun_entry import Entry, Key
from cablewalk.walk.asrun_force import MATING, force, left_by
from cablewalk.walk.fold import PHASE_SERIALS, Fold
from cablewalk.walk.trace import Trace
from cablewalk.walk.words import unlike


@dataclass(frozen=True, slots=True)
class Override:
    """An entry that says what the model did not have: what was set, and what stood before."""

    key: Key
    before: dict[str, str]
    states: dict[str, str]
    refusal: str
    """Why the model held the action impossible; empty for what was found or verified."""
    expected: str


class AsRunFold(Fold):
    """A fold whose tasks are recorded entries: what was recorded is so."""

    def __init__(self, trace: Trace, config: Configuration) -> None:
        super().__init__(trace, config, keep_going=True)
        self.entries: dict[Key, Entry] = {}
        self.overrides: dict[Key, Override] = {}
        self.fruitless: dict[Key, str] = {}
        """Entries of outcome failed to why the model too holds them impossible, or empty."""
        self._at_work: dict[Key, tuple[Task, Plan]] = {}

    def _begin(self, moment: Moment, plan: Plan) -> None:
        task = moment.task
        key = (task.phase, task.serial)
        workers = tuple(self.config.wiring.by_id[w] for w in task.workers)
        outcome = self._attempt(moment, plan, workers)
        failed = self.entries[key].outcome == "failed"
        if failed:
            self.fruitless[key] = outcome.found if isinstance(outcome, Refusal) else ""
        if isinstance(outcome, Effect) and not failed:
            outcome = self._seen(task, workers, outcome)
        elif isinstance(outcome, Effect):
            outcome = _undone(outcome, task, workers)
        else:
            outcome = self._forced(task, plan, workers, outcome, failed)
        self._at_work[key] = (task, plan)
        self._start(moment, plan, outcome)

    def _attempt(self, moment: Moment, plan: Plan, workers: tuple[int, ...]) -> Effect | Refusal:
        """Return what an entry does; what is at work on its items is over first."""
        task = moment.task
        while True:
            outcome = attempt_action(
                self.config,
                task.action,
                workers,
                _serial(task),
                lambda n: self.continuity.states[n] is State.DOWN,
                plan.procedure.roles,
            )
            claim = NONE
            if isinstance(outcome, Refusal) and outcome.item != NONE:
                claim = self.config.claim[outcome.item]
            if claim == NONE:
                return outcome
            self._settle(divmod((claim >> 1) - 1, PHASE_SERIALS), moment)

    def _settle(self, key: Key, moment: Moment) -> None:
        """End an entry early, for another was at work on the same item before it was over."""
        task, plan = self._at_work[key]
        self._end(Moment(moment.time_s, False, task), plan, *self.running.pop(key))
        self.trace.findings.add(
            Finding(
                "overlapping-entries",
                Severity.WARNING,
                moment.task.address,
                f"{label(self.entries[key])} and {label(self.entries[_key(moment.task)])} are at "
                "work on the same item at the same time",
                expected="one action at a time on an item",
                difference="the first is taken to end as the second begins",
                way_out="correct the time of one of them, or say when it began",
                step=moment.task.step_id,
            )
        )

    def _seen(self, task: Task, workers: tuple[int, ...], effect: Effect) -> Effect:
        """Return the effect of an entry the model allows; what was seen otherwise is set so."""
        action, key = task.action, _key(task)
        if action.found is not None:
            states = left_by(self.config, action, workers, {})
            self._override(key, states, Refusal(NONE, "", ""))
            return effect
        if not unlike(self.config, self.views, task):
            return effect
        seen, states = force(self.config, action, workers, _serial(task), {})
        self._override(key, states, Refusal(NONE, "", ""))
        return seen

    def _forced(
        self, task: Task, plan: Plan, workers: tuple[int, ...], refusal: Refusal, failed: bool
    ) -> Effect:
        roles = plan.procedure.roles
        effect, states = force(self.config, task.action, workers, _serial(task), roles)
        if failed:
            return replace(
                effect,
                begin=_hands(effect.begin, workers),
                items=(),
                end=_hands(effect.end, workers),
            )
        self._override(_key(task), states, refusal)
        return effect

    def _override(self, key: Key, states: dict[str, str], refusal: Refusal) -> None:
        before = {}
        for name, words in states.items():
            item = subject(self.config.wiring, name, words)
            if self.config.wiring.items[item].kind in ("segment", "harness"):
                continue
            before[name] = told(self.config, item)
        self.overrides[key] = Override(key, before, states, refusal.found, refusal.expected)


def label(entry: Entry) -> str:
    """Return how an entry is named in messages."""
    return f"log {entry.phase + 1}.{entry.serial}"


def log_address(entry: Entry) -> Address:
    """Return the address of an entry that answers no planned action: its procedure."""
    return Address(entry.phase + 1)


def _serial(task: Task) -> int:
    return task.phase * PHASE_SERIALS + task.serial + 1


def _key(task: Task) -> Key:
    return task.phase, task.serial


def _hands(changes: tuple[Change, ...], workers: tuple[int, ...]) -> tuple[Change, ...]:
    """Return those changes that only say who is busy."""
    return tuple(c for c in changes if c.field is Field.STATE and c.item in workers)


def _undone(effect: Effect, task: Task, workers: tuple[int, ...]) -> Effect:
    """Return the effect of an action that was tried in vain: all is as before at its end.

    Its joins were doubtful meanwhile, and two halves that met have one mate more.
    """
    back = [c.inverse for c in reversed(effect.begin) if c.field is Field.LINK]
    free = [c for c in effect.end if c.field is Field.CLAIM]
    count = [c for c in effect.end if c.field is Field.COUNT and task.verb in MATING]
    return replace(effect, end=(*back, *count, *free, *_hands(effect.end, workers)))
