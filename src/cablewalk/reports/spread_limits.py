"""Phase limits, as the report of the spread tells them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.reports.base import Part
from cablewalk.timeline.limits import Judged
from cablewalk.timeline.limits_fit import Fit
from cablewalk.timeline.spread import Spread
from cablewalk.units import clock, clock_up, minutes


class LimitRow(Part):
    """A limit of a phase against all runs."""

    phase: str = Field(description="Id of the procedure.")
    phase_number: int = Field(description="Position of the phase, from 1.")
    what: Literal["consumables", "turn-back", "decision"] = Field(description="Which kind.")
    decision: str = Field(description="Id of the decision point; empty for other kinds.")
    step: str = Field(description="The step that must have begun or be over; may be empty.")
    by_pet: str = Field(description="By when, phase elapsed time, H:MM.")
    by_min: float = Field(description="The same in minutes on the phase's clock.")
    source: str = Field(description="Who says so.")
    otherwise: str = Field(description="What is done where it is not; may be empty.")
    p50_pet: str = Field(description="When it comes about in half the runs.")
    p90_pet: str = Field(description="When it has come about in nine runs of ten.")
    margin_p90_min: float = Field(description="Minutes left at P90; negative: exceeded.")
    chance_over: float = Field(description="Share of the runs in which it is exceeded.")


class FitRow(Part):
    """Whether a get-ahead fits into what is left at P90."""

    phase: str = Field(description="Id of the procedure.")
    get_ahead: str = Field(description="Id of the get-ahead.")
    title: str = Field(description="Its title; may be empty.")
    priority: int = Field(description="1 comes first.")
    fits: bool | None = Field(description="Whether it fits; null: not judged.")
    because: str = Field(description="Why, or what is missing.")


def limit_rows(found: Spread, judged: Sequence[Judged]) -> tuple[LimitRow, ...]:
    """Return the limits that are judged."""
    names = [plan.procedure.procedure for plan in found.network.plans]
    return tuple(
        LimitRow.model_validate(
            {
                "phase": names[row.phase],
                "phase_number": row.phase + 1,
                "what": row.what,
                "decision": row.name,
                "step": row.step,
                "by_pet": clock(row.limit_s),
                "by_min": minutes(row.limit_s),
                "source": row.source,
                "otherwise": row.otherwise,
                "p50_pet": clock_up(row.when.at(0.5)),
                "p90_pet": clock_up(row.when.at(0.9)),
                "margin_p90_min": minutes(row.margin_s),
                "chance_over": row.chance_over,
            }
        )
        for row in judged
    )


def fit_rows(found: Spread, fits: Sequence[Fit]) -> tuple[FitRow, ...]:
    """Return which get-aheads fit."""
    names = [plan.procedure.procedure for plan in found.network.plans]
    return tuple(
        FitRow(
            phase=names[fit.phase],
            get_ahead=fit.ahead.id,
            title=fit.ahead.title,
            priority=fit.ahead.priority,
            fits=fit.fits,
            because=fit.because,
        )
        for fit in fits
    )
