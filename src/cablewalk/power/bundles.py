"""Bundles: how many conductors run beside a wire, where its harness runs and where it is tied."""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.power.conductors import is_shield
from cablewalk.power.copper import Copper
from cablewalk.power.pieces import Piece
from cablewalk.power.segments import used_segments
from cablewalk.replay.configuration import Configuration


@dataclass(frozen=True, slots=True)
class Bundle:
    """The largest bundle a wire runs in; ``tied``: with what, empty for its segment alone."""

    wires: int
    tied: str = ""


class Bundles:
    """Counts conductors, shields left out, in one configuration."""

    def __init__(self, config: Configuration, copper: Copper) -> None:
        self.config = config
        self.copper = copper
        self._own: dict[int, dict[str, int]] = {}
        self._at: dict[int, list[int]] = {}
        """Tie point to the segments tied there."""
        self.look()

    def look(self) -> None:
        """See anew what is tied where: to be called after ties changed."""
        self._at = {}
        for segment, points in enumerate(self.config.ties):
            for point in points:
                self._at.setdefault(point, []).append(segment)

    def of(self, piece: Piece) -> Bundle:
        """Return the bundle of a wire.

        Its own segment's conductors; where that is tied at a point, with those of every segment
        tied there: of several points, the one with the most.
        """
        found = Bundle(max(1, self._in(piece.name)))
        items = self.copper.wiring.items
        for point in self.config.ties[piece.item]:
            names = [items[segment].id for segment in self._at[point]]
            wires = sum(self._in(name) for name in names)
            if wires > found.wires:
                harnesses = dict.fromkeys(sorted(name.partition(".")[0] for name in names))
                found = Bundle(wires, f"{', '.join(harnesses)} tied at {items[point].id}")
        return found

    def _in(self, name: str) -> int:
        """Return how many conductors run in a segment."""
        harness, _, segment = name.partition(".")
        item = self.copper.wiring.by_id[harness]
        counts = self._own.get(item)
        if counts is None:
            counts = self._own[item] = self._count_wires(item)
        return counts.get(segment, 0)

    def _count_wires(self, harness: int) -> dict[str, int]:
        wiring = self.copper.wiring
        document = self.copper.baseline.harnesses[wiring.items[harness].id]
        counts: dict[str, int] = {}
        for conductors in self.copper.conductors.of(harness).values():
            for conductor in conductors:
                legs = [leg for leg, ends in conductor.legs.items() if not is_shield(wiring, ends)]
                if len(legs) > 1:
                    for segment in used_segments(document, sorted(legs)):
                        counts[segment] = counts.get(segment, 0) + 1
        return counts
