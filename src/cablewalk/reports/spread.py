"""The report of ``cablewalk spread``: how sure the outages and finishes are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.limits_missing import MissingRow, missing_rows
from cablewalk.reports.spread_gaps import RefusedRow, error_of_a_share, gaps_of
from cablewalk.reports.spread_limits import (
    FitRow,
    LimitRow,
    fit_rows,
    limit_rows,
)
from cablewalk.reports.spread_rows import (
    OutageSpreadRow,
    PhaseSpreadRow,
    ServiceClockRow,
    StepSpreadRow,
    clock_rows,
    outage_rows,
    phase_rows,
    step_rows,
)
from cablewalk.timeline.account import with_findings
from cablewalk.timeline.limits import judge_limits
from cablewalk.timeline.limits_fit import Fit
from cablewalk.timeline.spread import Spread
from cablewalk.timeline.spread_findings import spread_findings
from cablewalk.timeline.spread_slip import SLIP_S, Slip
from cablewalk.units import minutes


class SpreadReport(Report):
    """Best, likely and worst minutes sampled over the whole network, each run in its own order.

    A share is of all runs unless said otherwise. P90: in nine runs of ten it is no more.
    """

    report: Literal["spread"] = Field(description="Which report this is.")
    runs: int = Field(description="How many samples were drawn.")
    seed: int = Field(description="What the random numbers started from.")
    error_of_a_share: float = Field(
        description="Largest standard error a share can have with so many runs: 0.5/sqrt(runs)."
    )
    spread_phases: tuple[PhaseSpreadRow, ...] = Field(description="When each phase is over.")
    spread_outages: tuple[OutageSpreadRow, ...] = Field(
        description="Every outage that occurs in any run, by service, then by how often it occurs."
    )
    held_dark: tuple[str, ...] = Field(
        description="Services the baseline says are dark, and nothing in it says why, with those "
        "that need them: in each run down until a verify shows them up."
    )
    spread_clocks: tuple[ServiceClockRow, ...] = Field(
        description="Every clock of a service that is down in any run."
    )
    spread_steps: tuple[StepSpreadRow, ...] = Field(description="Every step.")
    slip_min: float = Field(description="Minutes by which a step is late for the growths.")
    limits: tuple[LimitRow, ...] = Field(description="Limits of the phases.")
    limits_not_judged: tuple[MissingRow, ...] = Field(description="What is not judged, and why.")
    fits: tuple[FitRow, ...] = Field(description="Which get-aheads fit into what is left at P90.")
    not_judged_in_own_order: tuple[str, ...] = Field(
        description="Services judged along the likely order only: they have too many orders."
    )
    impossible: tuple[RefusedRow, ...] = Field(
        description="Actions that are impossible in some of the orders that occur."
    )
    runs_given_up: int = Field(
        description="Runs in which services of conflicting work were not judged at all."
    )
    given_up_services: tuple[str, ...] = Field(
        description="Those services: their chances may be too low by the share of those runs."
    )


def spread_report(
    found: Spread, slips: Sequence[Slip], fits: Sequence[Fit], sources: Sequence[Source]
) -> SpreadReport:
    """Return the report of a spread; ``sources``: the baseline's first."""
    account = found.engine.account
    judged, _ = judge_limits(found)
    told = with_findings(account, list(spread_findings(found, judged)))
    return SpreadReport(
        **heading(told, sources),
        report="spread",
        runs=found.runs,
        seed=found.seed,
        error_of_a_share=round(error_of_a_share(found.runs), 6),
        spread_phases=phase_rows(found),
        spread_outages=outage_rows(found, slips),
        held_dark=tuple(
            account.trace.wiring.services[spell.service].id
            for spell in account.outages
            if spell.said
        ),
        spread_clocks=clock_rows(found),
        spread_steps=step_rows(found),
        slip_min=minutes(SLIP_S),
        limits=limit_rows(found, judged),
        limits_not_judged=missing_rows(found.engine.account),
        fits=fit_rows(found, fits),
        **gaps_of(found)._asdict(),
    )
