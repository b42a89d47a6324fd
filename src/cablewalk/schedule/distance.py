"""Distances between places along the paths there are."""

from __future__ import annotations

import heapq
from collections.abc import Iterable


class Distances:
    """Shortest lengths between places, in metres."""

    def __init__(self, paths: Iterable[tuple[str, str, float]]) -> None:
        self._near: dict[str, list[tuple[str, float]]] = {}
        for a, b, length_m in paths:
            self._near.setdefault(a, []).append((b, length_m))
            self._near.setdefault(b, []).append((a, length_m))
        self._known: dict[str, dict[str, float]] = {}

    def between(self, start: str, end: str) -> float | None:
        """Return the shortest length from one place to another, or None where no path leads."""
        if start == end:
            return 0.0
        if start not in self._known:
            self._known[start] = self._from(start)
        return self._known[start].get(end)

    def _from(self, start: str) -> dict[str, float]:
        done: dict[str, float] = {}
        queue = [(0.0, start)]
        while queue:
            length, place = heapq.heappop(queue)
            if place in done:
                continue
            done[place] = length
            for other, more in self._near.get(place, ()):
                if other not in done:
                    heapq.heappush(queue, (length + more, other))
        return done
