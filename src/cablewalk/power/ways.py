"""Ways: the wires and contacts between feeds and a load, and what lies above a converter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from cablewalk.continuity.verdict import Verdict
from cablewalk.power.circuit import Circuit
from cablewalk.power.grid import Grid
from cablewalk.power.pieces import Piece
from cablewalk.replay.wiring import StringLine


class Above(NamedTuple):
    """A converter's input, and what feeds it."""

    circuit: Circuit
    load: int
    feeds: tuple[int, ...]
    pieces: tuple[Piece, ...]


def on_the_way(pieces: Iterable[Piece], verdict: Verdict, ends: set[int]) -> list[Piece]:
    """Return the pieces a string's current runs through: those on its path, stubs taken off."""
    inside = {island for path in verdict.paths for island in path}
    return between(
        {
            p
            for p in pieces
            if (
                p.island in inside if p.is_wire else frozenset((p.island, p.other)) in verdict.steps
            )
        },
        ends,
    )


def between(pieces: Iterable[Piece], ends: set[int]) -> list[Piece]:
    """Return pieces without those that lead nowhere but to a loose end."""
    kept = set(pieces)
    while True:
        count: dict[int, int] = {}
        for p in kept:
            for node in (p.a, p.b):
                count[node] = count.get(node, 0) + 1
        stubs = {p for p in kept for n in (p.a, p.b) if count[n] == 1 and n not in ends}
        if not stubs:
            return sorted(kept, key=lambda p: (p.name, p.a, p.b))
        kept -= stubs


def carrying(circuit: Circuit) -> list[Piece]:
    """Return the pieces of a circuit that carry current, known or not."""
    return [*circuit.pieces, *circuit.unknown]


def feeds_of(grid: Grid, circuit: Circuit, string: StringLine, feed: int) -> list[int]:
    """Return the feeds of a string that are up on the net of the one that feeds it, that first."""
    near = _feeds_on(grid, circuit, grid.config.wiring.feeds[feed].hi)
    return [feed, *(f for f in near if f in string.feeds and f != feed)]


def _feeds_on(grid: Grid, circuit: Circuit, terminal: int) -> list[int]:
    """Return the feeds up whose high is on the net of a terminal."""
    wiring, net_of = grid.config.wiring, circuit.network.net_of
    net = net_of.get(wiring.terminals[terminal].island)
    return [
        f
        for f in circuit.network.feeds
        if net_of.get(wiring.terminals[wiring.feeds[f].hi].island) == net
    ]


def above(grid: Grid, feeds: Iterable[int]) -> Iterator[Above]:
    """Yield what lies above feeds that are converters' outputs, up to the last source."""
    wiring = grid.config.wiring
    known = set(feeds)
    todo = sorted(known)
    for feed in todo:  # grows as it goes
        for load in grid.copper.passing.get(feed, ()):
            number = grid.circuit_of(load)
            if number is None:
                continue
            circuit, row = grid.circuits[number], grid.copper.loads[load]
            ups = _feeds_on(grid, circuit, row.hi)
            ends = [row.hi, row.ret]
            ends += [t for f in ups for t in (wiring.feeds[f].hi, wiring.feeds[f].ret)]
            nodes = {grid.copper.terminal_node(t) for t in ends}
            yield Above(circuit, load, tuple(ups), tuple(between(carrying(circuit), nodes)))
            todo += [f for f in ups if f not in known]
            known |= set(ups)
