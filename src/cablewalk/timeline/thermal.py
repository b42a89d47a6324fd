"""Thermal clocks: how cold each zone gets, and when a heater must be back. Estimates only.

A clock the documents give outranks what is worked out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, floor, inf

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.thermal import Thermal
from cablewalk.findings import Address, Finding, Severity
from cablewalk.formulas.thermal import BIOT_AT_MOST, ZERO_C_K
from cablewalk.timeline.clocks import Reading
from cablewalk.timeline.spells import Spell, start_s
from cablewalk.timeline.thermal_limits import (
    ESTIMATE,
    Loss,
    ZoneEstimate,
    limit_findings,
    start_findings,
)
from cablewalk.timeline.thermal_power import dark_times, needed_until_s, powered, supposing
from cablewalk.timeline.thermal_zone import (
    TooFastError,
    followed,
    lacking,
    model_of,
    seconds_until,
    set_points_k,
)
from cablewalk.units import clock_down, clock_up
from cablewalk.walk.trace import Trace


@dataclass(slots=True)
class Zones:
    """All zones, and what is to be said of them."""

    zones: list[ZoneEstimate] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def zones(
    baseline: Baseline,
    trace: Trace,
    outages: Sequence[Spell],
    readings: dict[int, list[Reading]],
) -> Zones:
    """Return the estimates of every zone of a baseline through a replay."""
    found = Zones()
    for place_name, place in baseline.places.items():
        for name, zone in place.zones.items():
            address = Address(0, ("places", place_name, "zones", name))
            estimate = ZoneEstimate(name, place_name, zone.services, zone.thermal)
            found.zones.append(estimate)
            _Zone(estimate, address, trace, outages, readings, found.findings).work_out()
    return found


class _Zone:
    def __init__(
        self,
        estimate: ZoneEstimate,
        address: Address,
        trace: Trace,
        outages: Sequence[Spell],
        readings: dict[int, list[Reading]],
        findings: list[Finding],
    ) -> None:
        self.estimate = estimate
        self.address = address
        self.trace = trace
        self.outages = outages
        self.readings = readings
        self.findings = findings

    def say(self, rule: str, severity: Severity, found: str, **parts: str) -> None:
        items = (self.estimate.zone,)
        address = self.address.child("thermal") if self.estimate.thermal else self.address
        self.findings.append(Finding(rule, severity, address, found, items=items, **parts))

    def not_judged(self, *missing: str) -> None:
        self.estimate.missing = missing
        self.say(
            "zone-not-judged",
            Severity.NOTE,
            f"the temperature of {self.estimate.zone} is not judged: {'; '.join(missing)}",
        )

    def work_out(self) -> None:
        """Estimate the zone, or say why not."""
        estimate, thermal = self.estimate, self.estimate.thermal
        if thermal is None:
            return self.not_judged("thermal data are missing")
        if not self._heaters(thermal):
            return None
        missing = lacking(thermal)
        if missing:
            return self.not_judged(*(f"{name} is missing" for name in missing))
        if thermal.biot is not None and thermal.biot > BIOT_AT_MOST:
            self.say(
                "biot-too-large",
                Severity.WARNING,
                f"{estimate.zone} has a Biot number of {thermal.biot:g}",
                expected=f"at most {BIOT_AT_MOST:g}: a mass at one temperature",
                way_out="divide the zone, or have it analysed otherwise",
                source="Incropera & DeWitt, section 5.2",
            )
            estimate.missing = ("its Biot number is too large for one temperature",)
            return None
        self.findings.extend(start_findings(estimate, self.address))
        try:
            estimate.model = model_of(thermal)
        except ValueError as lack:
            return self.not_judged(str(lack))
        if estimate.model.holds:
            self.say(
                "zone-not-judged",
                Severity.NOTE,
                f"how fast {estimate.zone} warms is not judged: heat_capacity_j_per_k is missing",
                difference="it is taken to hold its temperature while it has power, not to rise",
                way_out="give heat_capacity_j_per_k; its recovery is not known before",
            )
        dark = dark_times(self.trace, self.outages)
        power = powered(self.trace, dark, estimate.services)
        if not power:
            return self.not_judged("none of its services comes alive in this replay")
        assert thermal.start_c is not None
        estimate.from_s = power[0][0]
        estimate.to_s = max(needed_until_s(self.trace, dark, estimate.services), estimate.from_s)
        try:
            estimate.track = followed(
                estimate.model, thermal.start_c + ZERO_C_K, power, estimate.to_s
            )
        except TooFastError:
            return self.not_judged("its thermostat cycles too fast to follow")
        self._losses(power)
        told = [*limit_findings(estimate, self.address)]
        self.findings.extend(told)
        if not any(finding.rule == "zone-too-cold" for finding in told):
            self._too_late()
        self._against_clocks()
        return None

    def _heaters(self, thermal: Thermal) -> bool:
        """Return whether the heaters are those of the zone's services."""
        services = set(self.estimate.services)
        for name in thermal.heaters.keys() - services:
            self.say(
                "heater-not-listed",
                Severity.ERROR,
                f"{name} heats {self.estimate.zone} and is not among its services",
                expected=f"one of {', '.join(sorted(services)) or 'no services at all'}",
                way_out="name it in the zone's services",
            )
            self.estimate.missing = (f"{name} is not among its services",)
        if thermal.heaters.keys() - services:
            return False
        unsaid = [name for name in self.estimate.services if name not in thermal.heaters]
        if unsaid:
            self.not_judged(*(f"what {name} heats it with (heaters)" for name in unsaid))
        return not unsaid

    # -- losses -----------------------------------------------------------------------

    def _losses(self, power: list[tuple[float, frozenset[str]]]) -> None:
        estimate = self.estimate
        assert estimate.track is not None
        for n, spell in enumerate(self.outages):
            name = self.trace.wiring.services[spell.service].id
            if name not in estimate.services:
                continue
            at = float(max(spell.from_s, start_s(self.trace)))
            if not estimate.from_s <= at <= estimate.to_s:
                continue
            estimate.losses.append(self._loss(n, spell, name, at, power))

    def _loss(
        self,
        number: int,
        spell: Spell,
        name: str,
        at: float,
        power: list[tuple[float, frozenset[str]]],
    ) -> Loss:
        estimate = self.estimate
        track, model, thermal = estimate.track, estimate.model, estimate.thermal
        assert track is not None and model is not None and thermal is not None
        kelvin = track.at(at)
        others = supposing(power, name, False, at)
        to_limit = cautious = None
        if thermal.limit_low is not None:
            limit = thermal.limit_low.value_c + ZERO_C_K
            to_limit = seconds_until(model, kelvin, others, limit, falling=True)
            low, _ = set_points_k(model.heaters[name])
            if low is not None and low < kelvin:
                cautious = seconds_until(model, low, others, limit, falling=True)
        following = [
            s.from_s for s in self.outages if s.service == spell.service and s.from_s > spell.from_s
        ]
        next_s = min(following, default=inf)
        recovered = None
        if spell.to_s is not None and not spell.retired:
            back = float(spell.to_s)
            having = supposing(power, name, True, back)
            low, _ = set_points_k(model.heaters[name])
            target = kelvin if low is None else min(kelvin, low)
            recovered = seconds_until(model, track.at(back), having, target, falling=False)
            if model.holds and recovered == inf:
                recovered = None  # how fast it warms is not known
        end = estimate.to_s if spell.to_s is None else float(spell.to_s)
        if recovered:  # above its lower set point it may fall on: that is the thermostat's doing
            end = min(track.turns_s(end), next_s, estimate.to_s)
        coldest, coldest_s = track.lowest(at, max(at, end))
        return Loss(
            number,
            spell.service,
            at,
            kelvin - ZERO_C_K,
            spell,
            to_limit,
            cautious,
            coldest - ZERO_C_K,
            coldest_s,
            recovered,
            recovered is not None
            and spell.to_s is not None
            and next_s < inf
            and spell.to_s + recovered > next_s,
        )

    def _too_late(self) -> None:
        """Say where it is back later than the limit may be reached, by the more cautious figure."""
        for loss in self.estimate.losses:
            may_last, spell = loss.may_last_s, self.outages[loss.outage]
            end = self.estimate.to_s if spell.to_s is None else spell.to_s
            if may_last is None or spell.retired or end - loss.at_s <= may_last:
                continue
            name = self.trace.wiring.services[loss.service].id
            low = self.estimate.thermal.limit_low if self.estimate.thermal else None
            back = "is not back" if spell.to_s is None else f"is back at {clock_up(spell.to_s)}"
            self.say(
                "zone-may-be-too-cold",
                Severity.WARNING,
                f"{self.estimate.zone} may reach its limit at "
                f"{clock_down(floor(loss.at_s + may_last))} and {name} {back} ({ESTIMATE})",
                expected="its heater back before",
                difference="from the lower set point, where its thermostat may just have let it "
                "fall, it lasts no longer",
                way_out="reconnect earlier, or warm it more before",
                source=low.source if low else "",
            )

    def _against_clocks(self) -> None:
        """Say where the estimate is tighter than the clock that governs."""
        for loss in self.estimate.losses:
            by = loss.estimated_by_s
            given = given_by_s(self.readings.get(loss.outage, []))
            if by is None or given is None or by >= given:
                continue
            name = self.trace.wiring.services[loss.service].id
            self.say(
                "estimate-before-clock",
                Severity.WARNING,
                f"{self.estimate.zone} may reach its limit {clock_up(ceil(given - by))} before the "
                f"clock of {name} runs out ({ESTIMATE})",
                expected="the given clock, which governs, to be the tighter one",
                way_out="ask those who gave the clock",
            )


def given_by_s(readings: Sequence[Reading]) -> int | None:
    """Return the latest moment to be back by the clocks the documents give, or None."""
    return min((r.reconnect_by_s for r in readings if r.reconnect_by_s is not None), default=None)
