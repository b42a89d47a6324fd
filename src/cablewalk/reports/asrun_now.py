"""Where the work is now: people, services, clocks, what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.continuity.services import State
from cablewalk.replay.configuration import ALIVE
from cablewalk.replay.wiring import NONE
from cablewalk.reports.asrun_log import (
    EntryRow,
    LogFacts,
    LogReport,
    entry_row,
    log_heading,
    number,
    pet,
    told,
    utc_text,
)
from cablewalk.reports.base import Part
from cablewalk.reports.deed import deed
from cablewalk.reports.fault import FindingRow
from cablewalk.reports.outage import OutageRow, outage_rows
from cablewalk.reports.standing import ServiceRow, service_rows
from cablewalk.timeline.account import Account
from cablewalk.timeline.trouble import Obstacle, trouble_ahead
from cablewalk.units import clock_down, minutes
from cablewalk.walk.asrun_entry import OVER
from cablewalk.walk.asrun_state import Phase, Tracked


class ActorRow(Part):
    """One person: where, holding what, and what comes next."""

    person: str = Field(description="Id of the person.")
    roles: tuple[str, ...] = Field(description="Roles in this phase.")
    place: str = Field(description="Id of the place; empty: at no place of the work.")
    holds: tuple[str, ...] = Field(description="Ids of what is in hand or carried.")
    last_number: str = Field(description="Number of the last entry; empty: none.")
    last_text: str = Field(description="What that was.")
    last_pet: str | None = Field(description="When it was over.")
    behind_min: float | None = Field(
        description="Minutes the last planned action done was later than planned; negative: "
        "earlier; null: none yet."
    )
    next_step: str | None = Field(description="Id of the next step; null: nothing left.")
    next_action_number: int | None = Field(description="Position of the action in it, from 1.")
    next_text: str = Field(description="The next action, in words.")
    next_say: str = Field(description="The worker's words of that step.")
    next_cautions: tuple[str, ...] = Field(description="Cautions of that step.")
    next_planned_pet: str | None = Field(description="When it was planned to begin.")
    waits_for: tuple[str, ...] = Field(description="Steps that must be over first, and are not.")


class RunningClock(Part):
    """A service that is down, and its tightest clock as it runs."""

    outage: OutageRow = Field(description="The outage.")
    dark_min: float = Field(description="Minutes it has been down, up to now.")
    since_before: bool = Field(description="It was down already before this log's first phase.")
    reconnect_by_pet: str | None = Field(
        description="Reconnect no later than, on the clock of the phase begun last, rounded down "
        "to the minute; or null."
    )
    reconnect_by_utc: str | None = Field(description="That moment, UTC; or null.")
    left_min: float | None = Field(description="Minutes from now until then; or null.")


class ImpossibleRow(Part):
    """A planned action still to come that cannot be done as planned, after what really happened."""

    phase: str = Field(description="Id of its procedure.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    step: str = Field(description="Id of its step.")
    action_number: int = Field(description="Position of the action in it, from 1.")
    people: tuple[str, ...] = Field(description="Ids of those who were to do it.")
    text: str = Field(description="The action, in words.")
    is_next: bool = Field(description="It is the next planned action of one of them.")
    why: str = Field(description="What stands in its way.")
    expected: str = Field(description="What it needs; or empty.")
    way_out: str = Field(
        description="What is possible then instead ('legal now: …'), or how to make it possible."
    )
    follows: tuple[str, ...] = Field(
        description="Ids of other steps of that phase that then cannot be done, or not as planned."
    )


class NowReport(LogReport):
    """Where the work is now."""

    report: Literal["asrun-now"] = Field(description="Which report this is.")
    actions_over: int = Field(description="Planned actions done, or skipped.")
    actions_planned: int = Field(description="Planned actions there are, get-aheads left out.")
    skipped: tuple[EntryRow, ...] = Field(description="What was skipped.")
    unfinished: tuple[EntryRow, ...] = Field(
        description="Planned actions whose last entry says failed or part-engaged."
    )
    actors: tuple[ActorRow, ...] = Field(description="Everybody the plan names.")
    down: tuple[RunningClock, ...] = Field(description="Services that are down, clocks running.")
    not_whole: tuple[ServiceRow, ...] = Field(
        description="Services that are reduced, or up but unproven."
    )
    impossible: tuple[ImpossibleRow, ...] = Field(
        description="What of the rest of the plan cannot be done as planned: causes, by time, what "
        "is next first."
    )
    to_come: tuple[FindingRow, ...] = Field(
        description="Errors that doing the rest as planned brings, live contacts first; clocks, "
        "and what follows from what is impossible, are left out."
    )
    open_items: tuple[EntryRow, ...] = Field(description="Open items.")
    last: tuple[EntryRow, ...] = Field(description="The last entries, newest last.")


LAST = 5


def now_report(tracked: Tracked, facts: LogFacts, now_s: int) -> NowReport:
    """Return how everything stands at a moment, mission elapsed seconds."""
    fields, account = log_heading(tracked, facts, now_s)
    phase = tracked.phases[-1]
    trouble = trouble_ahead(tracked, now_s)
    planned = [
        (phase.number, step.id, n)
        for step in phase.plan.steps
        if not step.get_ahead
        for n in range(len(step.tasks))
    ]
    views = account.trace.end_views
    return NowReport(
        report="asrun-now",
        actions_over=sum(tracked.is_over(spot) for spot in planned),
        actions_planned=len(planned),
        skipped=tuple(
            entry_row(tracked, e) for e in tracked.effective.entries if e.outcome == "skipped"
        ),
        unfinished=unfinished(tracked),
        actors=_actors(tracked, phase),
        down=_down(tracked, account, now_s),
        not_whole=tuple(
            row
            for row, view in zip(service_rows(account, views), views, strict=True)
            if view.life == ALIVE and view.state is not State.DOWN and row.state != "up"
        ),
        impossible=_impossible(tracked, phase, trouble.obstacles),
        to_come=told(
            account, facts, sorted(trouble.errors, key=lambda f: not f.rule.startswith("live-"))
        ),
        open_items=tuple(entry_row(tracked, e) for e in tracked.open_items()),
        last=tuple(entry_row(tracked, e) for e in tracked.entries[-LAST:]),
        **fields,
    )


def unfinished(tracked: Tracked) -> tuple[EntryRow, ...]:
    """Return the last entry of each planned action that was tried and is not over."""
    return tuple(
        entry_row(tracked, entries[-1])
        for entries in tracked.answered.values()
        if not any(entry.outcome in OVER for entry in entries)
    )


def _actors(tracked: Tracked, phase: Phase) -> tuple[ActorRow, ...]:
    named = {w for step in phase.plan.steps for w in step.workers}
    named |= {w for row in tracked.played for w in row.task.workers}
    return tuple(
        _actor(tracked, phase, name) for name in tracked.ground.baseline.people if name in named
    )


def _actor(tracked: Tracked, phase: Phase, person: str) -> ActorRow:
    config, wiring = tracked.fold.config, tracked.ground.wiring
    item = wiring.by_id[person]
    place = config.place_of(item)
    own = [row for row in tracked.played if person in row.task.workers]
    found = tracked.next_of(phase, person)
    begins = _planned(phase, begins=True)
    spot = None if found is None else (found[0].id, found[1])
    return ActorRow(
        person=person,
        roles=tuple(r for r, p in phase.procedure.roles.items() if p == person),
        place=wiring.items[place].id if place != NONE else "",
        holds=tuple(wiring.items[n].id for n in config.held_by(item)),
        last_number=number(own[-1].entry.key) if own else "",
        last_text=deed(wiring, own[-1].task.action) if own else "",
        last_pet=pet(phase, own[-1].end_s) if own else None,
        behind_min=_behind(tracked, phase, person),
        next_step=spot[0] if spot else None,
        next_action_number=spot[1] + 1 if spot else None,
        next_text=deed(wiring, found[2].action) if found else "",
        next_say=found[0].document.say if found else "",
        next_cautions=found[0].document.cautions if found else (),
        next_planned_pet=pet(phase, begins[spot]) if spot in begins else None,
        waits_for=tracked.waits_for(phase, found[0]) if found else (),
    )


def _planned(phase: Phase, begins: bool) -> dict[tuple[str, int] | None, int]:
    """Return (step, position) to when that action begins, or ends, as planned."""
    first = {step.tasks[0].serial: step for step in phase.timed.plan.steps if step.tasks}
    positions: dict[int, tuple[str, int]] = {}
    for serial, step in first.items():
        positions.update({serial + n: (step.id, n) for n in range(len(step.tasks))})
    return {positions[m.task.serial]: m.time_s for m in phase.timed.moments if m.begins is begins}


def _behind(tracked: Tracked, phase: Phase, person: str) -> float | None:
    ends = _planned(phase, begins=False)
    for row in reversed(tracked.played):
        spot = (row.entry.step, row.entry.task or 0)
        answers = row.entry.phase == phase.number and row.entry.task is not None
        if answers and person in row.task.workers and row.entry.outcome in OVER and spot in ends:
            return minutes(row.end_s - ends[spot])
    return None


def _impossible(
    tracked: Tracked, phase: Phase, obstacles: Sequence[Obstacle]
) -> tuple[ImpossibleRow, ...]:
    people = tracked.ground.baseline.people
    nexts = {
        (phase.number, found[0].id, found[1])
        for found in (tracked.next_of(phase, person) for person in people)
        if found is not None
    }
    rows = []
    for row in obstacles:
        task, refusal = row.refused.task, row.refusal
        rows.append(
            ImpossibleRow(
                phase=row.phase.procedure.procedure,
                phase_number=task.phase + 1,
                step=task.step_id,
                action_number=row.place + 1,
                people=task.workers,
                text=deed(tracked.ground.wiring, task.action),
                is_next=(task.phase, task.step_id, row.place) in nexts,
                why=row.refused.text,
                expected=refusal.expected,
                way_out=refusal.way_out,
                follows=row.follows,
            )
        )
    return tuple(sorted(rows, key=lambda row: not row.is_next))


def _down(tracked: Tracked, account: Account, now_s: int) -> tuple[RunningClock, ...]:
    found = []
    zero_s = tracked.phases[-1].zero_s
    for row in outage_rows(account):
        if row.retired or (row.to_min is not None and row.to_min <= minutes(now_s)):
            continue
        by = row.reconnect_by_min
        by_s = None if by is None else round(by * 60)
        found.append(
            RunningClock(
                outage=row,
                dark_min=minutes(now_s - round(row.from_min * 60)),
                since_before=row.at_start,
                reconnect_by_pet=None if by_s is None else clock_down(by_s - zero_s),
                reconnect_by_utc=None if by_s is None else utc_text(tracked.zero_utc_s + by_s),
                left_min=None if by_s is None else minutes(by_s - now_s),
            )
        )
    return tuple(found)
