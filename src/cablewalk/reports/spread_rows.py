"""Phases, outages, clocks and steps, as the report of the spread tells them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.replay.wiring import NONE
from cablewalk.reports.base import Part
from cablewalk.timeline.spread import Key, OutageSpread, Spread
from cablewalk.timeline.spread_classical import Classical, classical, classical_outages
from cablewalk.timeline.spread_slip import Slip
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import clock_up, minutes, seconds


class Quantiles(Part):
    """What came out over the runs, in minutes."""

    p10_min: float = Field(description="In one run of ten it is no more.")
    p50_min: float = Field(description="In half the runs it is no more.")
    p90_min: float = Field(description="In nine runs of ten it is no more.")
    mean_min: float = Field(description="Mean over the runs.")


class PhaseSpreadRow(Part):
    """When a phase is over, on its own clock."""

    phase: str = Field(description="Id of the procedure.")
    phase_number: int = Field(description="Position of the phase, from 1.")
    spread: Literal["beta", "triangular"] = Field(description="How its minutes vary.")
    varies: bool = Field(description="False: best and worst are equal for all its actions.")
    finish: Quantiles = Field(description="When it is over.")
    p10_pet: str = Field(description="P10 as H:MM.")
    p50_pet: str = Field(description="P50 as H:MM.")
    p90_pet: str = Field(description="P90 as H:MM.")
    classical_mean_min: float = Field(description="The classical three-point length.")
    classical_p90_min: float = Field(description="The classical P90, along one path, normal.")
    merge_min: float | None = Field(
        description="Minutes the classical length is too hopeful on average, because paths merge; "
        "null where sampling tells no difference."
    )


class ClockChanceRow(Part):
    """One clock of an outage."""

    clock_min: float = Field(description="Minutes allowed.")
    clock_source: str = Field(description="Who allows them.")
    chance_over: float = Field(description="Share of all runs in which this outage overruns it.")


class GrowthRow(Part):
    """What a late step does to an outage."""

    phase: str = Field(description="Id of the step's procedure.")
    step: str = Field(description="Id of the step.")
    grows_min: float = Field(description="Minutes it lasts longer; negative: shorter.")


class OutageSpreadRow(Part):
    """An outage over the runs in which it occurs."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind, as the baseline says.")
    label: str = Field(description="Its label; may be empty.")
    lost_by_step: str | None = Field(description="Id of the step; null: down at the start.")
    lost_by_phase: str | None = Field(description="Id of that step's procedure; null as above.")
    likely_min: float | None = Field(
        description="Minutes dark by likely estimates; null: it does not occur then."
    )
    chance: float = Field(description="Share of all runs in which it occurs.")
    dark: Quantiles = Field(description="Minutes dark where it occurs, recovery included.")
    classical_mean_min: float | None = Field(
        description="The classical three-point length from loss to return, recovery included; null "
        "where no single path from its loss tells it."
    )
    classical_p90_min: float | None = Field(
        description="The classical P90, along that path, normal; null as above."
    )
    merge_min: float | None = Field(
        description="Minutes the classical length is too hopeful on average, because paths merge; "
        "null where sampling tells no difference."
    )
    not_back: float = Field(description="Share of all runs in which it lasts to the end.")
    back_p90_pet: str | None = Field(
        description="P90 of when it is back, H:MM on the clock of that phase; null: never back."
    )
    clocks: tuple[ClockChanceRow, ...] = Field(description="Its clocks.")
    growths: tuple[GrowthRow, ...] = Field(
        description="Steps that change it if they take slip_min longer, the most first."
    )


class ServiceClockRow(Part):
    """One clock of a service over all its outages."""

    service: str = Field(description="Id of the service.")
    clock_min: float = Field(description="Minutes allowed.")
    clock_source: str = Field(description="Who allows them.")
    chance_over: float = Field(description="Share of the runs in which any outage overruns it.")


class StepSpreadRow(Part):
    """One step over all runs."""

    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="Id of the step.")
    critical: float = Field(description="Share of the runs in which its delay delays the phase.")
    slack_likely_min: float = Field(
        description="Minutes it may be late by likely estimates before the phase is late."
    )
    slack: Quantiles = Field(description="The same over the runs.")


def quantiles(tally: Tally) -> Quantiles:
    """Return a tally in minutes."""
    return Quantiles(
        p10_min=minutes(tally.at(0.1)),
        p50_min=minutes(tally.at(0.5)),
        p90_min=minutes(tally.at(0.9)),
        mean_min=round(tally.mean_s / 60, 4),
    )


