"""The forecast as text."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.cli.asrun_now_page import errors, late, log_head
from cablewalk.cli.page import Page
from cablewalk.cli.phrases import PREDICTED, h_mm, left_h_mm, tell, tell_beneath, used_h_mm
from cablewalk.reports.asrun_forecast import ForecastReport, OutageForecast, PhaseForecast
from cablewalk.reports.base import Pet
from cablewalk.reports.fault import FindingRow


def forecast_page(report: ForecastReport) -> Page:
    """Return the forecast as a page."""
    page = Page()
    log_head(page, "FORECAST", report)
    for phase in report.phases:
        _phase(page, report, phase)
    risk = [row for row in report.outages if row.at_risk]
    if risk:
        page.head("CLOCKS AT RISK", style="loud")
        for row in risk:
            page.add(_outage(report, row), 2, 6, style="loud")
    calm = [row for row in report.outages if not row.at_risk]
    if calm:
        page.head("OUTAGES, NOW AND TO COME")
        for row in calm:
            page.add(_outage(report, row), 2, 6)
    for phase in report.phases:
        _steps(page, report, phase)
    if report.get_aheads:
        page.head("GET-AHEADS, BY PRIORITY")
    for extra in report.get_aheads:
        says = f"fits, adds {h_mm(extra.adds_min)}" if extra.fits else f"no: {extra.why_not}"
        page.add(f"{_number(report, extra.phase_number)}{extra.id:<22} {extra.title}: {says}", 2, 4)
    if report.to_come:
        page.head("WHAT THE REST WILL BRING")
        _to_come(page, report.to_come)
    errors(page, report)
    page.blank()
    page.add(PREDICTED)
    return page


def _to_come(page: Page, rows: Sequence[FindingRow]) -> None:
    """Add findings, what follows from a step that cannot be done beneath its first."""
    groups: dict[object, list[FindingRow]] = {}
    under: dict[object, object] = {}
    for n, row in enumerate(rows):
        step = (row.phase_number, row.step)
        cause: object = (row.phase_number, row.because_of or row.step)
        if row.rule != "refused" and not row.because_of:
            cause = n
        elif row.because_of is None:
            cause = under.setdefault(step, cause)
        else:
            under.setdefault(step, cause)
        groups.setdefault(cause, []).append(row)
    for first, *rest in groups.values():
        tell(page, first, 2)
        tell_beneath(page, rest, 6)


def _several(report: ForecastReport) -> bool:
    return any(phase.phase_number > 1 for phase in report.phases)


def _number(report: ForecastReport, phase: int) -> str:
    """Return the short name of a phase and a blank; empty where there is but one."""
    return f"P{phase} " if _several(report) else ""


def _at(report: ForecastReport, moment: Pet) -> str:
    return f"{_number(report, moment.phase_number)}{moment.pet}"


def _phase(page: Page, report: ForecastReport, phase: PhaseForecast) -> None:
    named = f"P{phase.phase_number} {phase.phase}: " if _several(report) else ""
    begins = "" if phase.begun else f"begins {phase.begin_utc} (PET {phase.begin_pet}), "
    page.add(
        f"{named}{begins}over at PET {phase.end_pet} (planned {phase.planned_end_pet}: "
        f"{late(phase.behind_min)}; at worst {phase.worst_end_pet}, {phase.worst_end_utc})",
        2, 4, style="head",
    )  # fmt: skip


def _steps(page: Page, report: ForecastReport, phase: PhaseForecast) -> None:
    named = f" IN P{phase.phase_number} {phase.phase}" if _several(report) else ""
    page.head(f"STILL TO DO{named}")
    if not phase.begun:
        page.add("from what the phase before will leave, its gap_min after that one is over", 2)
    steps = [step for step in report.steps if step.phase_number == phase.phase_number]
    for step in steps:
        behind = late(step.behind_min)
        page.add(
            f"{step.begin_pet:>6} → {step.end_pet:>6}  {step.step:<8} {', '.join(step.people):<16} "
            f"{behind:<12} {step.say}", 2, 28,
        )  # fmt: skip
        for text in step.impossible:
            page.add(f"IMPOSSIBLE: {text}", 18, style="loud")
    if not steps:
        page.add("nothing", 2)


def _outage(report: ForecastReport, row: OutageForecast) -> str:
    ends = "retired" if row.retired else "back"
    back = f"{ends} {_at(report, row.back_pet)}" if row.back_pet else "not back in any phase"
    since = "before this log" if row.at_start else _at(report, row.from_pet)
    text = f"{row.service:<22} down {since}, {back}, dark {used_h_mm(row.dark_min)}"
    if row.only_at_worst:
        text += ", only if all takes its worst"
    if row.allowed_min is not None:
        margins = [
            f"{words} {left_h_mm(margin)}"
            for words, margin in (("margin", row.margin_min), ("at worst", row.worst_margin_min))
            if margin is not None
        ]
        text += f" of {h_mm(row.allowed_min)} allowed ({row.source}); {', '.join(margins)}"
    if row.reconnect_by_pet is not None:
        by = _at(report, row.reconnect_by_pet)
        text += f"; reconnect no later than {by} ({row.reconnect_by_utc})"
    return text
