"""The classical three-point figures of each phase, beside the sampled ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cablewalk.formulas.three_point import (
    Activity,
    Solution,
    beta_moments,
    classical_mean,
    classical_variance,
    solve,
    triangular_moments,
)
from cablewalk.timeline.spread import Spread
from cablewalk.units import SECONDS_PER_MIN, parse_clock

ERRORS_APART: Final = 4.0
"""Standard errors by which sampled and unmerged mean must differ to be told apart: by chance
alone that is exceeded once in about 30,000 phases."""


@dataclass(frozen=True, slots=True)
class Classical:
    """One phase by the classical formulas. Seconds on the phase's own clock.

    Attributes:
        solution: the network of the phase's steps by classical means and variances.
        merge_s: how much later the phase ends on average, because paths merge, than its longest
            path alone tells; None where sampling cannot tell that from nothing.
    """

    solution: Solution
    merge_s: float | None


def classical(found: Spread, phase: int) -> Classical:
    """Return the classical figures of a phase, and what merging paths make of them."""
    solution = solve(_activities(found, phase, None))
    unmerged = solve(_activities(found, phase, found.shapes[phase])).length
    tally = found.finish_pet[phase]
    error = tally.deviation_s / tally.number**0.5
    late = tally.mean_s - unmerged
    # Each sampled task is rounded to a whole second: half a second is no merging.
    told = late > ERRORS_APART * error + 0.5
    return Classical(solution, late if told else None)


def _activities(found: Spread, phase: int, shape: str | None) -> list[Activity]:
    """Return the steps of a phase as activities, by its own distribution or the classical one."""
    network = found.network
    plan = network.plans[phase]
    start = float(parse_clock(plan.procedure.start_pet))
    by_id = {step.id: step.position for step in plan.steps}
    rows = []
    for step in plan.steps:
        mean = variance = 0.0
        for task in step.tasks:
            best, likely, worst = task.durations_s
            if shape is None:
                more, wide = classical_mean(best, likely, worst), classical_variance(best, worst)
            else:
                moments = triangular_moments if shape == "triangular" else beta_moments
                more, wide = moments(best, likely, worst)
            mean += more
            variance += wide
        leads = {
            by_id[name]: float(lead * SECONDS_PER_MIN)
            for name, lead in step.document.lead_min.items()
            if name in by_id
        }
        after = {n: leads.get(n, 0.0) for n in network.before[phase][step.position]}
        first = start
        if step.document.not_before is not None:
            first = max(start, float(parse_clock(step.document.not_before)))
        rows.append(Activity(mean, variance, tuple(after.items()), first))
    return rows
