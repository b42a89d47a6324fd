"""The report of ``cablewalk zones``: how cold each zone gets, by estimate."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import floor, inf
from typing import TYPE_CHECKING, Literal, NamedTuple

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.reports.base import Part, Pet, deadline_or_none, pet_at, pet_or_none
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.outage import NOT_SAMPLED, SomeRunsRow, Sure, Sureness
from cablewalk.reports.spread_gaps import Gaps, RefusedRow
from cablewalk.timeline.account import Account, with_findings
from cablewalk.units import minutes

if TYPE_CHECKING:  # the estimates are imported where they are made: every report has these rows
    from cablewalk.timeline.thermal_limits import Loss, ZoneEstimate

CURVE_POINTS = 300
"""Points of a curve, at least, between its ends; ends of pieces come on top."""
PHASE_POINTS = 100
"""Points in each phase besides: between phases lie days."""


class MeasuredRow(Part):
    """A temperature that was measured, as the baseline gives it."""

    at_min: float = Field(description="When, from any moment.")
    measured_c: float = Field(description="The temperature, °C.")


class PointRow(Part):
    """A point of an estimated curve."""

    at_min: float = Field(description="When. Mission elapsed time.")
    estimated_c: float = Field(description="The estimated temperature, °C.")


class ZoneLossRow(Part):
    """An outage of a service that heats a zone. All temperatures are estimates."""

    service: str = Field(description="Id of the service.")
    from_min: float = Field(description="When it goes down.")
    from_pet: Pet = Field(description="That moment in phase elapsed time.")
    dark_min: float = Field(description="How long it is dark as planned (likely minutes).")
    from_c: float = Field(description="Temperature as it goes down.")
    lowest_c: float = Field(
        description="Lowest until it is back, and on while it recovers and still falls; to the end "
        "of the replay where it is not back."
    )
    lowest_min: float = Field(description="When that is.")
    lowest_pet: Pet = Field(description="That moment in phase elapsed time.")
    limit_reached: bool | None = Field(
        description="Whether it would come to its lower limit if the service stayed down, the "
        "zone's others having power as in the replay and then as at its end; null: no limit given."
    )
    to_limit_min: float | None = Field(
        description="Minutes from the loss to that; null: not reached, or no limit."
    )
    cautious_min: float | None = Field(
        description="The same from the lower set point, where the thermostat may just have been."
    )
    estimated_by_min: float | None = Field(
        description="Reconnect no later than, by the estimate, what the service takes to recover "
        "counted; null: no limit is reached."
    )
    estimated_by_pet: Pet | None = Field(description="That moment, rounded down.")
    chance_over_estimate: float | None = Field(
        description="Share of the samples in which it lasts past that; null: nothing was sampled, "
        "or no limit is reached."
    )
    dark_p90_min: float | None = Field(
        description="Minutes dark that nine samples of ten do not exceed; null: not sampled."
    )
    chance_over_clock: float | None = Field(
        description="Share of the samples in which it overruns the clock it overruns most often; "
        "null: not sampled, or no clock."
    )
    over_clock_min: float | None = Field(description="Minutes that clock allows, or null.")
    given_by_min: float | None = Field(
        description="Reconnect no later than, by the clocks the baseline gives, recovery counted; "
        "null: none."
    )
    given_by_pet: Pet | None = Field(description="That moment, rounded down.")
    governs: Literal["given clock", "estimate", "nothing"] = Field(
        description="Which of the two counts: a given clock outranks an estimate."
    )
    recovers: bool | None = Field(
        description="Whether it warms up again with power; null: power does not come back."
    )
    recovery_min: float | None = Field(
        description="Minutes from power back until as warm as before, or as its lower set point."
    )
    lost_again_cold: bool = Field(description="The service goes down again before that.")


class ZoneRow(Part):
    """A zone. Estimates only; what was measured stands apart."""

    zone: str = Field(description="Id of the zone.")
    label: str = Field(description="Its label; may be empty.")
    place: str = Field(description="Id of its place.")
    services: tuple[str, ...] = Field(description="Ids of the services that heat it.")
    judged: bool = Field(description="Whether there is an estimate.")
    not_judged_because: tuple[str, ...] = Field(description="What is missing for one.")
    source: str = Field(description="Who gave its thermal data; empty where there are none.")
    start_c: float | None = Field(description="Temperature the estimate starts from.")
    lowest_c: float | None = Field(description="Lowest estimate of the replay.")
    lowest_min: float | None = Field(description="When that is.")
    lowest_pet: Pet | None = Field(description="That moment in phase elapsed time.")
    limit_low_c: float | None = Field(description="Its lower limit; null: not given.")
    limit_low_source: str = Field(description="Who set it; may be empty.")
    limit_high_c: float | None = Field(description="Its upper limit; null: not given.")
    limit_high_source: str = Field(description="Who set it; may be empty.")
    losses: tuple[ZoneLossRow, ...] = Field(description="The outages of its services.")
    measured: tuple[MeasuredRow, ...] = Field(description="Temperatures that were measured.")
    fitted_constant_min: float | None = Field(
        description="The time constant those were fitted with; null: none."
    )
    curve: tuple[PointRow, ...] = Field(description="The estimated temperature in time.")


class ZonesReport(Report):
    """How cold each zone gets, and when its heaters must be back. Not for go/no-go."""

    report: Literal["zones"] = Field(description="Which report this is.")
    standing: str = Field(description="What these numbers are worth.")
    zones: tuple[ZoneRow, ...] = Field(description="The zones of the baseline.")
    runs: int | None = Field(
        description="How many samples were drawn; null: none. Temperatures are by likely minutes."
    )
    not_sampled: str = Field(description="Why nothing was sampled; empty where it was.")
    in_some_runs: tuple[SomeRunsRow, ...] = Field(
        description="Outages of the zones' services that occur in some samples only, and that no "
        "temperature here knows of; the likeliest first."
    )
    not_judged_in_own_order: tuple[str, ...] = Field(
        description="Services judged along the likely order only: they have too many orders."
    )
    impossible: tuple[RefusedRow, ...] = Field(description="Actions impossible in some orders.")
    runs_given_up: int = Field(
        description="Samples in which services of conflicting work were not judged at all."
    )
    given_up_services: tuple[str, ...] = Field(
        description="Those services: their chances may be too low by the share of those samples."
    )


Beyond = Mapping[int, Callable[[float], float]]
"""Position of an outage to what tells in which share of the samples it lasts past some seconds."""


def zones_report(
    account: Account,
    sources: Sequence[Source],
    beyond: Beyond | None = None,
    sure: Sureness | None = None,
    not_sampled: str = "",
) -> ZonesReport:
    """Return the report of a replay with at least one phase.

    Args:
        account: the replay.
        sources: the documents, the baseline's first.
        beyond: what sampling tells of the outages; None where nothing was sampled.
        sure: how sure the outages are; None as above.
        not_sampled: why nothing was sampled.
    """
    from cablewalk.timeline.thermal import zones
    from cablewalk.timeline.thermal_limits import ESTIMATE

    found = zones(account.ground.baseline, account.trace, account.outages, account.readings)
    told = with_findings(account, found.findings)
    samples = _Samples(beyond or {}, sure.outages if sure else {})
    heaters = {name for estimate in found.zones for name in estimate.services}
    others = sure.in_some_runs if sure else ()
    return ZonesReport(
        **heading(told, sources),
        report="zones",
        standing=ESTIMATE,
        zones=tuple(_zone(account, estimate, samples) for estimate in found.zones),
        runs=sure.runs if sure else None,
        not_sampled=not_sampled,
        in_some_runs=tuple(row for row in others if row.service in heaters),
        **(sure.gaps if sure else Gaps())._asdict(),
    )


class _Samples(NamedTuple):
    """What sampling tells of the outages, by their position; empty where nothing was sampled."""

    beyond: Beyond
    sure: Mapping[int, Sure]


def _zone(account: Account, estimate: ZoneEstimate, samples: _Samples) -> ZoneRow:
    thermal, lowest = estimate.thermal, estimate.lowest
    at_s = None if lowest is None else round(lowest[1])
    low = thermal.limit_low if thermal else None
    high = thermal.limit_high if thermal else None
    fitted = estimate.model.fitted_s if estimate.model else None
    zone = account.ground.baseline.places[estimate.place].zones[estimate.zone]
    return ZoneRow(
        zone=estimate.zone,
        label=zone.label,
        place=estimate.place,
        services=estimate.services,
        judged=estimate.track is not None,
        not_judged_because=estimate.missing,
        source=thermal.source if thermal else "",
        start_c=thermal.start_c if thermal else None,
        lowest_c=None if lowest is None else round(lowest[0], 2),
        lowest_min=None if at_s is None else minutes(at_s),
        lowest_pet=pet_or_none(account.trace, at_s),
        limit_low_c=low.value_c if low else None,
        limit_low_source=low.source if low else "",
        limit_high_c=high.value_c if high else None,
        limit_high_source=high.source if high else "",
        losses=tuple(_loss(account, loss, samples) for loss in estimate.losses),
        measured=tuple(
            MeasuredRow(at_min=s.at_min, measured_c=s.measured_c)
            for s in (thermal.measured if thermal else ())
        ),
        fitted_constant_min=None if fitted is None else round(fitted / 60, 2),
        curve=_curve(account, estimate),
    )


def _loss(account: Account, loss: Loss, samples: _Samples) -> ZoneLossRow:
    from cablewalk.timeline.thermal import given_by_s

    trace, spell = account.trace, account.outages[loss.outage]
    given = given_by_s(account.readings.get(loss.outage, []))
    estimated = None if loss.estimated_by_s is None else floor(loss.estimated_by_s)
    share, sure = samples.beyond.get(loss.outage), samples.sure.get(loss.outage, NOT_SAMPLED)
    may_last_s = loss.may_last_s
    reached = None if loss.to_limit_s is None else min(_waits(loss), default=inf) < inf
    governs: Literal["given clock", "estimate", "nothing"] = "nothing"
    if given is not None:
        governs = "given clock"
    elif estimated is not None:
        governs = "estimate"
    return ZoneLossRow(
        service=trace.wiring.services[loss.service].id,
        from_min=minutes(spell.from_s),
        from_pet=pet_at(trace, spell.from_s, spell.lost_by.task.phase if spell.lost_by else 0),
        dark_min=minutes(spell.duration_s(trace.end_s)),
        from_c=round(loss.from_c, 2),
        lowest_c=round(loss.lowest_c, 2),
        lowest_min=minutes(round(loss.lowest_at_s)),
        lowest_pet=pet_at(trace, round(loss.lowest_at_s)),
        limit_reached=reached,
        to_limit_min=_finite(loss.to_limit_s),
        cautious_min=_finite(loss.cautious_s),
        estimated_by_min=None if estimated is None else minutes(estimated),
        estimated_by_pet=deadline_or_none(trace, estimated),
        chance_over_estimate=None if share is None or may_last_s is None else share(may_last_s),
        dark_p90_min=sure.p90_min,
        chance_over_clock=sure.chance_over,
        over_clock_min=sure.over_clock_min,
        given_by_min=None if given is None else minutes(given),
        given_by_pet=deadline_or_none(trace, given),
        governs=governs,
        recovers=None if loss.recovered_s is None else loss.recovered_s < inf,
        recovery_min=_finite(loss.recovered_s),
        lost_again_cold=loss.lost_again_cold,
    )


def _waits(loss: Loss) -> list[float]:
    return [s for s in (loss.to_limit_s, loss.cautious_s) if s is not None]


def _finite(seconds: float | None) -> float | None:
    """Return seconds as minutes; None for none and for never."""
    return None if seconds is None or seconds == inf else minutes(round(seconds))


def _curve(account: Account, estimate: ZoneEstimate) -> tuple[PointRow, ...]:
    """Return the estimated curve: evenly spaced points, also in each phase; ends of its pieces."""
    from cablewalk.formulas.thermal import ZERO_C_K

    track = estimate.track
    if track is None:
        return ()
    length = estimate.to_s - estimate.from_s
    times = {estimate.from_s + length * n / CURVE_POINTS for n in range(CURVE_POINTS + 1)}
    for timed in account.trace.phases:
        long = timed.end_s - timed.start_s
        times |= {timed.start_s + long * n / PHASE_POINTS for n in range(PHASE_POINTS + 1)}
    if len(track.pieces) <= 10 * CURVE_POINTS:
        times |= {piece.to_s for piece in track.pieces}
    return tuple(
        PointRow(at_min=round(at / 60, 3), estimated_c=round(track.at(at) - ZERO_C_K, 3))
        for at in sorted(times)
        if estimate.from_s <= at <= estimate.to_s
    )
