"""Setting things in a line: near to where each would be, in order, none over another."""

from __future__ import annotations

from collections.abc import Sequence


def packed(
    wanted: Sequence[float], sizes: Sequence[float], gap: float, low: float, high: float
) -> list[float]:
    """Return the centres of things set in the order given, as near as may be to ``wanted``.

    The sum of the squared shifts is least (pool adjacent violators). Where all would fill more
    than ``low`` to ``high`` they start at ``low`` and run over ``high``. O(n).
    """
    offsets, at = [], 0.0
    for n, size in enumerate(sizes):
        at += size / 2 + (gap + sizes[n - 1] / 2 if n else 0)
        offsets.append(at)
    blocks: list[tuple[float, int]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        mean, count = want - offset, 1
        while blocks and blocks[-1][0] > mean:
            other, many = blocks.pop()
            mean = (mean * count + other * many) / (count + many)
            count += many
        blocks.append((mean, count))
    shifts = [mean for mean, count in blocks for _ in range(count)]
    length = sum(sizes) + gap * max(0, len(sizes) - 1)
    top = max(low, high - length)
    return [min(max(s, low), top) + o for s, o in zip(shifts, offsets, strict=True)]


def stacked_height(sizes: Sequence[float], gap: float) -> float:
    """Return how much room things take one after another."""
    return sum(sizes) + gap * max(0, len(sizes) - 1)
