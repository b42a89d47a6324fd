"""Sampled times: how long each task lasts, and when everything begins and ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cablewalk.orders.network import Network
from cablewalk.schedule.order import Timed
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.units import parse_clock, seconds

Rng = np.random.Generator


def draw(network: Network, shapes: Sequence[str], runs: int, rng: Rng) -> Seconds:
    """Return sampled whole seconds, a row a task and a column a run; all drawn independently.

    Args:
        network: the tasks.
        shapes: ``beta`` or ``triangular`` for each phase.
        runs: how many columns.
        rng: where the numbers come from.
    """
    drawn = np.empty((len(network.tasks), runs), np.int32)
    for n, task in enumerate(network.tasks):
        best, likely, worst = task.durations_s
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
    """When everything happens, a column a run. Mission elapsed seconds.

    Attributes:
        events: a row an event of the network.
        step_start, step_end: for each phase, a row a step.
        zero, phase_start, phase_end: a row a phase.
    """

    events: Seconds
    step_start: list[Seconds]
    step_end: list[Seconds]
    zero: Seconds
    phase_start: Seconds
    phase_end: Seconds

    @property
    def runs(self) -> int:
        """How many columns there are."""
        return int(self.events.shape[1])

    @property
    def everyone(self) -> NDArray[np.intp]:
        """The positions of all columns."""
        return np.arange(self.runs)

    @property
    def end(self) -> Seconds:
        """When the last phase ends."""
        last: Seconds = self.phase_end[-1]
        return last


def times_of(network: Network, phases: Sequence[Timed], durations: Seconds) -> Times:
    """Return when everything begins and ends, by the schedule's own rules.

    Args:
        network: the tasks and which must come first.
        phases: the phases as replayed; the first one's start is taken from here.
        durations: a row a task, a column a run.
    """
    runs = durations.shape[1]
    events = np.empty((len(network.events), runs), np.int32)
    zero, starts, ends = (np.empty((len(phases), runs), np.int32) for _ in range(3))
    step_starts: list[Seconds] = []
    step_ends: list[Seconds] = []
    for phase, plan in enumerate(network.plans):
        document = plan.procedure
        if phase == 0:
            starts[phase] = phases[0].start_s
        else:
            np.add(ends[phase - 1], seconds(document.gap_min or 0), out=starts[phase])
        np.subtract(starts[phase], parse_clock(document.start_pet), out=zero[phase])
        begin, end = (np.empty((len(plan.steps), runs), np.int32) for _ in range(2))
        by_id = {step.id: step.position for step in plan.steps}
        for n in network.topological[phase]:
            step = plan.steps[n]
            at = begin[n]
            needs = list(network.before[phase][n])
            at[:] = end[needs[0]] if needs else starts[phase]
            for other in needs[1:]:
                np.maximum(at, end[other], out=at)
            for name, lead in step.document.lead_min.items():
                if name in by_id:
                    np.maximum(at, end[by_id[name]] + seconds(lead), out=at)
            if step.document.not_before is not None:
                np.maximum(at, zero[phase] + parse_clock(step.document.not_before), out=at)
            for task in step.tasks:
                k = network.number(task)
                events[2 * k] = at
                at = np.add(at, durations[k], out=events[2 * k + 1])
            end[n] = at
        ends[phase] = end.max(axis=0) if len(plan.steps) else zero[phase]
        step_starts.append(begin)
        step_ends.append(end)
    return Times(events, step_starts, step_ends, zero, starts, ends)


def slacks(network: Network, times: Times, phase: int) -> Seconds:
    """Return how much later each step may end without its phase ending later; a row a step."""
    plan = network.plans[phase]
    start, end = times.step_start[phase], times.step_end[phase]
    latest = np.empty_like(end)
    latest[:] = times.phase_end[phase]
    by_id = {step.id: step.position for step in plan.steps}
    for n in reversed(network.topological[phase]):
        room = latest[n] - end[n]
        latest_start = start[n] + room
        for other in network.before[phase][n]:
            np.minimum(latest[other], latest_start, out=latest[other])
        for name, lead in plan.steps[n].document.lead_min.items():
            if name in by_id:
                other = by_id[name]
                np.minimum(latest[other], latest_start - seconds(lead), out=latest[other])
    result: Seconds = latest - end
    return result
