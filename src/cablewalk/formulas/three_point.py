"""The classical three-point estimate of a network's length: numbers in and out.

Source: Malcolm, Roseboom, Clark & Fazar, "Application of a technique for research and development
program evaluation", Operations Research 7 (1959), from memory: mean (a + 4m + b)/6, variance
((b - a)/6)^2, the length of the network that of its longest path by means, its variance the sum
along that path, the sum taken as normal. It takes no heed of other paths nearly as long that
merge with it, and so comes out too early wherever there are any.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist


def classical_mean(best: float, likely: float, worst: float) -> float:
    """Return (a + 4m + b)/6; any unit."""
    return (best + 4 * likely + worst) / 6


def classical_variance(best: float, worst: float) -> float:
    """Return ((b - a)/6)^2; the unit squared."""
    return ((worst - best) / 6) ** 2


def beta_moments(best: float, likely: float, worst: float) -> tuple[float, float]:
    """Return mean and variance of the beta whose mean is the classical one.

    Its exponents are 1 + 4(m - a)/(b - a) and 1 + 4(b - m)/(b - a); then the variance is
    (mean - a)(b - mean)/7, which is **not** the classical ((b - a)/6)^2.
    """
    mean = classical_mean(best, likely, worst)
    return mean, (mean - best) * (worst - mean) / 7


def triangular_moments(best: float, likely: float, worst: float) -> tuple[float, float]:
    """Return mean and variance of the triangular distribution."""
    mean = (best + likely + worst) / 3
    square = best**2 + likely**2 + worst**2
    mixed = best * likely + best * worst + likely * worst
    return mean, (square - mixed) / 18


@dataclass(frozen=True, slots=True)
class Activity:
    """One activity of a network. Any unit of time, the same throughout.

    ``after`` are positions of activities that end before it begins, with the lead between.
    """

    mean: float
    variance: float
    after: tuple[tuple[int, float], ...] = ()
    not_before: float = 0.0
    """It begins no sooner, whatever it waits for; may be negative."""


@dataclass(frozen=True, slots=True)
class Solution:
    """A network solved by means.

    Attributes:
        start: earliest start of each activity.
        slack: how much later each may end without the whole ending later.
        critical: one longest path, from its first activity to its last.
        length: when the last activity ends.
        variance: summed along the longest path; along that of largest variance where several
            are equally long.
    """

    start: tuple[float, ...]
    slack: tuple[float, ...]
    critical: tuple[int, ...]
    length: float
    variance: float

    def chance_by(self, moment: float) -> float:
        """Return the classical chance to be done by a moment (0 or 1 where nothing varies)."""
        if self.variance == 0:
            return float(moment >= self.length)
        return NormalDist(self.length, math.sqrt(self.variance)).cdf(moment)

    def quantile(self, share: float) -> float:
        """Return the moment by which it is done in this share of cases, 0 < share < 1."""
        if self.variance == 0:
            return self.length
        return NormalDist(self.length, math.sqrt(self.variance)).inv_cdf(share)


_SAME = 1e-9
"""Relative difference below which two paths count as equally long."""


def solve(activities: Sequence[Activity]) -> Solution:
    """Return the network solved; no activities give a length of 0.

    Raises:
        ValueError: an activity waits for itself.
        IndexError: one waits for an activity that is not there.
    """
    order = _order(activities)
    count = len(activities)
    start, end = [0.0] * count, [0.0] * count
    for n in order:
        row = activities[n]
        start[n] = max([row.not_before, *(end[m] + lead for m, lead in row.after)])
        end[n] = start[n] + row.mean
    length = max(end, default=0.0)
    latest = [length] * count
    for n in reversed(order):
        for m, lead in activities[n].after:
            latest[m] = min(latest[m], latest[n] - activities[n].mean - lead)
    critical = _critical(activities, order, start, end, length)
    return Solution(
        tuple(start),
        tuple(late - done for late, done in zip(latest, end, strict=True)),
        critical,
        length,
        sum(activities[n].variance for n in critical),
    )


def _order(activities: Sequence[Activity]) -> list[int]:
    follows: list[list[int]] = [[] for _ in activities]
    waits = [len(row.after) for row in activities]
    for n, row in enumerate(activities):
        for m, _ in row.after:
            follows[m].append(n)
    order = [n for n, count in enumerate(waits) if count == 0]
    for n in order:  # grows as it goes
        for other in follows[n]:
            waits[other] -= 1
            if waits[other] == 0:
                order.append(other)
    if len(order) < len(waits):
        stuck = [n for n, count in enumerate(waits) if count]
        raise ValueError(f"activities {stuck} wait for themselves")
    return order


def _critical(
    activities: Sequence[Activity],
    order: list[int],
    start: list[float],
    end: list[float],
    length: float,
) -> tuple[int, ...]:
    """Return the longest path; of several, that of largest variance."""
    close = _SAME * max(1.0, abs(length))
    best: list[tuple[float, tuple[int, ...]]] = [(0.0, ())] * len(activities)
    for n in order:
        binding = [
            best[m] for m, lead in activities[n].after if abs(end[m] + lead - start[n]) <= close
        ]
        spread, path = max(binding, default=(0.0, ()))
        best[n] = (spread + activities[n].variance, (*path, n))
    last = [best[n] for n in order if abs(end[n] - length) <= close]
    return max(last, default=(0.0, ()))[1]
