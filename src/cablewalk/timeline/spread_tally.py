"""Tallies: how often each whole second came out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Seconds = NDArray[np.int32]


def counted(values: Seconds) -> tuple[int, NDArray[np.int64]]:
    """Return the least of some values, and how often each second from it on came out."""
    low = int(values.min())
    return low, np.bincount(values - np.int32(low))


class Tally:
    """Counts whole seconds; memory grows with the range of values, not with their number."""

    def __init__(self) -> None:
        self.low = 0
        self.counts: NDArray[np.int64] = np.zeros(0, np.int64)

    def add(self, values: Seconds) -> None:
        """Count more values."""
        if values.size:
            self.merge(*counted(values))

    def merge(self, low: int, more: NDArray[np.int64]) -> None:
        """Add what :func:`counted` returned."""
        if self.counts.size == 0:
            self.low, self.counts = low, more.copy()
            return
        start = min(self.low, low)
        stop = max(self.low + self.counts.size, low + more.size)
        if start != self.low or stop != self.low + self.counts.size:
            wider = np.zeros(stop - start, np.int64)
            wider[self.low - start : self.low - start + self.counts.size] = self.counts
            self.low, self.counts = start, wider
        self.counts[low - self.low : low - self.low + more.size] += more

    @property
    def number(self) -> int:
        """How many values were counted."""
        return int(self.counts.sum())

    @property
    def mean_s(self) -> float:
        """Their mean.

        Raises:
            ZeroDivisionError: nothing was counted.
        """
        seconds = np.arange(self.counts.size)
        return self.low + float((seconds * self.counts).sum()) / self.number

    @property
    def deviation_s(self) -> float:
        """The standard deviation of what was counted."""
        seconds = np.arange(self.counts.size) + (self.low - self.mean_s)
        return math.sqrt(float((seconds**2 * self.counts).sum()) / self.number)

    def at(self, share: float) -> int:
        """Return the least second that at least this share of the values do not exceed.

        Args:
            share: above 0, at most 1; 0.9 gives P90.

        Raises:
            ValueError: nothing was counted.
        """
        if self.counts.size == 0:
            raise ValueError("nothing was counted")
        need = math.ceil(share * self.number - 1e-9)
        return self.low + int(np.searchsorted(np.cumsum(self.counts), max(need, 1)))

    def over(self, limit_s: int) -> int:
        """Return how many values exceed a limit."""
        return int(self.counts[max(0, limit_s + 1 - self.low) :].sum())

    def exactly(self, value_s: int) -> int:
        """Return how many values are this second."""
        place = value_s - self.low
        return int(self.counts[place]) if 0 <= place < self.counts.size else 0
