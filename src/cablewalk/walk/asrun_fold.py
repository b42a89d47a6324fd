"""The fold of what was recorded: it never refuses, and tells what the model says to it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cablewalk.documents.actions import Action
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
from cablewalk.walk.asrun_found import FoundFold, Override, key_of
from cablewalk.walk.asrun_mend import mended, misfits
from cablewalk.walk.asrun_overtaken import only_looks
from cablewalk.walk.fold import PHASE_SERIALS
from cablewalk.walk.trace import Trace
from cablewalk.walk.words import unlike


class AsRunFold(FoundFold):
    """A fold whose tasks are recorded entries: what was recorded is so."""

    def __init__(
        self,
        trace: Trace,
        config: Configuration,
        dark: Iterable[int] = (),
        found_down: Iterable[int] = (),
    ) -> None:
        """``dark``: services handed over dark; of these, what the model has up was found down.

        ``found_down``: those handed over as found down, whatever the model has.
        """
        super().__init__(trace, config)
        self._go_on_believing(dark, found_down)
        self.entries: dict[Key, Entry] = {}
        self.ends_s: dict[Key, int] = {}
        """When each of them was over, mission elapsed seconds."""
        self.fruitless: dict[Key, str] = {}
        """Entries of outcome failed to why the model too holds them impossible, or empty."""
        self._told: frozenset[str] = frozenset()
        """What an entry that begins just now was found to be otherwise than the model had it."""
        self._at_work: dict[Key, tuple[Task, Plan]] = {}

    def _begin(self, moment: Moment, plan: Plan) -> None:
        task = moment.task
        key = (task.phase, task.serial)
        workers = tuple(self.config.wiring.by_id[w] for w in task.workers)
        failed = self.entries[key].outcome == "failed"
        outcome = self._attempt(moment, plan, workers)
        first = outcome
        moves = self._moves(outcome, workers)
        if moves:
            self.config.apply(moves)
            outcome = self._attempt(moment, plan, workers)
            self.config.undo(moves)
        if failed:
            self.fruitless[key] = first.found if isinstance(first, Refusal) else ""
        if isinstance(outcome, Effect):
            effect = _undone(outcome, task, self.config) if failed else outcome
            if isinstance(first, Refusal):
                self._override(key, self._places(moves), first)
            elif not failed:
                effect = self._seen(task, workers, effect)
        else:
            effect = self._forced(task, plan, workers, outcome, failed)
            if key in self.overrides:
                there = self._places(moves) | self.overrides[key].states
                self.overrides[key] = replace(self.overrides[key], states=there)
        effect = effect._replace(begin=(*moves, *effect.begin))
        if key in self.overrides:
            effect = mended(self.config, effect, workers)
        self._at_work[key] = (task, plan)
        self._told = frozenset(self.overrides[key].states if key in self.overrides else ())
        self._start(moment, plan, effect)
        self._told = frozenset()
        if not failed:
            self._found_services(moment, plan)

    def _note(self, finding: Finding) -> None:
        # What was seen otherwise than thought is so, and told as that: nothing failed.
        if finding.rule != "not-as-expected" or self._told.isdisjoint(finding.items):
            super()._note(finding)

    def _verify(self, task: Task, moment: Moment, plan: Plan) -> None:
        if self.entries[key_of(task)].outcome != "failed":  # a test that failed proves nothing
            super()._verify(task, moment, plan)

    def _attempt(self, moment: Moment, plan: Plan, workers: tuple[int, ...]) -> Effect | Refusal:
        """Return what an entry does; what is at work on its items is over first."""
        task = moment.task
        if task.action.verb not in MATING and (why := misfits(self.config, task.action)):
            return Refusal(NONE, why, "what fits, by the interfaces of the baseline")
        failed = self.entries[key_of(task)].outcome == "failed"
        while True:
            looks = not failed and only_looks(self.config, task.action)
            outcome = attempt_action(
                self.config,
                Action(inspect=task.action.lock) if looks else _hardware(self.config, task.action),
                workers,
                _serial(task),
                self.is_down,
                plan.procedure.roles,
            )
            other = self._in_the_way(outcome, moment.time_s)
            if other is None:
                if looks and isinstance(outcome, Effect):
                    return outcome._replace(items=())  # no join of theirs is disturbed
                return outcome
            self._settle(other, moment)

    def _in_the_way(self, outcome: Effect | Refusal, time_s: int) -> Key | None:
        """Return an entry to end first, or None: one at work on what is needed, or over just now.

        An entry that is impossible until another ends, which it does at that time, came after it.
        """
        if not isinstance(outcome, Refusal):
            return None
        touching = next((key for key in self.running if self.ends_s[key] <= time_s), None)
        if touching is not None or outcome.item == NONE:
            return touching
        busy = outcome.legal == ("wait",)
        leg = self.config.wiring.leg_of.get(outcome.item, NONE) if busy else NONE
        for item in (outcome.item, leg):
            claim = self.config.claim[item] if item != NONE else NONE
            if claim != NONE:
                return divmod((claim >> 1) - 1, PHASE_SERIALS)
        for key, (effect, _) in self.running.items():
            if any(c.field is Field.STATE and c.item == outcome.item for c in effect.begin):
                return key
        return None

    def _moves(self, outcome: Effect | Refusal, workers: tuple[int, ...]) -> list[Change]:
        """Return the changes that bring the workers to what they acted on: they were there."""
        if not isinstance(outcome, Refusal) or outcome.legal != ("walk",):
            return []
        place = self.config.place_of(outcome.item) if outcome.item != NONE else NONE
        if place == NONE:
            return []
        return [
            Change(Field.LINK, worker, self.config.link[worker], place)
            for worker in workers
            if self.config.place_of(worker) not in (NONE, place)
        ]

    def _places(self, moves: list[Change]) -> dict[str, str]:
        items = self.config.wiring.items
        return {items[c.item].id: f"at {items[c.new].id}" for c in moves if isinstance(c.new, int)}

    def _settle(self, key: Key, moment: Moment) -> None:
        """End an entry, for another begins; where it was not over, the two overlap."""
        task, plan = self._at_work[key]
        self._end(Moment(moment.time_s, False, task), plan, *self.running.pop(key))
        if self.ends_s[key] <= moment.time_s:
            return
        self.trace.findings.add(
            Finding(
                "overlapping-entries",
                Severity.WARNING,
                moment.task.address,
                f"{label(self.entries[key])} and {label(self.entries[key_of(moment.task)])} are at "
                "work on the same item at the same time",
                expected="one action at a time on an item",
                difference="the first is taken to end as the second begins",
                way_out="correct the time of one of them, or say when it began",
                step=moment.task.step_id,
            )
        )

    def _seen(self, task: Task, workers: tuple[int, ...], effect: Effect) -> Effect:
        """Return the effect of an entry the model allows; what was seen otherwise is set so."""
        action, key = task.action, key_of(task)
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
        action = task.action
        if failed and only_looks(self.config, action):
            # A lock that was thought verified, and was seen not to hold: its join is doubtful.
            half = str(action.lock)
            mate = self.config.wiring.items[self.config.link[self.config.wiring.by_id[half]]].id
            action = Action(found={half: f"unverified {mate}"}, reason="its lock was not verified")
            refusal, failed = Refusal(NONE, "", ""), False
            self.fruitless[key_of(task)] = ""
        if misfits(self.config, action):
            action = Action(wait=0)
        effect, states = force(self.config, action, workers, _serial(task), roles)
        if failed:
            met = (c for c in effect.end if c.field is Field.COUNT and task.verb in MATING)
            return effect._replace(
                begin=_hands(effect.begin, self.config),
                items=(),
                end=(*met, *_hands(effect.end, self.config)),
            )
        self._override(key_of(task), states, refusal)
        return effect

    def _override(self, key: Key, states: dict[str, str], refusal: Refusal) -> None:
        before = {}
        for name, words in states.items():
            item = subject(self.config.wiring, name, words)
            if self.config.wiring.items[item].kind in ("segment", "harness"):
                continue
            before[name] = told(self.config, item)
        self.overrides[key] = Override(key, before, states, refusal.found, refusal.expected)


def _hardware(config: Configuration, action: Action) -> Action:
    """Return an action without the services that were found: no machine is theirs."""
    if action.found is None:
        return action
    items = {name: words for name, words in action.found.items() if name in config.wiring.by_id}
    return Action(found=items, reason=action.reason) if items else Action(wait=0)


def label(entry: Entry) -> str:
    """Return how an entry is named in messages."""
    return f"log {entry.phase + 1}.{entry.serial}"


def log_address(entry: Entry) -> Address:
    """Return the address of an entry that answers no planned action: its procedure."""
    return Address(entry.phase + 1)


def _serial(task: Task) -> int:
    return task.phase * PHASE_SERIALS + task.serial + 1


def _hands(changes: tuple[Change, ...], config: Configuration) -> tuple[Change, ...]:
    """Return those changes that only say who is busy."""
    items = config.wiring.items
    return tuple(c for c in changes if c.field is Field.STATE and items[c.item].kind == "person")


def _undone(effect: Effect, task: Task, config: Configuration) -> Effect:
    """Return the effect of an action that was tried in vain: all is as before at its end.

    Its joins were doubtful meanwhile, and two halves that met have one mate more.
    """
    back = [c.inverse for c in reversed(effect.begin) if c.field is Field.LINK]
    free = [c for c in effect.end if c.field is Field.CLAIM]
    count = [c for c in effect.end if c.field is Field.COUNT and task.verb in MATING]
    return effect._replace(end=(*back, *count, *free, *_hands(effect.end, config)))
