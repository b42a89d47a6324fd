"""Thermal data of a zone: for estimates only, never for a go or no-go."""

from typing import Annotated, Self

from pydantic import model_validator

from cablewalk.documents.base import (
    Bounded,
    Id,
    Label,
    Minutes,
    NotNegative,
    Positive,
    Reader,
    Strict,
    as_list,
)
from cablewalk.documents.limits import Source

Celsius = Annotated[float, Bounded(ge=-273.15, le=5000)]
"""A temperature, °C, not below absolute zero."""


class Heater(Strict):
    """What a service heats a zone with while it has power (at least ``need`` strings up).

    With set points the heater is on from ``on_below_c`` until ``off_above_c``; without them it is
    on as long as there is power.
    """

    power_w: Positive
    on_below_c: Celsius | None = None
    off_above_c: Celsius | None = None

    @model_validator(mode="after")
    def _set_points(self) -> Self:
        if (self.on_below_c is None) != (self.off_above_c is None):
            raise ValueError("a thermostat has two set points: on_below_c and off_above_c")
        if (
            self.on_below_c is not None
            and self.off_above_c is not None
            and self.on_below_c >= self.off_above_c
        ):
            raise ValueError("on_below_c is below off_above_c")
        return self


class TemperatureLimit(Strict):
    """A temperature and who says so, as ``{value_c: -10, source: programme rule 7}``."""

    value_c: Celsius
    source: Source


class Sample(Strict):
    """A measured temperature, with heaters off; ``at_min`` counts from any moment."""

    at_min: Minutes
    measured_c: Celsius


class Thermal(Strict):
    """One lumped mass that loses heat to a sink by conduction, to a space by radiation, or both.

    ``radiating_m2`` is emissivity times area, to ``space_c``. Two ``measured`` samples of a
    cool-down towards ``sink_c`` may be given instead of the conductance (then without heat
    capacity only cool-downs can be told). ``start_c`` is the temperature when the replay starts, or
    when the first of the zone's services comes alive where none is at the start. ``biot`` is the
    mass's Biot number, where known.
    """

    source: Label
    heat_capacity_j_per_k: Positive | None = None
    conductance_w_per_k: Positive | None = None
    sink_c: Celsius | None = None
    radiating_m2: Positive | None = None
    space_c: Celsius | None = None
    measured: Annotated[tuple[Sample, ...], Reader(as_list)] = ()
    heaters: dict[Id, Heater] = {}
    start_c: Celsius | None = None
    limit_low: TemperatureLimit | None = None
    limit_high: TemperatureLimit | None = None
    biot: NotNegative | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if not self.source:
            raise ValueError("thermal data name their source")
        if self.measured:
            if len(self.measured) != 2 or self.measured[0].at_min >= self.measured[1].at_min:
                raise ValueError("measured is two samples, the earlier one first")
            if self.conductance_w_per_k is not None or self.radiating_m2 is not None:
                raise ValueError(
                    "measured samples stand instead of conductance_w_per_k and radiating_m2"
                )
        low, high = self.limit_low, self.limit_high
        if low is not None and high is not None and low.value_c >= high.value_c:
            raise ValueError("limit_low is below limit_high")
        return self
