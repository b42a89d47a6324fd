"""The report of ``cablewalk outages``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.reports.electrical import LoadsReport, StringLoadRow
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.lesser import (
    SpellRow,
    StringsLeftRow,
    spell_rows,
    strings_left_rows,
)
from cablewalk.reports.life import BystanderRow, TurnRow, bystander_rows, turn_rows
from cablewalk.reports.limits_missing import MissingRow, missing_rows
from cablewalk.reports.outage import OutageRow, SomeRunsRow, Sureness, outage_rows
from cablewalk.reports.spread_gaps import Gaps, RefusedRow
from cablewalk.reports.thermal import ZoneLossRow, ZoneRow, ZonesReport
from cablewalk.timeline.account import Account


class OutagesReport(Report):
    """What was down, reduced or unproven, from when to when, and against which clocks."""

    report: Literal["outages"] = Field(description="Which report this is.")
    outages: tuple[OutageRow, ...] = Field(description="Every outage, by its begin.")
    reduced: tuple[SpellRow, ...] = Field(description="When services were reduced.")
    unproven: tuple[SpellRow, ...] = Field(
        description="When services were up, but disturbed and not verified since."
    )
    strings_left: tuple[StringsLeftRow, ...] = Field(
        description="For services of several strings: every change of the set that is left."
    )
    established: tuple[TurnRow, ...] = Field(description="Services up for the first time.")
    retired: tuple[TurnRow, ...] = Field(description="Services that nobody needs any longer.")
    rerouted: tuple[TurnRow, ...] = Field(
        description="Strings that run over other conductors at the end than at the start."
    )
    bystanders: tuple[BystanderRow, ...] = Field(
        description="Services lost only because they share a feed or connector with the work."
    )
    runs: int | None = Field(description="How many samples were drawn; null: none.")
    not_sampled: str = Field(description="Why nothing was sampled; empty where it was.")
    in_some_runs: tuple[SomeRunsRow, ...] = Field(
        description="Outages that occur in some samples only, the likeliest first."
    )
    not_judged_in_own_order: tuple[str, ...] = Field(
        description="Services whose samples were judged along the likely order only: they have too "
        "many orders."
    )
    impossible: tuple[RefusedRow, ...] = Field(
        description="Actions that are impossible in some of the orders that were sampled."
    )
    runs_given_up: int = Field(
        description="Samples in which services of conflicting work were not judged at all."
    )
    given_up_services: tuple[str, ...] = Field(
        description="Those services: their chances may be too low by the share of those samples."
    )
    limits_not_judged: tuple[MissingRow, ...] = Field(
        description="Phase limits that are not judged, and what is missing."
    )
    zones: tuple[ZoneRow, ...] | None = Field(
        description="Estimated temperatures, not for go/no-go; null: no thermal data, or not asked "
        "for."
    )
    loads: tuple[StringLoadRow, ...] | None = Field(
        description="What each power string carries at worst; null: no draws given, or not asked "
        "for."
    )
    loads_not_known: tuple[str, ...] = Field(
        description="Resistances the documents lack, counted as nothing: volts are upper bounds."
    )


def outages_report(
    account: Account,
    sources: Sequence[Source],
    sure: Sureness | None = None,
    not_sampled: str = "",
    zones: ZonesReport | None = None,
    loads: LoadsReport | None = None,
) -> OutagesReport:
    """Return the report of a replay with at least one phase; ``sources``: the baseline's first.

    ``sure``, ``zones`` and ``loads`` are what was found besides; ``not_sampled``: why there is no
    ``sure``.
    """
    head = heading(account, sources)
    more = [f for report in (zones, loads) if report is not None for f in report.findings]
    head["findings"] = tuple(dict.fromkeys((*head["findings"], *more)))
    gaps = sure.gaps if sure is not None else Gaps()
    return OutagesReport(
        **head,
        report="outages",
        outages=outage_rows(account, sure),
        reduced=spell_rows(account, "reduced"),
        unproven=spell_rows(account, "unproven"),
        strings_left=strings_left_rows(account),
        established=turn_rows(account, "established"),
        retired=turn_rows(account, "retired"),
        rerouted=turn_rows(account, "re-routed"),
        bystanders=bystander_rows(account),
        runs=sure.runs if sure is not None else None,
        not_sampled=not_sampled,
        in_some_runs=sure.in_some_runs if sure is not None else (),
        **gaps._asdict(),
        limits_not_judged=missing_rows(account),
        zones=zones.zones if zones is not None else None,
        loads=loads.strings if loads is not None else None,
        loads_not_known=loads.not_known if loads is not None else (),
    )


def colder(report: OutagesReport, row: OutageRow) -> tuple[tuple[ZoneRow, ZoneLossRow], ...]:
    """Return the zones that an outage lets cool, each with what is estimated of it."""
    return tuple(
        (zone, loss)
        for zone in report.zones or ()
        for loss in zone.losses
        if loss.service == row.service
        and loss.from_min >= row.from_min
        and (row.to_min is None or loss.from_min < row.to_min)
    )
