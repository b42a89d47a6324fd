"""Building the steps of a replay from its trace."""

from __future__ import annotations

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.standing import told
from cablewalk.replay.wiring import STATEFUL, Wiring
from cablewalk.reports.base import pet_at, procedure_id
from cablewalk.reports.deed import deed
from cablewalk.reports.standing import ShiftRow, shift_row
from cablewalk.reports.step import ActionRow, ChangeRow, Outcome, StepRow
from cablewalk.schedule.order import Timed
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.account import Account
from cablewalk.units import minutes
from cablewalk.walk.trace import Refused

Key = tuple[int, int]
"""Phase and serial number of a task."""

_SHOWN = frozenset({Field.STATE, Field.LINK, Field.COUNT, Field.TIES, Field.ALONG})


def step_rows(account: Account) -> tuple[StepRow, ...]:
    """Return every step of every phase replayed, by the time it begins.

    Steps that begin together are in the order of the document.
    """
    steps = _Steps(account)
    rows: list[StepRow] = []
    for timed in account.trace.phases:
        order = sorted(range(len(timed.plan.steps)), key=lambda n: (timed.step_start_s[n], n))
        rows.extend(steps.row(timed, n) for n in order)
    return tuple(rows)


class _Steps:
    """What each task did, gathered in one walk over the events."""

    def __init__(self, account: Account) -> None:
        self.account = account
        self.before: dict[Key, dict[int, str]] = {}
        self.after: dict[Key, dict[int, str]] = {}
        self.shifts: dict[Key, list[ShiftRow]] = {}
        self.ended: set[Key] = set()
        self.refused: dict[Key, Refused] = {
            (r.task.phase, r.task.serial): r for r in account.trace.refused
        }
        self.times: dict[Key, list[int]] = {}
        for timed in account.trace.phases:
            for moment in timed.moments:
                task = moment.task
                self.times.setdefault((task.phase, task.serial), []).append(moment.time_s)
        self.findings: dict[tuple[int, str | None], list[int]] = {}
        for n, finding in enumerate(account.findings):
            phase = finding.address.document - 1
            self.findings.setdefault((phase, finding.step), []).append(n)
        self._walk()

    def _walk(self) -> None:
        trace = self.account.trace
        config = trace.start.copy()
        for event in trace.events:
            key = (event.task.phase, event.task.serial)
            items = sorted({c.item for c in event.changes if _is_shown(trace.wiring, c)})
            before = self.before.setdefault(key, {})
            for item in items:
                before.setdefault(item, _stands(config, item))
            config.apply(event.changes)
            for item in items:
                self.after.setdefault(key, {})[item] = _stands(config, item)
            rows = (shift_row(self.account, event, shift) for shift in event.shifts)
            self.shifts.setdefault(key, []).extend(row for row in rows if row is not None)
            if not event.begins:
                self.ended.add(key)

    def row(self, timed: Timed, position: int) -> StepRow:
        trace = self.account.trace
        step = timed.plan.steps[position]
        begin_s, end_s = timed.step_start_s[position], timed.step_end_s[position]
        return StepRow(
            phase=procedure_id(timed),
            phase_number=timed.plan.phase + 1,
            id=step.id,
            get_ahead=step.get_ahead or None,
            by=step.document.by,
            people=step.workers,
            begin_min=minutes(begin_s),
            end_min=minutes(end_s),
            begin_pet=pet_at(trace, begin_s, timed.plan.phase),
            end_pet=pet_at(trace, end_s, timed.plan.phase),
            say=step.document.say,
            indication=step.document.indication,
            cautions=step.document.cautions,
            actions=tuple(self._action(task) for task in step.tasks),
            findings=tuple(self.findings.get((timed.plan.phase, step.id), ())),
        )

    def _action(self, task: Task) -> ActionRow:
        trace = self.account.trace
        key = (task.phase, task.serial)
        times = self.times[key]
        best, likely, worst = task.durations_s
        refused = self.refused.get(key)
        return ActionRow(
            verb=task.verb,
            text=deed(trace.wiring, task.action),
            people=task.workers,
            begin_min=minutes(times[0]),
            end_min=minutes(times[-1]),
            begin_pet=pet_at(trace, times[0], task.phase),
            end_pet=pet_at(trace, times[-1], task.phase),
            best_min=minutes(best),
            likely_min=minutes(likely),
            worst_min=minutes(worst),
            outcome=self._outcome(key),
            refusal=refused.text if refused else "",
            because_of=refused.because_of if refused else None,
            changes=self._changes(key),
            shifts=tuple(self.shifts.get(key, ())),
        )

    def _outcome(self, key: Key) -> Outcome:
        if key in self.refused:
            return "not possible"
        if key in self.ended:
            return "done"
        return "begun" if key in self.before else "not reached"

    def _changes(self, key: Key) -> tuple[ChangeRow, ...]:
        items = self.account.trace.wiring.items
        before, after = self.before.get(key, {}), self.after.get(key, {})
        return tuple(
            ChangeRow(
                item=items[n].id,
                kind=items[n].kind,
                label=items[n].label,
                before=before[n],
                after=after[n],
            )
            for n in before
            if before[n] != after[n]
        )


def _is_shown(wiring: Wiring, change: Change) -> bool:
    """Whether a change is one of an item that people see: not who is busy, nor how often mated."""
    if change.field not in _SHOWN:
        return False
    kind = wiring.items[change.item].kind
    if kind == "person":
        return change.field is Field.LINK
    return change.field is not Field.COUNT or kind == "cover"


def _stands(config: Configuration, item: int) -> str:
    """Return how an item stands; a segment by its paths and ties, a harness's leg as a leg."""
    wiring = config.wiring
    ways = config.along[item]
    ties = config.ties[item]
    words = [told(config, item)] if wiring.items[item].kind in STATEFUL else []
    if ways:
        words.append(f"along {' '.join(wiring.items[w].id for w in ways)}")
    if ties:
        words.append(f"tied at {' '.join(wiring.items[t].id for t in ties)}")
    return ", ".join(words) or "not laid, not tied"
