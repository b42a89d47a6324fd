"""The report of ``cablewalk halt``: what happens if work stops."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.foresight.stops import Down, Stop, stops
from cablewalk.reports.base import (
    Part,
    Pet,
    back_or_none,
    deadline_or_none,
    min_or_none,
    pet_at,
    procedure_id,
)
from cablewalk.reports.deed import deed
from cablewalk.reports.fault import FindingRow, finding_row
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.outage import step_and_phase
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.account import Account
from cablewalk.timeline.spells import Spell
from cablewalk.units import minutes
from cablewalk.walk.scene import Spot


class DownRow(Part):
    """A service that is down as work stops, and stays so until somebody goes on."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    at_start: bool = Field(description="It was down already as the replay began.")
    from_min: float = Field(description="When it went down (dark_min before, if at the start).")
    dark_min: float = Field(description="Minutes it has been dark as work stops.")
    clock_min: float | None = Field(
        description="Minutes allowed by its clock: of those that run, the one that ends first; "
        "null: it has none, and nobody says how long it may be down."
    )
    clock_source: str | None = Field(description="Who allows them; null as above.")
    clock_runs: bool = Field(description="Whether that clock runs as work stops.")
    reconnect_by_min: float | None = Field(
        description="The latest moment for the action that brings it back to be over, what it "
        "takes to recover counted; null: no clock runs."
    )
    reconnect_by_pet: Pet | None = Field(description="That moment, rounded down; or null.")
    left_min: float | None = Field(
        description="Minutes from the stop to reconnect_by_min; negative: it is too late already; "
        "null: no clock runs."
    )
    restored_by_step: str | None = Field(
        description="Id of the step that brings it back as planned; null: none does."
    )
    restored_by_phase: str | None = Field(description="Id of that step's procedure, or null.")


class RecoveringRow(Part):
    """A service that is reconnected as work stops, and comes back without anybody."""

    service: str = Field(description="Id of the service.")
    back_min: float = Field(description="When it counts as back.")
    back_pet: Pet = Field(description="That moment, rounded up.")


class LiveHalfRow(Part):
    """A half that stands open, its contacts live or not surely dead."""

    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label; may be empty.")
    feeds: tuple[str, ...] = Field(description="Ids of the feeds that may make it live.")


class UnderWayRow(Part):
    """An action that somebody else is at as work stops: neither done nor undone."""

    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="Id of the step.")
    by: tuple[str, ...] = Field(description="Ids of the people at it.")
    text: str = Field(description="The action in words.")


class HaltRow(Part):
    """Work stops: no further action begins, and nobody does anything."""

    phase: str = Field(description="Id of the procedure under way.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    after_steps: tuple[str, ...] = Field(
        description="Ids of the steps that end here; empty: before the first."
    )
    at_min: float = Field(description="When.")
    at_pet: Pet = Field(description="That moment in phase elapsed time.")
    good: bool = Field(
        description="Whether it can be left so: nothing under way, unfinished, or bare and live; "
        "no clock runs, and no service that the work took down lacks a clock."
    )
    next_good_min: float | None = Field(
        description="Minutes of work as planned from here to the next good stop; 0: this is one; "
        "null: none comes."
    )
    next_good_steps: tuple[str, ...] = Field(description="Ids of the steps that end there.")
    next_good_phase: str | None = Field(description="Id of the procedure of that stop, or null.")
    last_good_min: float | None = Field(
        description="Minutes since the last good stop; 0: this is one; null: there was none."
    )
    last_good_steps: tuple[str, ...] = Field(description="Ids of the steps that ended there.")
    last_good_phase: str | None = Field(description="Id of the procedure of that stop, or null.")
    pause_min: float | None = Field(
        description="Minutes work may stand still here, and then go on as planned, before a clock "
        "or a limit of the phase is overrun; negative: that is overrun without a pause; null: "
        "neither a clock runs nor a limit is to come."
    )
    pause_ends: str | None = Field(
        description="What is overrun first: id of a service, or consumables, turn-back or "
        "'decision ID'; null as above."
    )
    down: tuple[DownRow, ...] = Field(description="Services down, in the baseline's order.")
    recovering: tuple[RecoveringRow, ...] = Field(description="Services that come back anyway.")
    live: tuple[LiveHalfRow, ...] = Field(description="Halves open and live.")
    left: tuple[FindingRow, ...] = Field(description="What is left unfinished, and the ways out.")
    under_way: tuple[UnderWayRow, ...] = Field(description="What others are at.")
    inhibits: tuple[str, ...] = Field(
        description="Ids of the inhibits in force: what they hold off must stay so."
    )


