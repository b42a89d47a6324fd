"""What a zone's estimate says against its limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import inf

from cablewalk.documents.thermal import TemperatureLimit, Thermal
from cablewalk.findings import Address, Finding, Severity
from cablewalk.formulas.thermal import ZERO_C_K
from cablewalk.timeline.spells import Spell
from cablewalk.timeline.thermal_zone import Model, Track

ESTIMATE = "estimate, not for go/no-go"


@dataclass(frozen=True, slots=True)
class Loss:
    """One outage of a service that heats a zone. Times are mission elapsed seconds."""

    outage: int
    """Position of the outage among the account's."""
    service: int
    at_s: float
    from_c: float
    """Estimated temperature as it goes down."""
    spell: Spell
    to_limit_s: float | None
    """Seconds from the loss to the lower limit if it stays down, the zone's other services having
    power as in the replay, and after it as at its end; infinite: never reached; None: no limit is
    given."""
    cautious_s: float | None
    """The same from the lower set point, where the thermostat may just have let it fall."""
    lowest_c: float
    """Lowest from the loss to the end of the outage, and on while it recovers and still falls; to
    the end of the replay where it is not back."""
    lowest_at_s: float
    recovered_s: float | None
    """Seconds from power back until it is as warm as it was at the loss, or as its lower set
    point, if it keeps its power and the others have it as in the replay; infinite: never; None: not
    back within the replay, or how fast it warms is not known."""
    lost_again_cold: bool
    """The service goes down again before that."""

    @property
    def may_last_s(self) -> float | None:
        """Seconds it may last by the estimate; None where no limit is reached or given."""
        waits = [s for s in (self.to_limit_s, self.cautious_s) if s is not None and s < inf]
        return min(waits, default=None)

    @property
    def estimated_by_s(self) -> float | None:
        """The latest moment, by the estimate, for the action that brings it back to be over."""
        return None if self.may_last_s is None else self.spell.latest_s(self.at_s + self.may_last_s)


@dataclass(slots=True)
class ZoneEstimate:
    """What is estimated of one zone; ``missing`` says why there is nothing."""

    zone: str
    place: str
    services: tuple[str, ...]
    thermal: Thermal | None
    missing: tuple[str, ...] = ()
    model: Model | None = None
    track: Track | None = None
    from_s: float = 0.0
    to_s: float = 0.0
    losses: list[Loss] = field(default_factory=list)

    @property
    def lowest(self) -> tuple[float, float] | None:
        """(°C, time) of the lowest temperature of the replay."""
        if self.track is None:
            return None
        kelvin, at = self.track.lowest(self.from_s, self.to_s)
        return kelvin - ZERO_C_K, at


def start_findings(estimate: ZoneEstimate, address: Address) -> Iterator[Finding]:
    """Yield an error where a zone is past a limit from the start."""
    thermal = estimate.thermal
    if thermal is None or thermal.start_c is None:
        return
    told = [("start_c", f"{estimate.zone} starts at", thermal.start_c)]
    if thermal.measured:
        told.append(
            ("measured", f"{estimate.zone} was measured at", thermal.measured[-1].measured_c)
        )
    for key, text, value in told:
        for limit, past, word in (
            *_side(thermal.limit_low, value, 1, "above"),
            *_side(thermal.limit_high, value, -1, "below"),
        ):
            if past:
                yield Finding(
                    "past-limit-at-start",
                    Severity.ERROR,
                    address.child("thermal", key),
                    f"{text} {value:g} °C",
                    expected=f"{word} {limit.value_c:g} °C",
                    difference=f"{abs(value - limit.value_c):g} K past it",
                    way_out="warm it, or cool it, before the work begins",
                    items=(estimate.zone,),
                    source=limit.source,
                )


def _side(
    limit: TemperatureLimit | None, value_c: float, sign: int, word: str
) -> Iterator[tuple[TemperatureLimit, bool, str]]:
    if limit is not None:
        yield limit, sign * (value_c - limit.value_c) <= 0, word


def limit_findings(estimate: ZoneEstimate, address: Address) -> Iterator[Finding]:
    """Yield what a zone's temperature through the replay says against its limits."""
    thermal, track = estimate.thermal, estimate.track
    assert thermal is not None and track is not None and thermal.start_c is not None
    at = address.child("thermal")
    low, high = thermal.limit_low, thermal.limit_high
    if low is None:
        yield Finding(
            "limit-not-given",
            Severity.NOTE,
            at,
            f"how long {estimate.zone} lasts is not judged: limit_low is missing",
            items=(estimate.zone,),
        )
    else:
        lowest = track.lowest(estimate.from_s, estimate.to_s)[0] - ZERO_C_K
        if lowest < low.value_c < thermal.start_c:
            yield Finding(
                "zone-too-cold",
                Severity.WARNING,
                at,
                f"{estimate.zone} falls to {lowest:.1f} °C ({ESTIMATE})",
                expected=f"at least {low.value_c:g} °C",
                difference=f"{low.value_c - lowest:.1f} K below",
                way_out="reconnect earlier, or warm it more before",
                items=(estimate.zone,),
                source=low.source,
            )
    if high is not None:
        hottest = track.highest(estimate.from_s, estimate.to_s)[0] - ZERO_C_K
        if hottest > high.value_c > thermal.start_c:
            off_c = [h.off_above_c for h in thermal.heaters.values() if h.off_above_c is not None]
            way_out = f"a set point below {max(off_c):g} °C" if off_c else "a set point"
            yield Finding(
                "zone-too-hot",
                Severity.WARNING,
                at,
                f"{estimate.zone} rises to {hottest:.1f} °C ({ESTIMATE})",
                expected=f"at most {high.value_c:g} °C",
                difference=f"{hottest - high.value_c:.1f} K above",
                way_out=f"{way_out} at which its heater goes off",
                items=(estimate.zone,),
                source=high.source,
            )
