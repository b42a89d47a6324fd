"""The classical three-point figures of phases and outages, beside the sampled ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
from cablewalk.timeline.spread import Key, Spread
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import SECONDS_PER_MIN, parse_clock

ERRORS_APART: Final = 4.0
"""Standard errors by which sampled and unmerged mean must differ to be told apart: by chance
alone that is exceeded once in about 30,000 times."""


@dataclass(frozen=True, slots=True)
class Classical:
    """A phase or an outage by the classical formulas. Seconds.

    Attributes:
        solution: the network of tasks by classical means and variances; of a phase on its own
            clock, of an outage from the loss on.
        merge_s: how much later it ends on average, because paths merge, than its longest path
            alone tells; None where sampling cannot tell that from nothing.
    """

    solution: Solution
    merge_s: float | None


def classical(found: Spread, phase: int) -> Classical:
    """Return the classical figures of a phase, and what merging paths make of them."""
    solution = solve(_activities(found, phase, None))
    unmerged = solve(_activities(found, phase, found.shapes[phase])).length
    return Classical(solution, _merged(found.finish_pet[phase], unmerged))


def classical_outages(found: Spread, keys: Mapping[int, Key]) -> dict[Key, Classical]:
    """Return the classical figures of outages of the likely order, recovery included.

    They are those of the longest path from the action that takes the service down to the one
    that brings it back. There are none where that is not what the classical method can tell: the
    outage runs over the end of a phase, does not occur in every run or does not end in some, or
    the longest path to its end does not begin at its loss, so that it varies with what was before.

    Args:
        found: the spread.
        keys: position of an outage in the account to which outage it is in the spread.
    """
    account = found.engine.account
    networks: dict[int, tuple[list[Activity], list[Activity], Solution]] = {}
    figures: dict[Key, Classical] = {}
    for n, key in keys.items():
        spell, row = account.outages[n], found.outages.get(key)
        lost, back = spell.lost_by, spell.restored_by
        if lost is None or back is None or row is None or row.runs < found.runs or row.not_back:
            continue
        phase = lost.task.phase
        if back.task.phase != phase or not lost.begins or back.begins:
            continue
        if phase not in networks:
            rows = _activities(found, phase, None)
            own = _activities(found, phase, found.shapes[phase])
            networks[phase] = rows, own, solve(rows)
        rows, own, whole = networks[phase]
        first, last = lost.task.serial, back.task.serial
        inside = _between(rows, first, last)
        if not inside:
            continue
        solution = solve(_only(rows, inside))
        span = whole.start[last] + rows[last].mean - whole.start[first]
        if abs(span - solution.length) > _SAME_S:
            continue
        assert spell.to_s is not None
        recovery = spell.to_s - back.time_s  # its own, and that of what it needs
        unmerged = solve(_only(own, inside)).length + recovery
        solution = replace(solution, length=solution.length + recovery)
        figures[key] = Classical(solution, _merged(row.lasted, unmerged))
    return figures


_SAME_S: Final = 1e-6
"""Seconds by which two sums of the same means may differ by rounding."""


def _merged(tally: Tally, unmerged: float) -> float | None:
    error = tally.deviation_s / tally.number**0.5
    late = tally.mean_s - unmerged
    # Each sampled task is rounded to a whole second: half a second is no merging.
    return late if late > ERRORS_APART * error + 0.5 else None


def _activities(found: Spread, phase: int, shape: str | None) -> list[Activity]:
    """Return a phase as activities: its tasks by serial, then the begin of each of its steps.

    ``shape``: by this distribution's moments, None: by the classical ones.
    """
    plan, before = found.network.plans[phase], found.network.before[phase]
    start = float(parse_clock(plan.procedure.start_pet))
    by_id = {step.id: step.position for step in plan.steps}
    tasks = sum(len(step.tasks) for step in plan.steps)
    rows: list[Activity] = [Activity(0, 0)] * (tasks + len(plan.steps))
    last = [step.tasks[-1].serial if step.tasks else tasks + step.position for step in plan.steps]
    for step in plan.steps:
        leads = {
            by_id[name]: float(lead * SECONDS_PER_MIN)
            for name, lead in step.document.lead_min.items()
            if name in by_id
        }
        after = tuple((last[n], leads.get(n, 0.0)) for n in sorted(before[step.position]))
        first = start
        if step.document.not_before is not None:
            first = max(start, float(parse_clock(step.document.not_before)))
        rows[tasks + step.position] = Activity(0, 0, after, first)
        previous = tasks + step.position
        for task in step.tasks:
            best, likely, worst = task.durations_s
            if shape is None:
                mean, wide = classical_mean(best, likely, worst), classical_variance(best, worst)
            else:
                moments = triangular_moments if shape == "triangular" else beta_moments
                mean, wide = moments(best, likely, worst)
            rows[task.serial] = Activity(mean, wide, ((previous, 0.0),), start)
            previous = task.serial
    return rows


def _between(rows: Sequence[Activity], first: int, last: int) -> list[int]:
    """Return the activities on any path from ``first`` to ``last``; none where there is none."""
    earlier = {last}
    left = [last]
    while left:
        for other, _ in rows[left.pop()].after:
            if other not in earlier:
                earlier.add(other)
                left.append(other)
    if first not in earlier:
        return []
    follows: dict[int, list[int]] = {}
    for n in earlier:
        for other, _ in rows[n].after:
            follows.setdefault(other, []).append(n)
    later = {first}
    left = [first]
    while left:
        for other in follows.get(left.pop(), ()):
            if other not in later:
                later.add(other)
                left.append(other)
    return sorted(later)


def _only(rows: Sequence[Activity], inside: Sequence[int]) -> list[Activity]:
    """Return some activities, waiting for none but each other."""
    place = {n: k for k, n in enumerate(inside)}
    return [
        Activity(
            rows[n].mean,
            rows[n].variance,
            tuple((place[m], lead) for m, lead in rows[n].after if m in place),
        )
        for n in inside
    ]
