"""An outage: a service down, from when to when, against which clocks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from pydantic import Field

from cablewalk.reports.base import (
    Part,
    Pet,
    back_or_none,
    deadline_or_none,
    min_or_none,
    pet_at,
    procedure_id,
)
from cablewalk.reports.cause import ReasonRow, in_words, reason_rows, why_held
from cablewalk.reports.spread_gaps import Gaps
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import Reading, tightest
from cablewalk.timeline.spells import Spell
from cablewalk.units import minutes, seconds
from cablewalk.walk.trace import Event


class ClockRow(Part):
    """One clock of a service, read at one outage."""

    clock_min: float = Field(description="Minutes allowed.")
    clock_source: str = Field(description="Who allows them.")
    clock_starts: str = Field(description="power_off: as the service goes down; demate: later.")
    clock_conditions: str = Field(description="Under which conditions; may be empty.")
    resets_after_up_min: float | None = Field(
        description="Minutes up after which the clock starts afresh; null: never."
    )
    used_min: float = Field(description="Minutes this outage uses.")
    used_before_min: float = Field(description="Minutes earlier outages have used.")
    margin_min: float = Field(
        description="Minutes left; negative: exceeded. Of one that is not back: what would be left "
        "if it were reconnected as the replay ends."
    )
    accumulates: bool = Field(description="Outages add up, for no time resets the clock.")
    reconnect_by_min: float | None = Field(
        description="The latest moment for the action that brings it back to be over, what it "
        "takes to recover counted; null: the clock did not run in this outage."
    )
    reconnect_by_pet: Pet | None = Field(description="That moment, rounded down.")
    runs_out_min: float | None = Field(
        description="The latest moment to be back; null as reconnect_by_min."
    )
    runs_out_pet: Pet | None = Field(description="That moment, rounded down.")


class OutageRow(Part):
    """A service that was down. The fields of its tightest clock stand here too.

    The fields ``clock_min`` to ``runs_out_pet`` are null where the service has no clock.
    """

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind, as the baseline says.")
    label: str = Field(description="Its label; may be empty.")
    at_start: bool = Field(description="It was down already as the replay began.")
    said_dark: bool = Field(
        description="The baseline says that it is dark (dark_min) and nothing in it says why, or "
        "that it was found down (found_down): it is taken to be so until it is verified."
    )
    planned: bool | None = Field(
        description="Whether the step or the procedure plans the loss; null: down at the start."
    )
    planned_because: str = Field(description="The procedure's reason for it; may be empty.")
    lost_by_step: str | None = Field(description="Id of the step; null: down at the start.")
    lost_by_phase: str | None = Field(description="Id of that step's procedure; null as above.")
    restored_by_step: str | None = Field(description="Id of the step; null: never restored.")
    restored_by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    retired: bool = Field(description="It ended because the service was retired.")
    retired_by_step: str | None = Field(description="Id of the step that retired it, or null.")
    retired_by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    from_min: float = Field(description="When it went down (dark_min before, if at the start).")
    from_pet: Pet = Field(description="That moment in phase elapsed time.")
    to_min: float | None = Field(
        description="When it is predicted back, recovery included; null: not within the replay."
    )
    to_pet: Pet | None = Field(description="That moment, rounded up; or null.")
    duration_min: float = Field(description="How long it is dark; up to the replay's end if open.")
    verified_min: float | None = Field(description="When it was verified after; null: never.")
    verified_pet: Pet | None = Field(description="That moment, rounded up; or null.")
    clock_min: float | None = Field(description="Minutes its tightest clock allows.")
    clock_source: str | None = Field(description="Who allows them.")
    used_min: float | None = Field(description="Minutes this outage uses of it.")
    used_before_min: float | None = Field(description="Minutes earlier outages have used.")
    margin_min: float | None = Field(
        description="Minutes left; negative: exceeded. Of one that is not back: what would be left "
        "if it were reconnected as the replay ends."
    )
    accumulates: bool | None = Field(description="Outages add up: no time resets the clock.")
    reconnect_by_min: float | None = Field(
        description="The latest moment for the action that brings it back to be over, what it "
        "takes to recover counted; null too where the clock did not run."
    )
    reconnect_by_pet: Pet | None = Field(description="That moment, rounded down.")
    runs_out_min: float | None = Field(
        description="The latest moment to be back; null as reconnect_by_min."
    )
    runs_out_pet: Pet | None = Field(description="That moment, rounded down.")
    recovery_min: float = Field(
        description="Minutes from the end of that action until it counts as back: its own "
        "recovery, and that of the services it needs and that come back no sooner."
    )
    clocks: tuple[ClockRow, ...] = Field(description="All its clocks, as the baseline has them.")
    reasons: tuple[ReasonRow, ...] = Field(description="Why it went down.")
    p90_min: float | None = Field(
        description="Minutes dark that nine runs of ten do not exceed; null: not sampled."
    )
    chance: float | None = Field(
        description="Share of the runs in which it occurs; null: not sampled."
    )
    chance_over: float | None = Field(
        description="Share of the runs in which it overruns the clock it overruns most often; "
        "null: not sampled, or no clock."
    )
    over_clock_min: float | None = Field(
        description="Minutes that clock allows; null: as chance_over."
    )
    chance_not_back: float | None = Field(
        description="Share of the runs in which it lasts to the end; null: not sampled."
    )


class SomeRunsRow(Part):
    """An outage that does not occur by likely minutes, but does in some runs."""

    service: str = Field(description="Id of the service.")
    lost_by_step: str | None = Field(description="Id of the step; null: down at the start.")
    lost_by_phase: str | None = Field(description="Id of that step's procedure; null as above.")
    p90_min: float = Field(description="Minutes dark that nine of ten of these do not exceed.")
    chance: float = Field(description="Share of the runs in which it occurs.")
    chance_over: float | None = Field(
        description="Share of the runs in which it overruns the clock it overruns most often; "
        "null: it has none."
    )
    over_clock_min: float | None = Field(description="Minutes that clock allows; null: none.")
    chance_not_back: float = Field(
        description="Share of the runs in which it occurs and lasts to the end."
    )


class Sure(NamedTuple):
    """How sure one outage is; the fields of the row of the same names."""

    p90_min: float | None
    chance: float | None
    chance_over: float | None
    over_clock_min: float | None
    chance_not_back: float | None


class Sureness(NamedTuple):
    """What sampling found."""

    runs: int
    outages: Mapping[int, Sure]
    """Position of an outage in the account to how sure it is."""
    in_some_runs: tuple[SomeRunsRow, ...]
    gaps: Gaps


NOT_SAMPLED = Sure(None, None, None, None, None)


_FLAT = (
    "clock_min",
    "clock_source",
    "used_min",
    "used_before_min",
    "margin_min",
    "accumulates",
    "reconnect_by_min",
    "reconnect_by_pet",
    "runs_out_min",
    "runs_out_pet",
)


def step_and_phase(account: Account, event: Event | None) -> tuple[str | None, str | None]:
    """Return the ids of an event's step and procedure; None and None for no event."""
    if event is None:
        return None, None
    return event.task.step_id, procedure_id(account.trace.phases[event.task.phase])


