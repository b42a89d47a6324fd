"""The forecast of the rest of a phase, as a report."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.asrun_log import LogFacts, LogReport, log_heading, pet, told, utc_text
from cablewalk.reports.base import Part
from cablewalk.reports.fault import FindingRow
from cablewalk.timeline.account import Account
from cablewalk.timeline.forecast import WORST, Extra, Forecast, extras, forecast
from cablewalk.units import minutes, seconds
from cablewalk.walk.asrun_state import Tracked


class StepForecast(Part):
    """A step still to be done, or begun and not over."""

    step: str = Field(description="Its id.")
    people: tuple[str, ...] = Field(description="Who does it.")
    say: str = Field(description="The worker's words.")
    actions_left: int = Field(description="How many of its actions are left.")
    begin_pet: str = Field(description="When the rest of it is likely to begin.")
    end_pet: str = Field(description="When it is likely to be over.")
    planned_end_pet: str | None = Field(description="When it was planned to be over.")
    behind_min: float | None = Field(description="Minutes later than planned; negative: earlier.")
    impossible: tuple[str, ...] = Field(description="What of it will be impossible, and why.")


class OutageForecast(Part):
    """An outage that runs now or is to come, with its tightest clock."""

    service: str = Field(description="Id of the service.")
    from_pet: str = Field(description="When it went, or will go, down.")
    back_pet: str | None = Field(description="When it is likely back; null: not in this phase.")
    dark_min: float = Field(description="Minutes dark by then.")
    allowed_min: float | None = Field(description="Minutes its tightest clock allows; or null.")
    source: str = Field(description="Who allows them.")
    margin_min: float | None = Field(description="Minutes left if it goes by likely estimates.")
    worst_margin_min: float | None = Field(description="Minutes left if all takes its worst.")
    reconnect_by_pet: str | None = Field(description="Reconnect no later than.")
    reconnect_by_utc: str | None = Field(description="That moment, UTC.")
    at_risk: bool = Field(description="Likely or worst estimates overrun the clock.")


class ExtraRow(Part):
    """A get-ahead not yet done."""

    id: str = Field(description="Its id.")
    title: str = Field(description="Its title.")
    fits: bool = Field(description="Possible, and no clock is exceeded for it.")
    adds_min: float = Field(description="Minutes by which it delays the end of the phase.")
    why_not: str = Field(description="Why it does not fit; else empty.")


class ForecastReport(LogReport):
    """What the rest of the phase comes to, conditioned on what happened."""

    report: Literal["asrun-forecast"] = Field(description="Which report this is.")
    end_pet: str = Field(description="When the phase is likely over.")
    worst_end_pet: str = Field(description="When it is over if all takes its worst.")
    planned_end_pet: str = Field(description="When it was planned to be over.")
    behind_min: float = Field(description="Minutes later than planned; negative: earlier.")
    steps: tuple[StepForecast, ...] = Field(description="The steps still to be done, by time.")
    outages: tuple[OutageForecast, ...] = Field(description="Outages running or to come.")
    get_aheads: tuple[ExtraRow, ...] = Field(description="Get-aheads not yet done, by priority.")
    to_come: tuple[FindingRow, ...] = Field(description="What the rest brings: findings.")


def forecast_report(tracked: Tracked, facts: LogFacts, now_s: int) -> ForecastReport:
    """Return the forecast from a moment on, mission elapsed seconds."""
    fields, account = log_heading(tracked, facts, now_s)
    likely = forecast(tracked, now_s)
    worst = forecast(tracked, now_s, which=WORST)
    phase = likely.phase
    return ForecastReport(
        report="asrun-forecast",
        end_pet=pet(phase, likely.end_s),
        worst_end_pet=pet(phase, worst.end_s),
        planned_end_pet=pet(phase, phase.timed.end_s),
        behind_min=minutes(likely.behind_s),
        steps=_steps(likely),
        outages=_outages(tracked, likely, worst, now_s),
        get_aheads=tuple(_extra(extra) for extra in extras(tracked, now_s, likely)),
        to_come=_to_come(account, facts, likely),
        **fields,
    )


def _to_come(account: Account, facts: LogFacts, likely: Forecast) -> tuple[FindingRow, ...]:
    known = {(f.rule, f.found) for f in account.findings}
    return told(account, facts, [f for f in likely.findings if (f.rule, f.found) not in known])


def _extra(extra: Extra) -> ExtraRow:
    return ExtraRow(
        id=extra.id,
        title=extra.title,
        fits=not extra.why_not,
        adds_min=minutes(extra.adds_s),
        why_not=extra.why_not,
    )


def _steps(likely: Forecast) -> tuple[StepForecast, ...]:
    phase, timed = likely.phase, likely.timed
    planned = {step.id: phase.timed.step_end_s[step.position] for step in phase.timed.plan.steps}
    rows = []
    order = sorted(range(len(timed.plan.steps)), key=lambda n: (timed.step_start_s[n], n))
    for n in order:
        step = timed.plan.steps[n]
        if not step.id or not step.tasks:
            continue
        end = timed.step_end_s[n]
        rows.append(
            StepForecast(
                step=step.id,
                people=step.workers,
                say=step.document.say,
                actions_left=len(step.tasks),
                begin_pet=pet(phase, timed.step_start_s[n]),
                end_pet=pet(phase, end),
                planned_end_pet=pet(phase, planned[step.id]) if step.id in planned else None,
                behind_min=minutes(end - planned[step.id]) if step.id in planned else None,
                impossible=tuple(
                    f"{r.task.verb}: {r.text}" for r in likely.refused if r.task.step_id == step.id
                ),
            )
        )
    return tuple(rows)


def _outages(
    tracked: Tracked, likely: Forecast, worst: Forecast, now_s: int
) -> tuple[OutageForecast, ...]:
    worst_margin: dict[int, int] = {}
    for n, spell in enumerate(worst.spells):
        for reading in worst.readings[n]:
            least = worst_margin.get(spell.service, reading.margin_s)
            worst_margin[spell.service] = min(least, reading.margin_s)
    rows = []
    for n, spell in enumerate(likely.spells):
        if spell.to_s is not None and spell.to_s <= now_s:
            continue
        tightest = sorted(likely.readings[n], key=lambda r: r.margin_s)
        tight = tightest[0] if tightest else None
        by = tight.reconnect_by_s if tight else None
        margin = tight.margin_s if tight else None
        risk = worst_margin.get(spell.service)
        rows.append(
            OutageForecast(
                service=tracked.ground.wiring.services[spell.service].id,
                from_pet=pet(likely.phase, spell.from_s),
                back_pet=None if spell.to_s is None else pet(likely.phase, spell.to_s),
                dark_min=minutes(spell.duration_s(likely.end_s)),
                allowed_min=minutes(seconds(tight.clock.allowed_min)) if tight else None,
                source=tight.clock.source if tight else "",
                margin_min=None if margin is None else minutes(margin),
                worst_margin_min=None if risk is None else minutes(risk),
                reconnect_by_pet=None if by is None else pet(likely.phase, by),
                reconnect_by_utc=None if by is None else utc_text(tracked.zero_utc_s + by),
                at_risk=any(m is not None and m < 0 for m in (margin, risk)),
            )
        )
    return tuple(rows)
