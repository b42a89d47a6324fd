"""Ratings: how what a string carries, and what all else does, stands against what it may."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.continuity.verdict import Verdict
from cablewalk.power.circuit import Circuit
from cablewalk.power.copper import Copper
from cablewalk.power.grid import Grid
from cablewalk.power.limits import Limits, Margin, counted, worst
from cablewalk.power.ways import above, carrying, feeds_of, on_the_way
from cablewalk.replay.wiring import NONE, StringLine

KINDS = ("feed", "wire", "contact", "volts", "drop")


def margins(limits: Limits, grid: Grid, string: StringLine, verdict: Verdict) -> list[Margin]:
    """Return the worst margin of each kind of a string that is up.

    Where a converter feeds it, what lies above that limits it too: feeds, wires, contacts and
    the volts at the converter's input.
    """
    copper, wiring = grid.copper, grid.config.wiring
    assert string.load is not None and verdict.feed != NONE
    circuit = grid.circuits[grid.of_feed[verdict.feed]]
    hi, ret = string.load
    ends = (hi.a_terminal, ret.a_terminal)
    loads = [n for n in circuit.network.loads if (copper.loads[n].hi, copper.loads[n].ret) == ends]
    if not loads:
        missing = f"what {hi.name} draws (draws of its unit)"
        return [Margin(kind, hi.name, None, missing=missing) for kind in KINDS]
    fed = next((load for load in loads if load in circuit.loads), None)
    if fed is None:
        first = limits.volts(circuit, loads[0])
        return [Margin(kind, first.on, None, missing=first.missing) for kind in KINDS]
    feed = wiring.feeds[verdict.feed]
    nodes = {copper.terminal_node(t) for t in (*ends, feed.hi, feed.ret)}
    run = on_the_way(carrying(circuit), verdict, nodes)
    feeds = feeds_of(grid, circuit, string, verdict.feed)
    rows = [limits.feed(circuit, f) for f in feeds]
    rows += [limits.piece(circuit, p) for p in run]
    rows += [limits.volts(circuit, load) for load in loads]
    lacking, given = set(circuit.missing), set(circuit.resistances)
    for up in above(grid, feeds):
        lacking |= up.circuit.missing
        given |= up.circuit.resistances
        rows += [limits.feed(up.circuit, f) for f in up.feeds]
        rows += [limits.piece(up.circuit, p) for p in up.pieces]
        if copper.loads[up.load].min_volts is not None:
            rows.append(limits.volts(up.circuit, up.load))
    found = [worst(kind, (row for row in rows if row.kind == kind)) for kind in KINDS[:-1]]
    found.append(_drop(copper, fed, feed.volts, circuit.loads[fed].volts))
    return [counted(row, lacking, given) for row in found]


def _drop(copper: Copper, load: int, feed_v: float, volts: float) -> Margin:
    limits = []
    if copper.electrical.drop_volts is not None:
        limits.append((copper.electrical.drop_volts.value, copper.electrical.drop_volts.source))
    if copper.electrical.drop_percent is not None:
        percent = copper.electrical.drop_percent
        limits.append((percent.value * feed_v / 100, percent.source))
    name = copper.loads[load].name
    if not limits:
        missing = "electrical.drop_volts or drop_percent"
        return Margin("drop", name, feed_v - volts, missing=missing)
    limit, source = min(limits)
    return Margin("drop", name, feed_v - volts, limit, source, keys=(("drop", load),))


def held(limits: Limits, circuit: Circuit) -> Iterator[Margin]:
    """Yield the margin of every feed, wire, contact and load of a circuit that has numbers."""
    found = [limits.feed(circuit, feed) for feed in circuit.feeds]
    pieces = sorted(circuit.pieces, key=lambda piece: (piece.name, piece.run))
    found += [limits.piece(circuit, piece) for piece in pieces]
    found += [limits.volts(circuit, load) for load in circuit.loads]
    for row in found:
        yield counted(row, circuit.missing, circuit.resistances)


BACKWARDS_A = 1e-6
"""Amperes into a feed below which nothing is said of it: rounding of the solution."""


def driven_backwards(circuit: Circuit) -> list[int]:
    """Return the feeds that take current instead of giving it."""
    return [feed for feed, amps in circuit.feeds.items() if amps < -BACKWARDS_A]