def outage_rows(account: Account, sure: Sureness | None = None) -> tuple[OutageRow, ...]:
    """Return every outage, by the time it begins, then in the baseline's order of services."""
    known = sure.outages if sure is not None else {}
    order = sorted(
        range(len(account.outages)),
        key=lambda n: (account.outages[n].from_s, account.outages[n].service),
    )
    return tuple(
        _outage(account, account.outages[n], account.readings[n], known.get(n, NOT_SAMPLED))
        for n in order
    )


def _outage(account: Account, spell: Spell, readings: list[Reading], sure: Sure) -> OutageRow:
    trace = account.trace
    row = trace.wiring.services[spell.service]
    lost_step, lost_phase = step_and_phase(account, spell.lost_by)
    end_step, end_phase = step_and_phase(account, spell.restored_by)
    lost_in = spell.lost_by.task.phase if spell.lost_by else 0
    back_in = spell.restored_by.task.phase if spell.restored_by else None
    why = ""
    if spell.lost_by is not None:
        why = account.procedures[lost_in].planned_outages.get(row.id, "")
    clocks = tuple(_clock(account, reading) for reading in readings)
    first = tightest(readings)
    main = None if first is None else clocks[readings.index(first)]
    flat: dict[str, Any] = {name: main and getattr(main, name) for name in _FLAT}
    return OutageRow(
        service=row.id,
        kind=row.kind,
        label=row.label,
        at_start=spell.lost_by is None,
        said_dark=spell.said == row.id,
        planned=spell.planned if spell.lost_by else None,
        planned_because=why,
        lost_by_step=lost_step,
        lost_by_phase=lost_phase,
        restored_by_step=None if spell.retired else end_step,
        restored_by_phase=None if spell.retired else end_phase,
        retired=spell.retired,
        retired_by_step=end_step if spell.retired else None,
        retired_by_phase=end_phase if spell.retired else None,
        from_min=minutes(spell.from_s),
        from_pet=pet_at(trace, spell.from_s, lost_in),
        to_min=min_or_none(spell.to_s),
        to_pet=back_or_none(trace, spell.to_s, back_in),
        duration_min=minutes(spell.duration_s(trace.end_s)),
        verified_min=min_or_none(spell.verified_s),
        verified_pet=back_or_none(trace, spell.verified_s),
        recovery_min=minutes(spell.lead_s),
        clocks=clocks,
        reasons=reason_rows(trace.wiring, spell.reasons) or _at_start(account, row.id, spell),
        **flat,
        **sure._asdict(),
    )


def _at_start(account: Account, service: str, spell: Spell) -> tuple[ReasonRow, ...]:
    """Return why a service is down at the start: said to be dark, or what the finding tells."""
    if spell.lost_by is not None:
        return ()
    held = why_held(service, spell)
    told = (
        f.difference
        for f in account.findings
        if f.rule == "down-at-start" and f.items == (service,)
    )
    texts = [held, *told] if spell.said_as == "found_down" or not held else [held]
    return tuple(in_words(text) for text in dict.fromkeys(texts) if text)


def _clock(account: Account, reading: Reading) -> ClockRow:
    clock = reading.clock
    reset = clock.resets_after_up_min
    return ClockRow(
        clock_min=minutes(seconds(clock.allowed_min)),
        clock_source=clock.source,
        clock_starts=clock.starts,
        clock_conditions=clock.conditions,
        resets_after_up_min=None if reset is None else minutes(seconds(reset)),
        used_min=minutes(reading.used_s),
        used_before_min=minutes(reading.used_before_s),
        margin_min=minutes(reading.margin_s),
        accumulates=reading.accumulates,
        reconnect_by_min=min_or_none(reading.reconnect_by_s),
        reconnect_by_pet=deadline_or_none(account.trace, reading.reconnect_by_s),
        runs_out_min=min_or_none(reading.runs_out_s),
        runs_out_pet=deadline_or_none(account.trace, reading.runs_out_s),
    )
