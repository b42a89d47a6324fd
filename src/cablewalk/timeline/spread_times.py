"""Sampled times: how long each task lasts, and when everything begins and ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from cablewalk.orders.network import Network
from cablewalk.schedule.order import Timed
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.units import parse_clock, seconds

Rng = np.random.Generator


def streams(network: Network, seed: int) -> list[Rng]:
    """Return a source of random numbers for each task, by its phase, step and place in the step.

    A task that is in two plans draws the same in both, so that two plans differ by what is in them
    and not by chance.
    """
    found = []
    place: dict[tuple[int, str], int] = {}
    for task in network.tasks:
        key = (task.phase, task.step_id)
        place[key] = place.get(key, -1) + 1
        digest = sha256(f"{task.phase}\n{place[key]}\n{task.step_id}".encode()).digest()
        own = [int.from_bytes(digest[n : n + 4], "big") for n in range(0, 16, 4)]
        found.append(np.random.default_rng([seed, *own]))
    return found


def draw(
    network: Network,
    shapes: Sequence[str],
    runs: int,
    sources: Sequence[Rng],
    into: Seconds | None = None,
) -> Seconds:
    """Return sampled whole seconds, a row a task and a column a run; all drawn independently.

    Args:
        network: the tasks.
        shapes: ``beta`` or ``triangular`` for each phase.
        runs: how many columns.
        sources: where the numbers of each task come from.
        into: what is filled and returned, where it has so many columns.
    """
    drawn = into
    if drawn is None or drawn.shape[1] != runs:
        drawn = np.empty((len(network.tasks), runs), np.int32)
    for n, task in enumerate(network.tasks):
        best, likely, worst = task.durations_s
        rng = sources[n]
        if best == worst:
            drawn[n] = best
        elif shapes[task.phase] == "triangular":
            np.rint(rng.triangular(best, likely, worst, runs), out=drawn[n], casting="unsafe")
        else:
            wide = worst - best
            values = rng.beta(1 + 4 * (likely - best) / wide, 1 + 4 * (worst - likely) / wide, runs)
            values *= wide
            values += best
            np.rint(values, out=drawn[n], casting="unsafe")
    return drawn


@dataclass(slots=True)
class Times:
    """When everything happens, an entry a run. Mission elapsed seconds.

    What happens at one moment in every run, as one task's end and the next one's beginning, is
    one and the same array; none of them may be written to.

    Attributes:
        everyone: the positions of all runs.
        events: an array an event of the network.
        step_start, step_end: for each phase, an array a step.
        zero, phase_start, phase_end: an array a phase.
    """

    everyone: NDArray[np.intp]
    events: list[Seconds] = field(default_factory=list)
    step_start: list[list[Seconds]] = field(default_factory=list)
    step_end: list[list[Seconds]] = field(default_factory=list)
    zero: list[Seconds] = field(default_factory=list)
    phase_start: list[Seconds] = field(default_factory=list)
    phase_end: list[Seconds] = field(default_factory=list)

    @property
    def runs(self) -> int:
        """How many runs there are."""
        return self.everyone.size

    @property
    def end(self) -> Seconds:
        """When the last phase ends."""
        return self.phase_end[-1]

    def of(self, values: Seconds, rows: NDArray[np.intp]) -> Seconds:
        """Return the entries of some runs; ``rows`` ascend. Where they are all, no copy is made."""
        return values if rows.size == self.runs else values.take(rows)


def times_of(
    network: Network, phases: Sequence[Timed], durations: Seconds, consumed: bool = False
) -> Times:
    """Return when everything begins and ends, by the schedule's own rules.

    Args:
        network: the tasks and which must come first.
        phases: the phases as replayed; the first one's start is taken from here.
        durations: a row a task, a column a run.
        consumed: write the ends over the durations, so that less memory is gone through.
    """
    runs = durations.shape[1]
    times = Times(np.arange(runs))
    times.events = [durations[0]] * len(network.events) if len(network.tasks) else []
    for phase, plan in enumerate(network.plans):
        document = plan.procedure
        if phase == 0:
            start = np.full(runs, phases[0].start_s, np.int32)
        else:
            start = times.phase_end[-1] + np.int32(seconds(document.gap_min or 0))
        zero = start - np.int32(parse_clock(document.start_pet))
        begin, end = [start] * len(plan.steps), [start] * len(plan.steps)
        by_id = {step.id: step.position for step in plan.steps}
        for n in network.topological[phase]:
            step = plan.steps[n]
            at = _latest([end[m] for m in network.before[phase][n]], start)
            for name, lead in step.document.lead_min.items():
                if name in by_id:
                    at = np.maximum(at, end[by_id[name]] + np.int32(seconds(lead)))
            if step.document.not_before is not None:
                at = np.maximum(at, zero + np.int32(parse_clock(step.document.not_before)))
            begin[n] = at
            for task in step.tasks:
                k = network.number(task)
                times.events[2 * k] = at
                at = np.add(at, durations[k], out=durations[k] if consumed else None)
                times.events[2 * k + 1] = at
            end[n] = at
        times.step_start.append(begin)
        times.step_end.append(end)
        times.zero.append(zero)
        times.phase_start.append(start)
        # A step that another waits for ends no later than the other.
        last = [end[n] for n, after in enumerate(network.after[phase]) if not after]
        times.phase_end.append(_latest(last, zero))
    return times


def _latest(arrays: list[Seconds], none: Seconds) -> Seconds:
    """Return the latest, entry by entry, ``none`` where there is none; one alone is not copied."""
    latest = arrays[0] if arrays else none
    for other in arrays[1:]:
        if other is not latest:
            latest = np.maximum(latest, other)
    return latest


def slacks(network: Network, times: Times, phase: int) -> list[Seconds]:
    """Return how much later each step may end without its phase ending later; an array a step.

    Steps that only pass a delay on to the next one share its array.
    """
    plan = network.plans[phase]
    start, end = times.step_start[phase], times.step_end[phase]
    rooms: list[Seconds] = [times.phase_end[phase]] * len(plan.steps)
    ids = [step.id for step in plan.steps]
    for n in reversed(network.topological[phase]):
        room: Seconds | None = None
        for other in network.after[phase][n]:
            lead = plan.steps[other].document.lead_min.get(ids[n], 0)
            passed = rooms[other]
            if lead or start[other] is not end[n]:
                passed = passed + (start[other] - end[n])
                passed -= np.int32(seconds(lead))
            room = passed if room is None else np.minimum(room, passed)
        rooms[n] = times.phase_end[phase] - end[n] if room is None else room
    return rooms