def phase_rows(found: Spread) -> tuple[PhaseSpreadRow, ...]:
    """Return every phase."""
    rows = []
    for phase, plan in enumerate(found.network.plans):
        tally = found.finish_pet[phase]
        figures = classical(found, phase)
        rows.append(
            PhaseSpreadRow.model_validate(
                {
                    "phase": plan.procedure.procedure,
                    "phase_number": phase + 1,
                    "spread": found.shapes[phase],
                    "varies": any(t.durations_s[0] < t.durations_s[2] for t in plan.tasks()),
                    "finish": quantiles(tally),
                    **{f"p{n}_pet": clock_up(tally.at(n / 100)) for n in (10, 50, 90)},
                    "classical_mean_min": round(figures.solution.length / 60, 4),
                    "classical_p90_min": round(figures.solution.quantile(0.9) / 60, 4),
                    "merge_min": None
                    if figures.merge_s is None
                    else round(figures.merge_s / 60, 4),
                }
            )
        )
    return tuple(rows)


def outage_rows(found: Spread, slips: Sequence[Slip]) -> tuple[OutageSpreadRow, ...]:
    """Return every outage that occurs in any run."""
    likely = _likely(found)
    figures = classical_outages(found, likely_keys(found))
    ordered = sorted(found.outages.items(), key=lambda row: (row[0][0], -row[1].runs, row[0][1]))
    return tuple(
        _outage(found, key, row, likely.get(key), slips, figures.get(key)) for key, row in ordered
    )


def likely_keys(found: Spread) -> dict[int, Key]:
    """Return, for each outage of the likely order by its position, what it is in the spread."""
    keys: dict[int, Key] = {}
    for n, spell in enumerate(found.engine.account.outages):
        lost = spell.lost_by
        event = NONE if lost is None else found.network.event(lost.task, lost.begins)
        keys[n] = (spell.service, event)
    return keys


def _likely(found: Spread) -> dict[Key, int]:
    account = found.engine.account
    end_s = account.trace.end_s
    return {key: account.outages[n].duration_s(end_s) for n, key in likely_keys(found).items()}


def _outage(
    found: Spread,
    key: Key,
    row: OutageSpread,
    likely_s: int | None,
    slips: Sequence[Slip],
    figures: Classical | None,
) -> OutageSpreadRow:
    account, plans = found.engine.account, found.network.plans
    service = account.trace.wiring.services[row.service]
    clocks = account.ground.baseline.services[service.id].clocks
    lost = row.lost.task if row.lost else None
    growths = sorted((s for s in slips if s.outage == key), key=lambda s: -s.grows_s)
    return OutageSpreadRow(
        service=service.id,
        kind=service.kind,
        label=service.label,
        lost_by_step=lost.step_id if lost else None,
        lost_by_phase=plans[lost.phase].procedure.procedure if lost else None,
        likely_min=None if likely_s is None else minutes(likely_s),
        chance=row.runs / found.runs,
        dark=quantiles(row.lasted),
        classical_mean_min=None if figures is None else round(figures.solution.length / 60, 4),
        classical_p90_min=None
        if figures is None
        else round(figures.solution.quantile(0.9) / 60, 4),
        merge_min=None
        if figures is None or figures.merge_s is None
        else round(figures.merge_s / 60, 4),
        not_back=row.not_back / found.runs,
        back_p90_pet=clock_up(row.back_pet.at(0.9)) if row.back_pet.number else None,
        clocks=tuple(
            ClockChanceRow(
                clock_min=minutes(seconds(clock_.allowed_min)),
                clock_source=clock_.source,
                chance_over=row.over.get(n, 0) / found.runs,
            )
            for n, clock_ in enumerate(clocks)
        ),
        growths=tuple(
            GrowthRow(
                phase=plans[s.phase].procedure.procedure,
                step=plans[s.phase].steps[s.step].id,
                grows_min=minutes(s.grows_s),
            )
            for s in growths
        ),
    )


def clock_rows(found: Spread) -> tuple[ServiceClockRow, ...]:
    """Return every clock of a service that is down in any run."""
    account = found.engine.account
    rows = []
    for (number, k), over in sorted(found.over.items()):
        service = account.trace.wiring.services[number]
        row = account.ground.baseline.services[service.id].clocks[k]
        if not any(key[0] == number for key in found.outages):
            continue
        rows.append(
            ServiceClockRow(
                service=service.id,
                clock_min=minutes(seconds(row.allowed_min)),
                clock_source=row.source,
                chance_over=over / found.runs,
            )
        )
    return tuple(rows)


def step_rows(found: Spread) -> tuple[StepSpreadRow, ...]:
    """Return every step, by phase, in the order of the document."""
    return tuple(
        StepSpreadRow(
            phase=plan.procedure.procedure,
            step=plan.steps[n].id,
            critical=row.critical / found.runs,
            slack_likely_min=minutes(row.slack_likely_s),
            slack=quantiles(row.slack),
        )
        for plan, rows in zip(found.network.plans, found.steps, strict=True)
        for n, row in enumerate(rows)
    )
