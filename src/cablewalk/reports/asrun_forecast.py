"""The forecast of the rest of all phases, as a report."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.asrun_log import LogFacts, LogReport, log_heading, pet, told, utc_text
from cablewalk.reports.base import Part, Pet, deadline_or_none, pet_at, pet_or_none
from cablewalk.reports.fault import FindingRow
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import tightest
from cablewalk.timeline.extras import Extra, extras
from cablewalk.timeline.forecast import WORST, Coming, Forecast, forecast
from cablewalk.timeline.spells import Spell
from cablewalk.units import minutes, seconds
from cablewalk.walk.asrun_state import Tracked


class PhaseForecast(Part):
    """A phase under way, or still to begin."""

    phase: str = Field(description="Id of its procedure.")
    phase_number: int = Field(description="Its position, from 1.")
    begun: bool = Field(
        description="False: it is taken to begin gap_min after the phase before, from what that "
        "one will leave."
    )
    begin_pet: str = Field(description="When its first step may begin, on its own clock.")
    begin_utc: str = Field(description="That moment, UTC.")
    end_pet: str = Field(description="When it is likely over.")
    end_utc: str = Field(description="That moment, UTC.")
    worst_end_pet: str = Field(
        description="When it is over if all takes its worst, on its own clock."
    )
    worst_end_utc: str = Field(description="That moment, UTC.")
    planned_end_pet: str = Field(description="When it was planned to be over.")
    behind_min: float = Field(
        description="Minutes later over than planned, what phases before lose included; negative: "
        "earlier."
    )


class StepForecast(Part):
    """A step still to be done, or begun and not over. Its times are on its phase's clock."""

    phase: str = Field(description="Id of its procedure.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    step: str = Field(description="Its id.")
    people: tuple[str, ...] = Field(description="Who does it.")
    say: str = Field(description="The worker's words.")
    actions_left: int = Field(description="How many of its actions are left.")
    begin_pet: str = Field(description="When the rest of it is likely to begin.")
    end_pet: str = Field(description="When it is likely to be over.")
    planned_end_pet: str | None = Field(description="When it was planned to be over.")
    behind_min: float | None = Field(
        description="Minutes later than planned, on its phase's clock; negative: earlier."
    )
    impossible: tuple[str, ...] = Field(description="What of it will be impossible, and why.")


class OutageForecast(Part):
    """An outage that runs now or is to come, with its tightest clock."""

    service: str = Field(description="Id of the service.")
    from_pet: Pet = Field(description="When it went, or will go, down.")
    at_start: bool = Field(description="It was down already before this log's first phase.")
    back_pet: Pet | None = Field(
        description="When it is likely back, or retired; null: in no phase."
    )
    retired: bool = Field(description="It ends because the service is retired.")
    dark_min: float = Field(description="Minutes dark by then, or by the end of the last phase.")
    allowed_min: float | None = Field(description="Minutes its tightest clock allows; or null.")
    source: str = Field(description="Who allows them.")
    margin_min: float | None = Field(description="Minutes left if it goes by likely estimates.")
    worst_margin_min: float | None = Field(description="Minutes left if all takes its worst.")
    reconnect_by_pet: Pet | None = Field(
        description="Reconnect no later than, rounded down to the minute; null where it is "
        "reconnected already, or has no clock."
    )
    reconnect_by_utc: str | None = Field(description="That moment, UTC.")
    at_risk: bool = Field(description="Likely or worst estimates overrun the clock.")
    only_at_worst: bool = Field(
        description="It comes only if all takes its worst: its times are of that case."
    )


class ExtraRow(Part):
    """A get-ahead not yet done."""

    phase: str = Field(description="Id of its procedure.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    id: str = Field(description="Its id.")
    title: str = Field(description="Its title.")
    fits: bool = Field(description="Possible, and no clock is exceeded for it in any phase.")
    adds_min: float = Field(description="Minutes by which it delays the end of its phase.")
    why_not: str = Field(description="Why it does not fit; else empty.")


class ForecastReport(LogReport):
    """What the rest of all phases comes to, conditioned on what happened."""

    report: Literal["asrun-forecast"] = Field(description="Which report this is.")
    phases: tuple[PhaseForecast, ...] = Field(
        description="The phase begun last, and those that have not begun."
    )
    steps: tuple[StepForecast, ...] = Field(description="Steps still to be done, by time.")
    outages: tuple[OutageForecast, ...] = Field(description="Outages running or to come, by time.")
    get_aheads: tuple[ExtraRow, ...] = Field(
        description="Get-aheads not yet done, by phase and priority."
    )
    to_come: tuple[FindingRow, ...] = Field(description="What the rest brings: findings.")


def forecast_report(tracked: Tracked, facts: LogFacts, now_s: int) -> ForecastReport:
    """Return the forecast from a moment on, mission elapsed seconds."""
    fields, account = log_heading(tracked, facts, now_s)
    likely = forecast(tracked, now_s)
    worst = forecast(tracked, now_s, which=WORST)
    pairs = zip(likely.phases, worst.phases, strict=True)
    return ForecastReport(
        report="asrun-forecast",
        phases=tuple(_phase(tracked, row, late) for row, late in pairs),
        steps=tuple(step for row in likely.phases for step in _steps(likely, row)),
        outages=_outages(tracked, likely, worst, now_s),
        get_aheads=tuple(_extra(tracked, extra) for extra in extras(tracked, now_s, likely)),
        to_come=_to_come(account, facts, likely),
        **fields,
    )


def _to_come(account: Account, facts: LogFacts, likely: Forecast) -> tuple[FindingRow, ...]:
    known = {(f.rule, f.found, f.step) for f in account.findings}
    fresh = [f for f in likely.findings if (f.rule, f.found, f.step) not in known]
    return told(account, facts, fresh)


def _phase(tracked: Tracked, likely: Coming, worst: Coming) -> PhaseForecast:
    phase = likely.phase

    def utc(time_s: int) -> str:
        return utc_text(tracked.zero_utc_s + time_s)

    return PhaseForecast(
        phase=phase.procedure.procedure,
        phase_number=phase.number + 1,
        begun=phase.number < len(tracked.phases),
        begin_pet=pet(phase, phase.start_s),
        begin_utc=utc(phase.start_s),
        end_pet=pet(phase, likely.end_s),
        end_utc=utc(likely.end_s),
        worst_end_pet=pet(worst.phase, worst.end_s),
        worst_end_utc=utc(worst.end_s),
        planned_end_pet=pet(phase, phase.timed.end_s),
        behind_min=minutes(likely.behind_s),
    )


def _extra(tracked: Tracked, extra: Extra) -> ExtraRow:
    return ExtraRow(
        phase=tracked.procedures[extra.phase].procedure,
        phase_number=extra.phase + 1,
        id=extra.id,
        title=extra.title,
        fits=not extra.why_not,
        adds_min=minutes(extra.adds_s),
        why_not=extra.why_not,
    )


def _steps(likely: Forecast, coming: Coming) -> list[StepForecast]:
    phase, timed = coming.phase, coming.timed
    planned = {step.id: phase.timed.step_end_s[step.position] for step in phase.timed.plan.steps}
    refused = [r for r in likely.refused if r.task.phase == phase.number]
    rows = []
    order = sorted(range(len(timed.plan.steps)), key=lambda n: (timed.step_start_s[n], n))
    for n in order:
        step = timed.plan.steps[n]
        if not step.id or not step.tasks:
            continue
        end = timed.step_end_s[n]
        rows.append(
            StepForecast(
                phase=phase.procedure.procedure,
                phase_number=phase.number + 1,
                step=step.id,
                people=step.workers,
                say=step.document.say,
                actions_left=len(step.tasks),
                begin_pet=pet(phase, timed.step_start_s[n]),
                end_pet=pet(phase, end),
                planned_end_pet=pet(phase, planned[step.id]) if step.id in planned else None,
                behind_min=minutes(end - planned[step.id]) if step.id in planned else None,
                impossible=tuple(
                    f"{r.task.verb}: {r.text}" for r in refused if r.task.step_id == step.id
                ),
            )
        )
    return rows


def _lost_by(spell: Spell) -> tuple[int, int, int, str]:
    """Return what tells the same outage in two forecasts."""
    if spell.lost_by is None:
        return spell.service, -1, -1, ""
    task = spell.lost_by.task
    return spell.service, task.phase, task.serial, task.step_id


def _outages(
    tracked: Tracked, likely: Forecast, worst: Forecast, now_s: int
) -> tuple[OutageForecast, ...]:
    margins: dict[tuple[int, int, int, str], int] = {}
    for n, spell in enumerate(worst.spells):
        for reading in worst.readings[n]:
            least = margins.get(_lost_by(spell), reading.margin_s)
            margins[_lost_by(spell)] = min(least, reading.margin_s)
    known = {_lost_by(spell) for spell in likely.spells}
    rows = [
        (spell.from_s, _outage(tracked, likely, n, margins.get(_lost_by(spell)), now_s))
        for n, spell in enumerate(likely.spells)
        if spell.to_s is None or spell.to_s > now_s
    ]
    rows += [
        (spell.from_s, _outage(tracked, worst, n, margins.get(_lost_by(spell)), now_s, True))
        for n, spell in enumerate(worst.spells)
        if _lost_by(spell) not in known
    ]
    return tuple(row for _, row in sorted(rows, key=lambda pair: pair[0]))


def _outage(
    tracked: Tracked,
    told: Forecast,
    n: int,
    worst_s: int | None,
    now_s: int,
    only_at_worst: bool = False,
) -> OutageForecast:
    spell, trace = told.spells[n], told.trace
    tight = tightest(told.readings[n])
    recovers = spell.restored_by is not None and spell.restored_by.time_s <= now_s
    by = tight.reconnect_by_s if tight and not recovers else None
    margin = tight.margin_s if tight and not only_at_worst else None
    return OutageForecast(
        service=tracked.ground.wiring.services[spell.service].id,
        from_pet=pet_at(trace, spell.from_s),
        at_start=spell.lost_by is None,
        back_pet=pet_or_none(trace, spell.to_s),
        retired=spell.retired,
        dark_min=minutes(spell.duration_s(trace.end_s)),
        allowed_min=minutes(seconds(tight.clock.allowed_min)) if tight else None,
        source=tight.clock.source if tight else "",
        margin_min=None if margin is None else minutes(margin),
        worst_margin_min=None if worst_s is None else minutes(worst_s),
        reconnect_by_pet=deadline_or_none(trace, by),
        reconnect_by_utc=None if by is None else utc_text(tracked.zero_utc_s + by),
        at_risk=any(m is not None and m < 0 for m in (margin, worst_s)),
        only_at_worst=only_at_worst,
    )
