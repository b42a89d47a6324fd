"""Loads: what units draw, by terminals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.documents.baseline import Baseline
from cablewalk.replay.wiring import NONE, Wiring


@dataclass(frozen=True, slots=True)
class Load:
    """A draw of a unit, by terminals."""

    name: str
    unit: int
    hi: int
    ret: int
    power_w: float | None
    ohm: float | None
    amps: float | None
    passes: int
    """Feed whose output it takes; NONE for the others."""
    efficiency: float
    min_volts: float | None
    source: str


def loads_of(baseline: Baseline, wiring: Wiring) -> Iterator[Load]:
    """Yield the draws of all units, in document order."""
    for place in baseline.places.values():
        for name, unit in place.units.items():
            for key, draw in unit.draws.items():
                passes = NONE
                if draw.passes is not None:
                    passes = wiring.feed_by_id[name if draw.passes == "self" else draw.passes]
                yield Load(
                    f"{name}.{key}",
                    wiring.item("unit", name),
                    wiring.terminal_by_name[f"{name}.{draw.hi}"],
                    wiring.terminal_by_name[f"{name}.{draw.ret}"],
                    draw.power_w,
                    draw.ohm,
                    draw.amps,
                    passes,
                    draw.efficiency or 1.0,
                    draw.min_volts,
                    draw.source,
                )