class HaltReport(Report):
    """How everything is left if work stops as each step is over."""

    report: Literal["halt"] = Field(description="Which report this is.")
    stops: tuple[HaltRow, ...] = Field(
        description="Before the first step, then as each step ends, by time."
    )


def halt_report(
    account: Account, sources: Sequence[Source], spot: Spot | None = None
) -> HaltReport:
    """Return the report of a replay with at least one phase.

    Args:
        account: the replay.
        sources: the files, the baseline's first.
        spot: the step after which work stops; None: after each.
    """
    found = stops(account)
    behind: list[Stop | None] = []
    for stop in found:
        behind.append(stop if stop.is_good else behind[-1] if behind else None)
    ahead: list[Stop | None] = []
    for stop in reversed(found):
        ahead.append(stop if stop.is_good else ahead[-1] if ahead else None)
    rows = (
        _stop(account, sources, *row)
        for row in zip(found, behind, reversed(ahead), strict=True)
        if spot is None or (row[0].phase == spot.phase and spot.step in row[0].steps)
    )
    return HaltReport(**heading(account, sources), report="halt", stops=tuple(rows))


def _stop(
    account: Account, sources: Sequence[Source], stop: Stop, behind: Stop | None, ahead: Stop | None
) -> HaltRow:
    trace = account.trace
    phases = [procedure_id(timed) for timed in trace.phases]
    items, feeds = trace.wiring.items, trace.wiring.feeds
    return HaltRow(
        phase=phases[stop.phase],
        phase_number=stop.phase + 1,
        after_steps=stop.steps,
        at_min=minutes(stop.time_s),
        at_pet=pet_at(trace, stop.time_s, stop.phase),
        good=stop.is_good,
        next_good_min=None if ahead is None else minutes(ahead.time_s - stop.time_s),
        next_good_steps=ahead.steps if ahead else (),
        next_good_phase=phases[ahead.phase] if ahead else None,
        last_good_min=None if behind is None else minutes(stop.time_s - behind.time_s),
        last_good_steps=behind.steps if behind else (),
        last_good_phase=phases[behind.phase] if behind else None,
        pause_min=min_or_none(stop.room.seconds if stop.room else None),
        pause_ends=stop.room.ends if stop.room else None,
        down=tuple(_down(account, stop, row) for row in stop.down),
        recovering=tuple(_recovering(account, spell) for spell in stop.recovering),
        live=tuple(
            LiveHalfRow(
                half=items[half].id, label=items[half].label, feeds=tuple(feeds[n].id for n in by)
            )
            for half, by in stop.live.items()
        ),
        left=tuple(finding_row(account, sources, finding) for finding in stop.left),
        under_way=tuple(_under_way(account, task) for task in stop.under_way),
        inhibits=stop.inhibits,
    )


def _down(account: Account, stop: Stop, down: Down) -> DownRow:
    trace, spell, clock = account.trace, down.spell, down.clock
    service = trace.wiring.services[spell.service]
    by_s = clock.reconnect_by_s if clock is not None and down.runs else None
    step, phase = step_and_phase(account, None if spell.retired else spell.restored_by)
    return DownRow(
        service=service.id,
        kind=service.kind,
        label=service.label,
        at_start=spell.lost_by is None,
        from_min=minutes(spell.from_s),
        dark_min=minutes(stop.time_s - spell.from_s),
        clock_min=clock.clock.allowed_min if clock else None,
        clock_source=clock.clock.source if clock else None,
        clock_runs=down.runs,
        reconnect_by_min=min_or_none(by_s),
        reconnect_by_pet=deadline_or_none(trace, by_s),
        left_min=None if by_s is None else minutes(by_s - stop.time_s),
        restored_by_step=step,
        restored_by_phase=phase,
    )


def _recovering(account: Account, spell: Spell) -> RecoveringRow:
    back = back_or_none(account.trace, spell.to_s)
    assert back is not None and spell.to_s is not None, "it is reconnected"
    return RecoveringRow(
        service=account.trace.wiring.services[spell.service].id,
        back_min=minutes(spell.to_s),
        back_pet=back,
    )


def _under_way(account: Account, task: Task) -> UnderWayRow:
    return UnderWayRow(
        phase=procedure_id(account.trace.phases[task.phase]),
        step=task.step_id,
        by=task.workers,
        text=deed(account.trace.wiring, task.action),
    )
