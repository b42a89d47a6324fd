"""When each recorded action began, and in which order everything happened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import TopologicalSorter
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


def in_order(phase: Phase, played: Iterable[Played]) -> list[Moment]:
    """Return all beginnings and endings of a phase by time.

    At one time what had to come first comes first: what its worker did before, and what its plan
    has an action wait for. Then come beginnings before endings, then serial numbers.
    """
    waits = _waits_for(phase)
    begins: dict[int, list[Played]] = {}
    ends: dict[int, list[Played]] = {}
    for row in sorted(played, key=attrgetter("end_s", "entry.serial")):
        begins.setdefault(row.begin_s, []).append(row)
        ends.setdefault(row.end_s, []).append(row)
    begun: set[int] = set()
    moments: list[Moment] = []
    for time in sorted({*begins, *ends}):
        to_begin, to_end = begins.get(time, []), ends.get(time, [])
        while to_begin or to_end:
            ready = next((r for r in to_begin if _may_begin(r, to_end, waits)), None)
            over = next((r for r in to_end if r.entry.serial in begun), None)
            if ready is None and over is not None:
                to_end.remove(over)
                moments.append(Moment(time, False, over.task))
                continue
            # Of what is recorded in a circle, the first begins.
            row = ready or to_begin[0]
            to_begin.remove(row)
            begun.add(row.entry.serial)
            moments.append(Moment(time, True, row.task))
    return moments


def _waits_for(phase: Phase) -> list[int]:
    """Return for each step those that must be over before it, directly or not: a bit a step."""
    waits = [0] * len(phase.before)
    for n in TopologicalSorter(dict(enumerate(phase.before))).static_order():
        for m in phase.before[n]:
            waits[n] |= waits[m] | 1 << m
    return waits


def _may_begin(row: Played, to_end: Iterable[Played], waits: Sequence[int]) -> bool:
    """Return whether all that ends as a row begins, and had to come first, is over.

    What ends later overlaps it, which is told, and hinders nobody.
    """
    return not any(_comes_first(other, row, waits) for other in to_end if other is not row)


def _comes_first(one: Played, other: Played, waits: Sequence[int]) -> bool:
    if not set(one.task.workers).isdisjoint(other.task.workers):
        return (one.end_s, one.entry.serial) < (other.end_s, other.entry.serial)
    a, b = one.task.step, other.task.step
    if a == b and one.entry.task is not None and other.entry.task is not None:
        return one.entry.task < other.entry.task
    return b < len(waits) and bool(waits[b] >> a & 1)
