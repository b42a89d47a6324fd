"""Times of several actions that are recorded as one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cablewalk.schedule.order import LIKELY
from cablewalk.schedule.tasks import PlannedStep, Task
from cablewalk.walk.asrun_state import Phase, Tracked
from cablewalk.walk.asrun_when import earliest_s

WORST: Final = 2


def spread(
    tracked: Tracked,
    phase: Phase,
    step: PlannedStep,
    tasks: Sequence[Task],
    began_s: int | None,
    over_s: int,
    actors: Sequence[str],
) -> list[int]:
    """Return when each of several actions recorded as one was over, UTC seconds.

    Their likely minutes are stretched, or pressed, into the time from when the step could begin
    to when it was over: so a step recorded at its planned end has the times of the plan.

    Args:
        tracked: the log folded.
        phase: the phase.
        step: the step.
        tasks: those of its actions that are recorded.
        began_s: when the first began, UTC seconds; None: nobody said.
        over_s: when the last was over, UTC seconds.
        actors: ids of the people who did them, beside those of the plan.
    """
    total = sum(task.durations_s[LIKELY] for task in tasks)
    begin = began_s
    if begin is None:
        begin = tracked.zero_utc_s + _could_begin(
            tracked, phase, step, tasks, tracked.mission_s(over_s), actors
        )
    begin = min(begin, over_s)
    ends, so_far = [], 0
    for task in tasks:
        so_far += task.durations_s[LIKELY]
        share = so_far / total if total else 1.0
        ends.append(begin + round((over_s - begin) * share))
    return ends


def _could_begin(
    tracked: Tracked,
    phase: Phase,
    step: PlannedStep,
    tasks: Sequence[Task],
    over: int,
    actors: Sequence[str],
) -> int:
    """Return when the first of the actions of a step is taken to have begun.

    As early as its workers and what it waits for allow, and its worst minutes; where not all of
    that is recorded yet, and so nobody can tell, no earlier than its likely minutes.
    """
    own = [row for row in tracked.played if row.end_s <= over]
    workers = {worker for task in tasks for worker in task.workers}
    workers |= set(actors)
    ended: dict[int, int] = {}
    for row in own:
        if row.entry.phase == phase.number and row.entry.step:
            ended[row.task.step] = max(row.end_s, ended.get(row.task.step, row.end_s))
    free = [row.end_s for row in own if workers & set(row.task.workers)]
    known = not any(
        tracked.open_tasks(phase, phase.plan.steps[n])
        for n in phase.before[step.position]
        if not phase.plan.steps[n].get_ahead
    )
    longest = sum(task.durations_s[WORST if known else LIKELY] for task in tasks)
    return max([over - longest, earliest_s(phase, step, ended), *free])
