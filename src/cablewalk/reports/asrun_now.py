"""Where the work is now: people, services, clocks, what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.replay.configuration import ALIVE
from cablewalk.reports.asrun_clock import RunningClock, running_clocks
from cablewalk.reports.asrun_log import (
    EntryRow,
    LogFacts,
    LogReport,
    entry_row,
    log_heading,
    told,
)
from cablewalk.reports.asrun_people import ActorRow, actor_rows
from cablewalk.reports.base import Part
from cablewalk.reports.deed import deed
from cablewalk.reports.fault import FindingRow
from cablewalk.reports.standing import ServiceRow, service_rows
from cablewalk.timeline.trouble import Obstacle, trouble_ahead
from cablewalk.walk.asrun_entry import OVER
from cablewalk.walk.asrun_state import Phase, Tracked


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
    down: tuple[RunningClock, ...] = Field(
        description="Services that are down, or do not count as back yet, clocks running."
    )
    not_whole: tuple[ServiceRow, ...] = Field(
        description="Services that are reduced, or up but unproven; not those still recovering."
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
    down = running_clocks(tracked, account, now_s)
    dark = {row.outage.service for row in down}
    return NowReport(
        report="asrun-now",
        actions_over=sum(tracked.is_over(spot) for spot in planned),
        actions_planned=len(planned),
        skipped=tuple(
            entry_row(tracked, e) for e in tracked.effective.entries if e.outcome == "skipped"
        ),
        unfinished=unfinished(tracked),
        actors=actor_rows(tracked, phase, trouble, now_s),
        down=down,
        not_whole=tuple(
            row
            for row, view in zip(service_rows(account, views), views, strict=True)
            if view.life == ALIVE and row.state != "up" and row.service not in dark
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
