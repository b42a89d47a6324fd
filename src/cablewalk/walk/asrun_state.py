"""The log folded: how far the plan is done, and what was done when."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Findings
from cablewalk.schedule.order import Timed
from cablewalk.schedule.tasks import Plan, PlannedStep, Task
from cablewalk.units import parse_clock
from cablewalk.walk.asrun_entry import OVER, Effective, Entry
from cablewalk.walk.asrun_fold import AsRunFold
from cablewalk.walk.run import Ground
from cablewalk.walk.trace import Trace

WAYS = frozenset({"place", "path", "tie point", "person"})
"""Kinds of what an action names that is not handled by it."""
Spot = tuple[int, str, int]
"""Phase, step id and position in the step: a planned action."""


@dataclass(frozen=True, slots=True)
class Played:
    """An entry that was folded. Mission elapsed seconds."""

    entry: Entry
    task: Task
    begin_s: int
    end_s: int
    assumed: bool
    """Nobody said when it began: it is the earliest the estimates and the log allow."""


def _is_told(step: PlannedStep, other: PlannedStep) -> bool:
    """Return whether a step says itself that it comes after another: more than its worker's turn.

    By ``after`` or ``lead_min``, or as the other gives a GO it waits for.
    """
    document = step.document
    calls = {task.action.go_call for task in other.tasks}
    named = other.id in document.after or other.id in document.lead_min
    return named or not calls.isdisjoint(document.go)


@dataclass(slots=True)
class Phase:
    """A phase that was begun: its plan, with every get-ahead, and its clock."""

    number: int
    procedure: Procedure
    plan: Plan
    before: list[set[int]]
    timed: Timed
    """As planned, without get-aheads, from the moment the phase really began."""
    zero_s: int
    """Mission elapsed time of its PET 0:00."""
    by_id: dict[str, PlannedStep]

    @property
    def start_s(self) -> int:
        """Mission elapsed time at which its first step may begin."""
        return self.zero_s + parse_clock(self.procedure.start_pet)


@dataclass(slots=True)
class Tracked:
    """The log folded: how everything stands, and how far the plan is done."""

    ground: Ground
    procedures: tuple[Procedure, ...]
    entries: tuple[Entry, ...]
    """As they were recorded, corrections among them."""
    effective: Effective
    trace: Trace
    fold: AsRunFold
    zero_utc_s: int
    phases: list[Phase] = field(default_factory=list)
    played: list[Played] = field(default_factory=list)
    answered: dict[Spot, list[Entry]] = field(default_factory=dict)
    """Planned action to the entries that answer it, in order."""
    dark_s: int = 0
    """Seconds from when the baseline's ``now`` was true to the start of the first phase."""

    @property
    def findings(self) -> Findings:
        """What the documents, the fold and the log's own contradictions say."""
        return self.trace.findings

    def is_over(self, spot: Spot) -> bool:
        """Return whether a planned action is not waited for any longer."""
        return any(entry.outcome in OVER for entry in self.answered.get(spot, ()))

    def open_tasks(self, phase: Phase, step: PlannedStep) -> list[tuple[int, Task]]:
        """Return the actions of a step still to be done, with their positions."""
        return [
            (n, task)
            for n, task in enumerate(step.tasks)
            if not self.is_over((phase.number, step.id, n))
        ]

    def step_ends_s(self, phase: Phase) -> dict[str, int]:
        """Return step to when its last entry was over. Mission elapsed seconds."""
        ends: dict[str, int] = {}
        for row in self.played:
            if row.entry.phase == phase.number and row.entry.step:
                ends[row.entry.step] = max(row.end_s, ends.get(row.entry.step, row.end_s))
        return ends

    def next_of(self, phase: Phase, person: str) -> tuple[PlannedStep, int, Task] | None:
        """Return a person's next planned action, or None; get-aheads count once begun."""
        begun = {step for number, step, _ in self.answered if number == phase.number}
        for step in phase.plan.steps:
            if step.get_ahead and step.id not in begun:
                continue
            for position, task in self.open_tasks(phase, step):
                if person in task.workers:
                    return step, position, task
        return None

    def waits_for(self, phase: Phase, step: PlannedStep) -> tuple[str, ...]:
        """Return the steps that must be over before a step, and are not; no get-aheads."""
        refused = self.without_go(phase, step)
        return tuple(
            other.id
            for other in self.comes_after(phase, step, lambda s: not self.open_tasks(phase, s))
            if self.open_tasks(phase, other) or other.id in refused
        )

    def comes_after(
        self, phase: Phase, step: PlannedStep, over: Callable[[PlannedStep], bool]
    ) -> list[PlannedStep]:
        """Return the steps that must be over before a step, by position; no get-aheads.

        Where one that it is told to wait for is over, those too that this one was told to wait
        for: a GO given too soon lets nobody begin.
        """
        steps, found = phase.plan.steps, set(phase.before[step.position])
        behind, looked = [step], {step.position}
        while behind:
            one = behind.pop()
            told = {n for n in phase.before[one.position] if _is_told(one, steps[n])}
            found |= told
            behind += [steps[n] for n in told - looked if over(steps[n])]
            looked |= told
        return [steps[n] for n in sorted(found) if not steps[n].get_ahead]

    def without_go(self, phase: Phase, step: PlannedStep) -> set[str]:
        """Return the steps that were to give a GO a step waits for, and skipped to call it.

        A GO that was called in another entry was given.
        """
        wanted = set(step.document.go)
        if not wanted:
            return set()
        wanted -= {
            entry.action.go_call
            for entry in self.effective.entries
            if entry.phase == phase.number
            and entry.action is not None
            and entry.action.go_call is not None
            and entry.outcome in ("done", "done differently")
        }
        return {
            other.id
            for other in phase.plan.steps
            for n, task in enumerate(other.tasks)
            if task.action.go_call in wanted and self.is_over((phase.number, other.id, n))
        }

    def open_items(self) -> list[Entry]:
        """Return the notes that are open items and not closed yet."""
        entries = self.effective.entries
        closed = {entry.closes for entry in entries}
        return [e for e in entries if e.open_item and e.key not in closed]

    def things(self, names: Iterable[str]) -> tuple[str, ...]:
        """Return those ids that are things of the hardware, once each: no places, ways, people."""
        wiring = self.ground.wiring
        return tuple(
            n
            for n in dict.fromkeys(names)
            if n in wiring.by_id and wiring.items[wiring.by_id[n]].kind not in WAYS
        )

    def pet_s(self, phase: Phase, utc_s: int) -> int:
        """Return a UTC time in a phase's elapsed time."""
        return utc_s - self.zero_utc_s - phase.zero_s

    def mission_s(self, utc_s: int) -> int:
        """Return a UTC time as mission elapsed seconds."""
        return utc_s - self.zero_utc_s
