"""The way of a line between two things: level at both ends, and over no word between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cablewalk.drawings.plate import Cell, bow

Point = tuple[float, float]
CLEAR_PT: Final = 1.6
"""By how much a line keeps clear of what it passes."""
_SAMPLES: Final = 24
"""Points of a curve that are looked at."""


def way(start: Point, end: Point, near: Sequence[Cell]) -> tuple[Point, ...]:
    """Return a curve of 3n+1 points from left to right, or from right to left.

    Where the straight way would lie over a cell of ``near`` it goes above or beneath, through
    the nearest gap.
    """
    if start[0] > end[0]:
        return way(end, start, near)[::-1]
    direct = bow(*start, *end)
    between = [c for c in near if start[0] < c.x < end[0]]
    if not any(_lies_over(direct, cell) for cell in between):
        return direct
    points: tuple[Point, ...] = (start,)
    for band in _bands(between):
        left = max(points[-1][0], min(c.left_x for c in band) - CLEAR_PT)
        right = min(end[0], max(c.right_x for c in band) + CLEAR_PT)
        share = (left - start[0]) / (end[0] - start[0])
        y = _gap(band, start[1] + share * (end[1] - start[1]))
        points += bow(*points[-1], left, y)[1:]
        points += straight((left, y), (right, y))[1:]
    return points + bow(*points[-1], *end)[1:]


def straight(start: Point, end: Point) -> tuple[Point, ...]:
    """Return a straight line as a curve of four points."""
    return tuple(
        (start[0] + (end[0] - start[0]) * n / 3, start[1] + (end[1] - start[1]) * n / 3)
        for n in range(4)
    )


def _lies_over(curve: Sequence[Point], cell: Cell) -> bool:
    """Return whether a curve of four points passes within a cell."""
    ys = [y for _, y in curve]
    if max(ys) <= cell.top or min(ys) >= cell.bottom:
        return False
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = curve
    for n in range(_SAMPLES + 1):
        t, s = n / _SAMPLES, 1 - n / _SAMPLES
        u, v, w, z = s * s * s, 3 * t * s * s, 3 * t * t * s, t * t * t
        x, y = u * ax + v * bx + w * cx + z * dx, u * ay + v * by + w * cy + z * dy
        if cell.left_x < x < cell.right_x and cell.top < y < cell.bottom:
            return True
    return False


def _bands(cells: Sequence[Cell]) -> list[list[Cell]]:
    """Return cells that stand one above the other together, from left to right."""
    bands: list[list[Cell]] = []
    for cell in sorted(cells, key=lambda c: c.left_x):
        if bands and cell.left_x < max(c.right_x for c in bands[-1]):
            bands[-1].append(cell)
        else:
            bands.append([cell])
    return bands


def _gap(band: Sequence[Cell], wanted: float) -> float:
    """Return the height nearest to one wanted at which a line passes no cell of a band."""
    spans = [(c.top - CLEAR_PT, c.bottom + CLEAR_PT) for c in band]
    free = [
        y
        for y in (wanted, *(edge for span in spans for edge in span))
        if not any(top < y < bottom for top, bottom in spans)
    ]
    return min(free, key=lambda y: abs(y - wanted))
