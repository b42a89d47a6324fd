"""Behind panels: which terminals and fixed contacts are joined without any wire between."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Half
from cablewalk.power.conductors import Conductor, Spot, spots
from cablewalk.replay.joiner import Merger
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring


def fixed_halves(baseline: Baseline) -> Iterator[tuple[str, Half, bool]]:
    """Yield id and document of each fixed half, and whether its shell is on structure."""
    for place in baseline.places.values():
        groups = [(place.halves, True)]
        groups += [(panel.halves, panel.bonded) for panel in place.panels.values()]
        groups += [(unit.halves, unit.bonded) for unit in place.units.values()]
        for halves, bonded in groups:
            for name, half in halves.items():
                yield name, half, bonded


class Behind:
    """Groups the terminals and fixed contacts of islands that harness wire holds together.

    The terminals of one hard-wired leg that one conductor joins are taken as one too.
    """

    def __init__(
        self, baseline: Baseline, wiring: Wiring, islands: dict[int, list[Conductor]]
    ) -> None:
        self.wiring = wiring
        self._merger = Merger()
        self._number: dict[Spot, int] = {}
        for name, half, bonded in fixed_halves(baseline):
            item = wiring.by_id[name]
            if not islands.keys().isdisjoint(wiring.joints[item]):
                self._wire(item, half, bonded)
        for feed in wiring.feeds:
            if feed.grounded:
                self._merger.join(self._node((NONE, feed.ret)), STRUCTURE)
        for conductors in islands.values():
            for ends in (ends for c in conductors for ends in c.legs.values()):
                fixed = [spot for spot in ends if spot[0] == NONE]
                for spot in fixed:
                    self._merger.join(self._node(fixed[0]), self._node(spot))

    def _node(self, spot: Spot) -> int:
        node = self._number.get(spot)
        if node is None:
            node = self._number[spot] = self._merger.node()
        return node

    def _wire(self, item: int, half: Half, bonded: bool) -> None:
        """Join what a fixed half is wired to behind its panel."""
        wiring, merger = self.wiring, self._merger
        names = wiring.contact_names[item]
        wired = half.wired
        rows = wired if isinstance(wired, dict) else dict(zip(names, wired, strict=False))
        for contact, ref in rows.items():
            (own,) = spots(wiring, f"{wiring.items[item].id}.{contact}")
            if ref == "structure":
                merger.join(self._node(own), STRUCTURE)
            elif ref != "-":
                merger.join(self._node(own), self._node(spots(wiring, ref)[0]))
        if half.through is not None:
            other = wiring.by_id[half.through]
            beyond = wiring.contact_names[other]
            for n, name in enumerate(names):
                if name in beyond:
                    merger.join(self._node((item, n)), self._node((other, beyond.index(name))))
        if bonded:
            merger.join(self._node((item, len(names))), STRUCTURE)

    def groups(self, island: int, conductors: list[Conductor]) -> list[list[Spot]]:
        """Return the groups of an island: the one at structure, or the first met, comes first."""
        wiring, root = self.wiring, self._merger.root
        found: dict[int, list[Spot]] = {STRUCTURE: []} if island == STRUCTURE else {}
        met = [s for c in conductors for ends in c.legs.values() for s in ends if s[0] == NONE]
        met += [(NONE, terminal) for terminal in wiring.island_terminals[island]]
        met += [s for s in wiring.sites[island] if wiring.items[s[0]].role == "fixed"]
        for spot in dict.fromkeys(met):
            if spot in self._number:
                found.setdefault(root(self._number[spot]), []).append(spot)
        return list(found.values())
