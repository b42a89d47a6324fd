"""The axes of a plot: degrees between round grid lines, and time.

Long stretches of time in which nothing is to be read are cut, and marked so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10
from typing import Final, NamedTuple

from cablewalk.drawings.metrics import width_pt

CUT: Final = 22.0
"""Width of a cut."""
WORTH_CUTTING: Final = 0.15
"""A stretch is cut where it is longer than this share of all that is kept."""
LEAST_MIN: Final = 60.0
"""No stretch shorter than this is cut."""

STEPS: Final = (1, 2, 5, 10)
LINES: Final = 6
"""So many distances between grid lines at most, where the values end on lines."""

Span = tuple[float, float]


class Degrees(NamedTuple):
    """The degrees a plot shows, from one grid line to another, and the lines' distance; °C."""

    low: float
    high: float
    step: float

    @property
    def lines(self) -> list[float]:
        """Where the grid lines stand, the ends of the range among them."""
        return [
            round(self.low + n * self.step, 6) + 0.0
            for n in range(round((self.high - self.low) / self.step) + 1)
        ]


def degrees_of(values: Sequence[float]) -> Degrees:
    """Return a range that holds the values, with at least a quarter of a step beyond them."""
    low, high = min(values), max(values)
    step = _step(max(high - low, 1.0), LINES)
    return Degrees(floor(low / step - 0.25) * step, ceil(high / step + 0.25) * step, step)


def _step(span: float, lines: int) -> float:
    """Return a round distance between grid lines, so that there are at most so many."""
    rough = span / lines
    ten = 10.0 ** floor(log10(rough))
    return next(s * ten for s in STEPS if s * ten >= rough * 0.999)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time that is shown: minutes, and where it stands."""

    from_min: float
    to_min: float
    left: float
    right: float


def kept(wanted: Iterable[Span], whole: Span) -> list[Span]:
    """Return what is shown of a whole: the spans wanted, joined where too little lies between.

    Args:
        wanted: (from, to) in minutes, in any order; what lies outside the whole counts not.
        whole: (from, to) in minutes.
    """
    low, high = whole
    inside = sorted((max(a, low), min(b, high)) for a, b in wanted if a <= high and b >= low)
    joined: list[Span] = []
    for a, b in inside:
        if joined and a <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    if not joined:
        return [whole]
    least = max(LEAST_MIN, WORTH_CUTTING * sum(b - a for a, b in joined))
    if joined[0][0] - low < least:
        joined[0] = (low, joined[0][1])
    if high - joined[-1][1] < least:
        joined[-1] = (joined[-1][0], high)
    found = [joined[0]]
    for a, b in joined[1:]:
        if a - found[-1][1] < least:
            found[-1] = (found[-1][0], b)
        else:
            found.append((a, b))
    return found


class TimeAxis:
    """Turns minutes into picture units, stretch by stretch, all to one scale."""

    def __init__(self, spans: Sequence[Span], left: float, right: float) -> None:
        room = right - left - CUT * (len(spans) - 1)
        per_min = room / max(sum(b - a for a, b in spans), 1.0)
        self.stretches: list[Stretch] = []
        at = left
        for a, b in spans:
            self.stretches.append(Stretch(a, b, at, at + (b - a) * per_min))
            at += (b - a) * per_min + CUT

    @property
    def cuts(self) -> list[Span]:
        """Where each cut begins and ends, in picture units."""
        return [(one.right, other.left) for one, other in pairwise(self.stretches)]

    def shows(self, at_min: float) -> bool:
        """Return whether a moment is shown: not cut out, not outside."""
        return self.piece(at_min) is not None

    def piece(self, at_min: float) -> Span | None:
        """Return where the stretch that shows a moment begins and ends; None: none shows it."""
        shown = [s for s in self.stretches if s.from_min <= at_min <= s.to_min]
        return (shown[0].left, shown[0].right) if shown else None

    def x(self, at_min: float) -> float:
        """Return where a moment stands; one cut out stands where its cut begins or ends."""
        for n, s in enumerate(self.stretches):
            if at_min < s.from_min:
                return s.left if n == 0 else (self.stretches[n - 1].right + s.left) / 2
            if at_min <= s.to_min:
                long = s.to_min - s.from_min
                return (
                    s.left + (at_min - s.from_min) / long * (s.right - s.left) if long else s.left
                )
        return self.stretches[-1].right


def label_wide(text: str, size: float) -> float:
    """Return how wide a label is, with the least distance to others."""
    return width_pt(text, size) + 6


class Rows:
    """Finds a row for each label, so that none overlap; labels stay between two edges."""

    def __init__(self, left: float, right: float, size: float) -> None:
        self.left = left
        self.right = right
        self.size = size
        self.taken: list[list[Span]] = []

    def place(self, x: float, text: str, within: Span | None = None) -> tuple[float, int]:
        """Return (middle, row from 0) of a label that is to stand about ``x``.

        It stays ``within`` a stretch where that is wide enough for it.
        """
        x, mine = self._span(x, text, within)
        for n, row in enumerate(self.taken):
            if _is_free(row, mine):
                row.append(mine)
                return x, n
        self.taken.append([mine])
        return x, len(self.taken) - 1

    def keep_free(self, row: int, span: Span) -> None:
        """Let no label of a row stand where something else does."""
        while len(self.taken) <= row:
            self.taken.append([])
        self.taken[row].append(span)

    def fits(self, x: float, text: str) -> bool:
        """Return whether a label has room in the first row; if so, it takes it."""
        if not self.taken:
            self.taken.append([])
        mine = self._span(x, text)[1]
        if not _is_free(self.taken[0], mine):
            return False
        self.taken[0].append(mine)
        return True

    def _span(self, x: float, text: str, within: Span | None = None) -> tuple[float, Span]:
        half = label_wide(text, self.size) / 2
        left, right = within or (self.left, self.right)
        if right - left < 2 * half:
            left, right = self.left, self.right
        x = min(max(x, left + half), right - half)
        return x, (x - half, x + half)


def _is_free(row: Sequence[Span], mine: Span) -> bool:
    return all(mine[1] <= a or mine[0] >= b for a, b in row)
