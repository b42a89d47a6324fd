"""The tree of a harness: which segments lie between two of its legs."""

from __future__ import annotations

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.harness import Harness
from cablewalk.replay.wiring import Wiring


class HarnessTree:
    """Segments and legs of one harness, by item; its breakouts by name."""

    def __init__(self, baseline: Baseline, wiring: Wiring, harness: int) -> None:
        document: Harness = baseline.harnesses[wiring.items[harness].id]
        self.legs = wiring.legs_of[harness]
        by_key = {wiring.items[leg].id: leg for leg in self.legs}
        self._node: dict[int, str] = {leg: key for key, leg in by_key.items()}
        self._edges: dict[str, list[tuple[str, int]]] = {}
        for segment in wiring.segments_of[harness]:
            key = str(wiring.items[segment].path[3])
            if document.segments:
                ends = document.segments[key].between
            elif len(by_key) == 2:
                one, two = by_key
                ends = (one, two)
            else:
                ends = (key, "")  # the common breakout, which no leg can be called
            for a, b in (ends, ends[::-1]):
                self._edges.setdefault(a, []).append((b, segment))

    def between(self, one: int, other: int) -> frozenset[int]:
        """Return the segments on the way from one leg to another."""
        start, goal = self._node[one], self._node[other]
        ways: dict[str, frozenset[int]] = {start: frozenset()}
        stack = [start]
        while stack:
            node = stack.pop()
            for there, segment in self._edges.get(node, ()):
                if there not in ways:
                    ways[there] = ways[node] | {segment}
                    stack.append(there)
        return ways.get(goal, frozenset())

    def sides(self, segment: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return the legs on either side of a segment, the smaller side first."""
        first = self.legs[0]
        here = tuple(leg for leg in self.legs if segment not in self.between(first, leg))
        there = tuple(leg for leg in self.legs if leg not in here)
        return (here, there) if len(here) <= len(there) else (there, here)


def hard_wired_ends(baseline: Baseline, wiring: Wiring) -> dict[int, tuple[int, ...]]:
    """Return island to the hard-wired legs whose conductors end in it."""
    found: dict[int, list[int]] = {}
    for name, document in baseline.harnesses.items():
        harness = wiring.by_id[name]
        units: dict[str, list[int]] = {}
        for leg in wiring.legs_of[harness]:
            unit = document.legs[wiring.items[leg].id].hard_wired
            if unit is not None:
                units.setdefault(unit, []).append(leg)
        if not units or document.runs == "straight":
            continue
        for text in (word for run in document.runs for word in run):
            terminal = wiring.terminal_by_name.get(text)
            legs = units.get(text.partition(".")[0])
            if terminal is not None and legs:
                row = found.setdefault(wiring.terminals[terminal].island, [])
                row.extend(leg for leg in legs if leg not in row)
    return {island: tuple(legs) for island, legs in found.items()}
