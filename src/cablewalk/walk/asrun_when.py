"""When each recorded action began, and in which order everything happened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from operator import attrgetter

from cablewalk.documents.procedure import Procedure
from cablewalk.schedule.order import LIKELY, Moment
from cablewalk.schedule.tasks import INSTANT, PlannedStep, Task
from cablewalk.units import parse_clock, seconds
from cablewalk.walk.asrun_entry import Entry, ids_of
from cablewalk.walk.asrun_state import Phase, Played, Tracked

WORST = 2


def minutes_of(procedure: Procedure, verb: str) -> tuple[int, int, int]:
    """Return the seconds a procedure gives a verb: best, likely, worst; zeros where none."""
    estimate = procedure.minutes.get(verb)
    if estimate is None and verb not in INSTANT:
        estimate = procedure.minutes.get("any")
    if estimate is None:
        return (0, 0, 0)
    return (
        seconds(estimate.best_min),
        seconds(estimate.likely_min),
        seconds(estimate.worst_min),
    )


def earliest_s(phase: Phase, step: PlannedStep, ended: Mapping[int, int]) -> int:
    """Return when a step could begin by what it waits for, mission elapsed seconds.

    Args:
        phase: its phase.
        step: the step.
        ended: step position to when its last entry was over; what is not in it is not waited for.
    """
    waits = [ended[n] for n in phase.before[step.position] if n in ended]
    for name, lead in step.document.lead_min.items():
        other = phase.by_id.get(name)
        if other is not None and other.position in ended:
            waits.append(ended[other.position] + seconds(lead))
    if step.document.not_before is not None:
        waits.append(phase.zero_s + parse_clock(step.document.not_before))
    return max([phase.start_s, *waits])


def when(tracked: Tracked, phase: Phase, tasks: Sequence[tuple[Entry, Task]]) -> list[Played]:
    """Return each entry with its beginning and end, by end and serial.

    Where nobody said when an action began, it is taken to have begun as early as its worst
    estimate allows, but not before its workers, its items and the steps it had to wait for were
    free: what it can lose is then lost rather too early than too late. One that is in no step
    lasts its likely minutes, and not from before the entry that ended last.
    """
    played: list[Played] = []
    free: dict[str, int] = {}
    """Worker or item to when the last entry that names it was over."""
    ended: dict[int, int] = {}
    """Step to when its last entry was over."""
    latest = None
    ways = frozenset((*tracked.ground.baseline.places, *tracked.ground.baseline.paths))
    for entry, task in sorted(tasks, key=lambda pair: (pair[0].utc_s, pair[0].serial)):
        end = tracked.mission_s(entry.utc_s)
        named = [*entry.actors, *(n for n in ids_of(task.action) if n not in ways)]
        planned = entry.task is not None and entry.step in phase.by_id
        if entry.began_s is not None:
            begin = min(end, tracked.mission_s(entry.began_s))
        else:
            after = [free[n] for n in named if n in free]
            begin = end - task.durations_s[WORST if planned else LIKELY]
            if planned:
                after.append(earliest_s(phase, phase.by_id[entry.step], ended))
            elif latest is not None:
                after.append(latest)
            begin = min(end, max([begin, *after]))
        played.append(Played(entry, task, begin, end, entry.began_s is None))
        for name in named:
            free[name] = end
        ended[task.step] = end
        latest = end
    return played


def in_order(played: Iterable[Played]) -> list[Moment]:
    """Return all beginnings and endings by time.

    At one time: what its worker did before comes first, then beginnings before endings, then
    serial numbers.
    """
    rows = sorted(played, key=attrgetter("end_s", "entry.serial"))
    before: dict[int, list[Played]] = {}
    last: dict[str, Played] = {}
    for row in rows:
        before[row.entry.serial] = [last[w] for w in row.task.workers if w in last]
        for worker in row.task.workers:
            last[worker] = row
    begins: dict[int, list[Played]] = {}
    ends: dict[int, list[Played]] = {}
    for row in rows:
        begins.setdefault(row.begin_s, []).append(row)
        ends.setdefault(row.end_s, []).append(row)
    begun: set[int] = set()
    ended: set[int] = set()
    moments: list[Moment] = []
    for time in sorted({*begins, *ends}):
        to_begin, to_end = begins.get(time, []), ends.get(time, [])
        while to_begin or to_end:
            ready = next((r for r in to_begin if _may_begin(r, before, ended, time)), None)
            if ready is not None:
                to_begin.remove(ready)
                begun.add(ready.entry.serial)
                moments.append(Moment(time, True, ready.task))
                continue
            over = next(r for r in to_end if r.entry.serial in begun)
            to_end.remove(over)
            ended.add(over.entry.serial)
            moments.append(Moment(time, False, over.task))
    return moments


def _may_begin(row: Played, before: dict[int, list[Played]], ended: set[int], time: int) -> bool:
    """Return whether what its workers did before is over; an overlap that was told may begin."""
    return all(b.entry.serial in ended or b.end_s > time for b in before[row.entry.serial])
