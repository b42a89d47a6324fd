"""What was done beside what was planned: order, times, deviations."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.asrun_log import (
    EntryRow,
    LogFacts,
    LogReport,
    entry_row,
    log_heading,
    number,
    pet,
)
from cablewalk.reports.base import Part
from cablewalk.reports.deed import deed
from cablewalk.schedule.tasks import PlannedStep
from cablewalk.units import minutes
from cablewalk.walk.asrun_entry import Entry, Key
from cablewalk.walk.asrun_state import Phase, Played, Tracked


class ComparedRow(Part):
    """One planned action, and what became of it."""

    phase: str = Field(description="Id of its procedure.")
    step: str = Field(description="Id of its step.")
    action_number: int = Field(description="Its position in the step, from 1.")
    get_ahead: str = Field(description="Id of the get-ahead it belongs to; empty: none.")
    planned_text: str = Field(description="What was planned.")
    planned_by: tuple[str, ...] = Field(description="Who was to do it.")
    planned_begin_pet: str | None = Field(description="When; null for get-aheads.")
    planned_end_pet: str | None = Field(description="Until when; null for get-aheads.")
    entries: tuple[str, ...] = Field(description="Numbers of the entries that answer it.")
    outcome: str = Field(description="Outcome of the last of them; 'open': there is none.")
    done_text: str = Field(description="What was done; empty where it is as planned.")
    done_by: tuple[str, ...] = Field(description="Who did it.")
    begin_pet: str | None = Field(description="When its last entry began.")
    begin_assumed: bool = Field(description="Nobody said when it began.")
    end_pet: str | None = Field(description="When its last entry was over.")
    late_min: float | None = Field(
        description="Minutes later over than planned; negative: earlier."
    )
    took_min: float | None = Field(description="Minutes it took, if somebody said; else null.")
    planned_min: float = Field(description="Minutes it was likely to take.")
    deviations: tuple[str, ...] = Field(description="How it differs from the plan, but for times.")


class CompareReport(LogReport):
    """The log beside the plan."""

    report: Literal["asrun-compare"] = Field(description="Which report this is.")
    actions: tuple[ComparedRow, ...] = Field(description="Every planned action, in plan order.")
    unplanned: tuple[EntryRow, ...] = Field(description="Entries that answer no planned action.")
    corrections: tuple[EntryRow, ...] = Field(description="Corrections.")
    outcomes: dict[str, int] = Field(description="Outcome to how many planned actions have it.")


def compare_report(tracked: Tracked, facts: LogFacts, now_s: int) -> CompareReport:
    """Return the log beside the plan; get-aheads stand in it once they are begun."""
    fields, _ = log_heading(tracked, facts, now_s)
    played = {row.entry.key: row for row in tracked.played}
    rows: list[ComparedRow] = []
    for phase in tracked.phases:
        begun = {step for n, step, _ in tracked.answered if n == phase.number}
        ends = tracked.step_ends_s(phase)
        for step in phase.plan.steps:
            if not step.get_ahead or step.id in begun:
                rows.extend(_rows(tracked, phase, step, played, ends))
    outcomes: dict[str, int] = {}
    for row in rows:
        outcomes[row.outcome] = outcomes.get(row.outcome, 0) + 1
    entries = tracked.effective.entries
    return CompareReport(
        report="asrun-compare",
        actions=tuple(rows),
        unplanned=tuple(
            entry_row(tracked, e) for e in entries if e.kind == "action" and e.task is None
        ),
        corrections=tuple(entry_row(tracked, e) for e in tracked.entries if e.corrects is not None),
        outcomes=outcomes,
        **fields,
    )


def _rows(
    tracked: Tracked,
    phase: Phase,
    step: PlannedStep,
    played: dict[Key, Played],
    ends: dict[str, int],
) -> list[ComparedRow]:
    wiring = tracked.ground.wiring
    planned: dict[int, list[int]] = {}
    own = next((s for s in phase.timed.plan.steps if s.id == step.id), None)
    serials = {task.serial: n for n, task in enumerate(own.tasks)} if own else {}
    for moment in phase.timed.moments:
        if moment.task.serial in serials:
            planned.setdefault(serials[moment.task.serial], []).append(moment.time_s)
    rows = []
    for n, task in enumerate(step.tasks):
        entries = tracked.answered.get((phase.number, step.id, n), [])
        last = entries[-1] if entries else None
        row = played.get(last.key) if last else None
        times = planned.get(n)
        same = last is None or last.action == task.action
        took = None
        if row is not None and not row.assumed:
            took = minutes(row.end_s - row.begin_s)
        rows.append(
            ComparedRow(
                phase=phase.procedure.procedure,
                step=step.id,
                action_number=n + 1,
                get_ahead=step.get_ahead,
                planned_text=deed(wiring, task.action),
                planned_by=task.workers,
                planned_begin_pet=pet(phase, times[0]) if times else None,
                planned_end_pet=pet(phase, times[-1]) if times else None,
                entries=tuple(number(e.key) for e in entries),
                outcome=(last.outcome or "") if last else "open",
                done_text=""
                if same or last is None or last.action is None
                else deed(wiring, last.action),
                done_by=last.actors if last else (),
                begin_pet=pet(phase, row.begin_s) if row else None,
                begin_assumed=row.assumed if row else False,
                end_pet=pet(phase, row.end_s) if row else None,
                late_min=minutes(row.end_s - times[-1]) if row and times else None,
                took_min=took,
                planned_min=minutes(task.durations_s[1]),
                deviations=_deviations(
                    tracked, phase, step, entries, row, played, ends, task.workers
                ),
            )
        )
    return rows


def _deviations(
    tracked: Tracked,
    phase: Phase,
    step: PlannedStep,
    entries: list[Entry],
    row: Played | None,
    played: dict[Key, Played],
    ends: dict[str, int],
    workers: tuple[str, ...],
) -> tuple[str, ...]:
    found = [
        f"{e.outcome} ({number(e.key)}){': ' + e.text if e.text else ''}"
        for e in entries
        if e.outcome not in ("done",)
    ]
    if entries and entries[-1].outcome != "skipped" and set(entries[-1].actors) != set(workers):
        found.append(f"done by {', '.join(entries[-1].actors) or 'nobody named'}")
    if row is not None:
        found += _out_of_order(tracked, phase, step, row, played, ends)
    return tuple(found)


def _out_of_order(
    tracked: Tracked,
    phase: Phase,
    step: PlannedStep,
    row: Played,
    played: dict[Key, Played],
    ends: dict[str, int],
) -> list[str]:
    """Return what an entry began before, though it comes after it by the plan."""
    found = []
    without_go = tracked.without_go(phase, step)

    def was_over(other: PlannedStep) -> bool:
        return (
            not tracked.open_tasks(phase, other) and ends.get(other.id, row.begin_s) <= row.begin_s
        )

    for other in tracked.comes_after(phase, step, was_over):
        if not other.tasks:
            continue
        if other.id in without_go:
            found.append(f"out of order: step {other.id} skipped the GO it waits for")
        elif not was_over(other):
            found.append(f"out of order: before step {other.id} was over")
    # Where nobody said when it began, only that it ended sooner shows that it came sooner.
    since_s = row.end_s if row.assumed else row.begin_s
    late = []
    open_yet = {n for n, _ in tracked.open_tasks(phase, step)}
    for n in range(row.entry.task or 0):
        own = [played.get(e.key) for e in tracked.answered.get((phase.number, step.id, n), ())]
        if n in open_yet or any(r is not None and r.end_s > since_s for r in own):
            late.append(f"{step.id}/{n + 1}")
    if late:
        found.append(f"out of order: before {', '.join(late)} {_were(late)} over")
    return found


def _were(names: list[str]) -> str:
    return "was" if len(names) == 1 else "were"
