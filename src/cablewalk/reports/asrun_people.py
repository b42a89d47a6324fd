"""Everybody at work: where, holding what, how far behind the plan, and what comes next."""

from __future__ import annotations

from pydantic import Field

from cablewalk.replay.wiring import NONE
from cablewalk.reports.asrun_log import number, pet, words
from cablewalk.reports.base import Part
from cablewalk.reports.deed import deed
from cablewalk.timeline.trouble import Trouble
from cablewalk.units import minutes
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
        "earlier; at least those since the next was planned to begin, where that has passed; "
        "null: neither."
    )
    next_step: str | None = Field(description="Id of the next step; null: nothing left.")
    next_action_number: int | None = Field(description="Position of the action in it, from 1.")
    next_text: str = Field(description="The next action, in words.")
    next_say: str = Field(description="The worker's words of that step.")
    next_cautions: tuple[str, ...] = Field(description="Cautions of that step.")
    next_planned_pet: str | None = Field(description="When it was planned to begin.")
    waits_for: tuple[str, ...] = Field(
        description="Steps that must be over first, and are not, or that skipped the GO they were "
        "to give."
    )
    next_impossible: str = Field(
        description="Why the next action cannot be done as planned, itself or for the sake of "
        "another step; empty: nothing known stands in its way."
    )
    next_done_already: str = Field(
        description="How the items stand that the next action is to bring so, where that was done "
        "before and nothing is left for it to do; else empty."
    )


def actor_rows(
    tracked: Tracked, phase: Phase, trouble: Trouble, now_s: int
) -> tuple[ActorRow, ...]:
    """Return everybody whom the plan or the log names; ``now_s`` is mission elapsed time."""
    named = {w for step in phase.plan.steps for w in step.workers}
    named |= {w for row in tracked.played for w in row.task.workers}
    return tuple(
        _actor(tracked, phase, name, trouble, now_s)
        for name in tracked.ground.baseline.people
        if name in named
    )


def _actor(tracked: Tracked, phase: Phase, person: str, trouble: Trouble, now_s: int) -> ActorRow:
    config, wiring = tracked.fold.config, tracked.ground.wiring
    item = wiring.by_id[person]
    place = config.place_of(item)
    own = [row for row in tracked.played if person in row.task.workers]
    found = tracked.next_of(phase, person)
    begins = _planned(phase, begins=True)
    spot = None if found is None else (found[0].id, found[1])
    key = (phase.number, found[2].serial) if found else (phase.number, -1)
    refused = trouble.refused.get(key)
    behind = _behind(tracked, phase, person)
    if spot in begins and begins[spot] < now_s:
        waited = minutes(now_s - begins[spot])
        behind = waited if behind is None else max(behind, waited)
    return ActorRow(
        person=person,
        roles=tuple(r for r, p in phase.procedure.roles.items() if p == person),
        place=wiring.items[place].id if place != NONE else "",
        holds=tuple(wiring.items[n].id for n in config.held_by(item)),
        last_number=number(own[-1].entry.key) if own else "",
        last_text=words(tracked, own[-1].entry) if own else "",
        last_pet=pet(phase, own[-1].end_s) if own else None,
        behind_min=behind,
        next_step=spot[0] if spot else None,
        next_action_number=spot[1] + 1 if spot else None,
        next_text=deed(wiring, found[2].action) if found else "",
        next_say=found[0].document.say if found else "",
        next_cautions=found[0].document.cautions if found else (),
        next_planned_pet=pet(phase, begins[spot]) if spot in begins else None,
        waits_for=tracked.waits_for(phase, found[0]) if found else (),
        next_impossible=refused.text if refused else "",
        next_done_already=trouble.done_already.get(key, ""),
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
