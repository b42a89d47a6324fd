"""What is still to do of a phase that is under way: its plan without what is over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from graphlib import TopologicalSorter

from cablewalk.documents.actions import Action
from cablewalk.documents.procedure import Procedure, Step
from cablewalk.findings import Address, Findings
from cablewalk.schedule.distance import Distances
from cablewalk.schedule.order import predecessors
from cablewalk.schedule.tasks import Plan, PlannedStep, Task, walk_s
from cablewalk.units import clock, parse_clock, seconds
from cablewalk.walk.asrun import places_of
from cablewalk.walk.asrun_state import Phase, Tracked

PAST = -1
"""Serial of the task that stands for all the time up to now."""


def rest_of(
    tracked: Tracked, phase: Phase, now_s: int, wanted: frozenset[str]
) -> tuple[Plan, list[set[int]], dict[int, int]]:
    """Return the plan of what is still to do, its order, and seconds actions are under way."""
    begun = {step for number, step, _ in tracked.answered if number == phase.number}
    kept = [
        step
        for step in phase.plan.steps
        if not step.get_ahead or step.get_ahead in wanted or step.id in begun
    ]
    past = _past(phase, now_s)
    moved = [_moved(step, n) for n, step in enumerate(kept, start=1)]
    whole = Plan(phase.number, phase.procedure, [past, *moved])
    before = predecessors(whole, Findings())
    assert before is not None, "the plan was checked before the log was opened"
    ended_s = tracked.step_ends_s(phase)
    steps = [past]
    places, distances = places_of(tracked.ground, tracked.fold.config), tracked.ground.distances
    for step in moved:
        left = [task for _, task in tracked.open_tasks(phase, step)]
        tasks = tuple(_from_here(phase.procedure, task, places, distances) for task in left)
        document = _document(step, not tasks, ended_s, phase)
        steps.append(replace(step, document=document, tasks=tasks))
    before = _passed_on(before, [not step.tasks for step in steps])
    plan = Plan(phase.number, phase.procedure, steps)
    return plan, before, _under_way(tracked, plan, before, ended_s, phase, now_s)


def _passed_on(before: Sequence[set[int]], over: Sequence[bool]) -> list[set[int]]:
    """Return the order of what is left: what is over waits for nothing, and holds nobody up.

    What came after a step that is over still comes after what that step was to wait for: else a
    step that nobody recorded would fall out of the order, and its worker be in two at once.
    """
    found: list[set[int]] = [set() for _ in before]
    links: list[set[int]] = [set() for _ in before]
    for n in TopologicalSorter(dict(enumerate(before))).static_order():
        passed = {0}.union(*(links[m] if over[m] else {m} for m in before[n])) if n else set()
        links[n] = passed
        found[n] = ({0} if over[n] else passed | before[n]) if n else set()
    return found


def _past(phase: Phase, now_s: int) -> PlannedStep:
    """Return the step that lasts until now: whatever is still to do comes after it."""
    elapsed = max(0, now_s - phase.start_s)
    address = Address(phase.number + 1)
    action = Action(wait=0)  # a wait of a document has its limit, and a log may lie for years
    spent = (elapsed, elapsed, elapsed)
    task = Task(phase.number, PAST, 0, "", "wait", action, (), spent, address)
    return PlannedStep(0, "", Step(id="past"), (), (task,), address)


def _moved(step: PlannedStep, position: int) -> PlannedStep:
    tasks = tuple(replace(task, step=position) for task in step.tasks)
    return replace(step, position=position, tasks=tasks)


def _from_here(
    procedure: Procedure, task: Task, places: dict[str, str], distances: Distances
) -> Task:
    """Return a task; a walk lasts as long as from where its people are, and ``places`` follow."""
    walk = task.action.walk
    if walk is None:
        return task
    starts = [places.get(worker, "") for worker in task.workers]
    places.update(dict.fromkeys(task.workers, walk.to))
    if task.action.minutes is not None:
        return task
    paced = walk_s(walk, starts, procedure, distances)
    return task if paced is None else replace(task, durations_s=(paced,) * 3)


def _document(step: PlannedStep, over: bool, ended_s: dict[str, int], phase: Phase) -> Step:
    """Return a step without the leads that are counted from steps already over."""
    if over:
        return Step(id=step.id, loses=step.document.loses)
    counted = {name: m for name, m in step.document.lead_min.items() if name in ended_s}
    if not counted:
        return step.document
    earliest = max(ended_s[name] + seconds(m) for name, m in counted.items()) - phase.zero_s
    if step.document.not_before is not None:
        earliest = max(earliest, parse_clock(step.document.not_before))
    left = {n: m for n, m in step.document.lead_min.items() if n not in counted}
    whole_minutes = clock(-(-earliest // 60) * 60)
    return step.document.model_copy(update={"lead_min": left, "not_before": whole_minutes})


def _under_way(
    tracked: Tracked,
    plan: Plan,
    before: list[set[int]],
    ended_s: dict[str, int],
    phase: Phase,
    now_s: int,
) -> dict[int, int]:
    """Return task serial to the seconds for which it may have been under way already."""
    free: dict[str, int] = {}
    for row in tracked.played:
        for worker in row.task.workers:
            free[worker] = max(row.end_s, free.get(worker, row.end_s))
    seen: set[str] = set()
    found: dict[int, int] = {}
    for step in plan.steps[1:]:
        if not step.tasks:
            continue
        first = step.tasks[0]
        mine = not seen & set(first.workers)
        seen.update(step.workers)
        if not mine or any(plan.steps[n].tasks for n in before[step.position] - {0}):
            continue
        since = [phase.start_s, *(free.get(worker, phase.start_s) for worker in first.workers)]
        since += [
            ended_s[plan.steps[n].id] for n in before[step.position] if plan.steps[n].id in ended_s
        ]
        if step.document.not_before is not None:
            since.append(phase.zero_s + parse_clock(step.document.not_before))
        found[first.serial] = max(0, now_s - max(since))
    return found
