"""The report of ``cablewalk halt``: what happens if work stops."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.continuity.verdict import Standing
from cablewalk.files.place import Source
from cablewalk.foresight.stops import Begun, Down, Open, Stop, stops
from cablewalk.replay.wiring import NONE
from cablewalk.reports.base import (
    Pet,
    back_or_none,
    deadline_or_none,
    min_or_none,
    pet_at,
    procedure_id,
)
from cablewalk.reports.deed import deed
from cablewalk.reports.fault import finding_row
from cablewalk.reports.halt_rows import (
    BegunRow,
    DeedRow,
    DownRow,
    HaltRow,
    HeldRow,
    LiveHalfRow,
    PauseRow,
    PersonRow,
    RecoveringRow,
    WeakRow,
)
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.lesser import string_name
from cablewalk.reports.limits_missing import missing_rows
from cablewalk.reports.outage import step_and_phase
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.account import Account
from cablewalk.timeline.thermal import zones
from cablewalk.units import minutes
from cablewalk.walk.scene import Spot
from cablewalk.walk.trace import View


class HaltReport(Report):
    """How everything is left if work stops, at every moment at which an action ends."""

    report: Literal["halt"] = Field(description="Which report this is.")
    stops: tuple[HaltRow, ...] = Field(
        description="Before the first step of each phase, then as each action ends, by time."
    )
    not_judged: tuple[str, ...] = Field(
        description="Limits that end a pause and that nobody gives, each with its procedure."
    )


def halt_report(
    account: Account, sources: Sequence[Source], spot: Spot | None = None
) -> HaltReport:
    """Return the report of a replay with at least one phase.

    Args:
        account: the replay.
        sources: the files, the baseline's first.
        spot: the step in and after which work stops; None: anywhere.
    """
    return _Halt(account, sources).report(spot)


class _Halt:
    def __init__(self, account: Account, sources: Sequence[Source]) -> None:
        self.account = account
        self.sources = sources
        self.trace = account.trace
        self.items = account.trace.wiring.items
        self.phases = [procedure_id(timed) for timed in account.trace.phases]
        self.estimates = self._estimates()

    def report(self, spot: Spot | None) -> HaltReport:
        found = stops(self.account)
        behind: list[Stop | None] = []
        for stop in found:
            behind.append(stop if stop.is_good else behind[-1] if behind else None)
        ahead: list[Stop | None] = []
        for stop in reversed(found):
            ahead.append(stop if stop.is_good else ahead[-1] if ahead else None)
        return HaltReport(
            **heading(self.account, self.sources),
            report="halt",
            stops=tuple(
                self._stop(*row)
                for row in zip(found, behind, reversed(ahead), strict=True)
                if spot is None or _is_of(row[0], spot)
            ),
            not_judged=tuple(
                f"{row.what} of {row.phase}: {row.because}" for row in missing_rows(self.account)
            ),
        )

    def _stop(self, stop: Stop, behind: Stop | None, ahead: Stop | None) -> HaltRow:
        moment = stop.moment
        return HaltRow(
            phase=self.phases[moment.phase],
            phase_number=moment.phase + 1,
            after=tuple(map(self._action, moment.ended)),
            after_steps=moment.steps,
            at_min=minutes(moment.time_s),
            at_pet=self._pet(stop),
            good=stop.is_good,
            next_good_min=minutes(ahead.moment.time_s - moment.time_s) if ahead else None,
            next_good_pet=self._pet(ahead) if ahead else None,
            last_good_min=minutes(moment.time_s - behind.moment.time_s) if behind else None,
            last_good_pet=self._pet(behind) if behind else None,
            pause_min=minutes(stop.rooms[0].seconds) if stop.rooms else None,
            pauses=tuple(PauseRow(ends=r.ends, minutes=minutes(r.seconds)) for r in stop.rooms),
            down=tuple(self._down(stop, row) for row in stop.down),
            recovering=tuple(self._recovering(stop, row) for row in stop.recovering),
            weak=tuple(self._weak(n, view) for n, view in stop.weak),
            live=tuple(map(self._live, stop.live)),
            left=tuple(finding_row(self.account, self.sources, row) for row in stop.left),
            under_way=tuple(map(self._action, stop.under_way)),
            begun=tuple(map(self._begun, stop.begun)),
            held=tuple(
                HeldRow(
                    id=row.inhibit.id,
                    requires=row.inhibit.requires,
                    owner=row.inhibit.owner,
                    holds=not row.fails,
                    why_not=row.fails,
                )
                for row in stop.held
            ),
            people=tuple(
                PersonRow(
                    person=self.items[row.person].id,
                    place=None if row.place == NONE else self.items[row.place].id,
                    holds=tuple(self.items[n].id for n in row.holds),
                )
                for row in stop.people
            ),
        )

    def _pet(self, stop: Stop) -> Pet:
        return pet_at(self.trace, stop.moment.time_s, stop.moment.phase)

    def _action(self, task: Task) -> DeedRow:
        step = self.trace.phases[task.phase].plan.steps[task.step]
        return DeedRow(
            phase=self.phases[task.phase],
            step=task.step_id,
            action_number=1 + [other.serial for other in step.tasks].index(task.serial),
            by=task.workers,
            text=deed(self.trace.wiring, task.action),
        )

    def _begun(self, begun: Begun) -> BegunRow:
        return BegunRow(
            phase=self.phases[begun.step.tasks[0].phase],
            step=begun.step.id,
            done=begun.done,
            actions=len(begun.step.tasks),
            following=None if begun.following is None else self._action(begun.following),
        )

    def _down(self, stop: Stop, down: Down) -> DownRow:
        spell, clock = down.spell, down.clock
        service = self.trace.wiring.services[spell.service]
        by_s = clock.reconnect_by_s if clock is not None and down.runs else None
        restored = step_and_phase(self.account, None if down.retires else down.ends)
        retired = step_and_phase(self.account, down.ends if down.retires else None)
        zone, runs_out_s = self.estimates.get((spell.service, spell.from_s), (None, None))
        if clock is not None or runs_out_s is None:
            zone, estimate_s = None, None
        else:
            estimate_s = round(spell.latest_s(runs_out_s))
        phase = stop.moment.phase
        return DownRow(
            service=service.id,
            kind=service.kind,
            label=service.label,
            at_start=spell.lost_by is None,
            said_dark=spell.said == service.id,
            from_min=minutes(spell.from_s),
            dark_min=minutes(stop.moment.time_s - spell.from_s),
            clock_min=clock.clock.allowed_min if clock else None,
            clock_source=clock.clock.source if clock else None,
            clock_runs=down.runs,
            reconnect_by_min=min_or_none(by_s),
            reconnect_by_pet=deadline_or_none(self.trace, by_s, phase),
            left_min=None if by_s is None else minutes(by_s - stop.moment.time_s),
            estimate_by_min=min_or_none(estimate_s),
            estimate_by_pet=deadline_or_none(self.trace, estimate_s, phase),
            estimate_zone=zone,
            restored_by_step=restored[0],
            restored_by_phase=restored[1],
            retired_by_step=retired[0],
            retired_by_phase=retired[1],
        )

    def _recovering(self, stop: Stop, row: Down) -> RecoveringRow:
        service = self.trace.wiring.services[row.spell.service]
        back_s = row.spell.to_s
        back = back_or_none(self.trace, back_s, stop.moment.phase)
        assert back is not None and back_s is not None, "it is reconnected"
        return RecoveringRow(
            service=service.id,
            kind=service.kind,
            back_min=minutes(back_s),
            back_pet=back,
            margin_min=minutes(row.clock.margin_s) if row.clock else None,
        )

    def _weak(self, service: int, view: View) -> WeakRow:
        row = self.trace.wiring.services[service]
        pairs = zip(row.strings, view.strings, strict=True)
        return WeakRow(
            service=row.id,
            kind=row.kind,
            state=view.words,
            strings=tuple(string_name(self.account, s) for s, how in pairs if how is Standing.UP),
        )

    def _live(self, row: Open) -> LiveHalfRow:
        item = self.items[row.half]
        return LiveHalfRow(
            half=item.id,
            label=item.label,
            state=row.state,
            being="" if row.task is None else deed(self.trace.wiring, row.task.action),
            found_so=row.found_so,
            feeds=tuple(self.trace.wiring.feeds[n].id for n in row.by),
        )

    def _estimates(self) -> dict[tuple[int, int], tuple[str, float]]:
        """Return (service, when it goes down) to the zone soonest too cold, and when it is."""
        account = self.account
        found: dict[tuple[int, int], tuple[str, float]] = {}
        made = zones(account.ground.baseline, self.trace, account.outages, account.readings)
        for zone in made.zones:
            for loss in zone.losses:
                key = loss.service, loss.spell.from_s
                if loss.may_last_s is None:
                    continue
                out_s = loss.at_s + loss.may_last_s
                if key not in found or out_s < found[key][1]:
                    found[key] = zone.zone, out_s
        return found


def _is_of(stop: Stop, spot: Spot) -> bool:
    """Return whether an action of a step ends at a stop."""
    return any((t.phase, t.step_id) == (spot.phase, spot.step) for t in stop.moment.ended)
