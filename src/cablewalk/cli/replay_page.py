"""The replay as text: step by step, what was done and what it did."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cablewalk.cli.page import Page, Style
from cablewalk.cli.phrases import (
    Moments,
    chain,
    count_line,
    h_mm,
    opening,
    place,
    tell,
    tell_beneath,
)
from cablewalk.reports.fault import FindingRow
from cablewalk.reports.replay import ReplayReport
from cablewalk.reports.standing import ServiceRow, ShiftRow
from cablewalk.reports.step import ActionRow, StepRow

_INDENT: Final = 8
_TAG_WIDE: Final = 10


def replay_page(report: ReplayReport) -> Page:
    """Return the report as a page."""
    page = Page()
    opening(page, "REPLAY of", report)
    _steps(page, report)
    _summary(page, report)
    _services(page, report.services_at_start, report.services_at_end)
    _findings(page, report)
    return page


def _steps(page: Page, report: ReplayReport) -> None:
    beneath = _consequences(report)
    for phase in report.phases:
        page.head(f"==== {phase.procedure} ====")
        unreached = []
        for n, step in enumerate(report.steps):
            if step.phase_number != phase.number:
                continue
            if step.actions and all(a.outcome == "not reached" for a in step.actions):
                unreached.append(step.id)
                continue
            own = [report.findings[k] for k in step.findings]
            told = [finding for finding in own if finding.because_of is None]
            _step(page, step, phase.roles, told, beneath.get(n, []))
        if unreached:
            page.blank()
            page.add(f"not reached: {', '.join(unreached)}", style="loud")
        left = [a.id for a in report.get_aheads if a.phase == phase.procedure and not a.entered]
        if left:
            page.blank()
            page.add(
                f"get-aheads not in it: {', '.join(left)} (--get-aheads N lets in the first N "
                "whose conditions hold)"
            )


def _consequences(report: ReplayReport) -> dict[int, list[FindingRow]]:
    """Return step position to what follows from it being skipped, each finding once."""
    refused = [
        n
        for n, step in enumerate(report.steps)
        if any(action.outcome == "not possible" for action in step.actions)
    ]
    found: dict[int, list[FindingRow]] = {}
    for finding in report.findings:
        if finding.because_of is None:
            continue
        causes = [
            n
            for n in refused
            if report.steps[n].id == finding.because_of
            and report.steps[n].phase_number <= (finding.phase_number or 0)
        ]
        if causes:
            found.setdefault(causes[-1], []).append(finding)
    return found


def _who(step: StepRow, roles: dict[str, str]) -> str:
    named = [f"{name} ({roles[name]})" if name in roles else name for name in step.by]
    shown = {roles.get(name, name) for name in step.by}
    return ", ".join([*named, *(person for person in step.people if person not in shown)])


def _step(
    page: Page,
    step: StepRow,
    roles: dict[str, str],
    findings: Sequence[FindingRow],
    beneath: Sequence[FindingRow],
) -> None:
    ahead = f"  [get-ahead {step.get_ahead}]" if step.get_ahead else ""
    times = f"{step.begin_pet.pet} → {step.end_pet.pet}"
    page.head(f"{times:<16} {step.id}  {_who(step, roles)}{ahead}")
    page.field("say", step.say, 4, 9)
    page.field("see", step.indication, 4, 9)
    for caution in step.cautions:
        page.field("CAUTION", caution, 4, 9)
    for action in step.actions:
        _action(page, step, action)
    for finding in findings:
        tell(page, finding, _INDENT)
    tell_beneath(page, beneath, _INDENT + 4)


def _action(page: Page, step: StepRow, action: ActionRow) -> None:
    own = "" if action.people == step.people else f"   [{', '.join(action.people)}]"
    page.field(f"{action.begin_pet.pet:>6}", f"{action.text}{own}", 2, 8)
    if action.outcome == "not possible":
        after = f" (follows from step {action.because_of})" if action.because_of else ""
        page.add(f"NOT POSSIBLE{after}: {action.refusal}", _INDENT + 4, style="loud")
    elif action.outcome != "done":
        page.add(action.outcome.upper(), _INDENT + 4, style="loud")
    if action.changes:
        each = (f"{c.item}: {c.before} → {c.after}" for c in action.changes)
        page.add("; ".join(each), _INDENT + 4)
    for shift in action.shifts:
        _shift(page, shift)


def _shift(page: Page, shift: ShiftRow) -> None:
    style: Style = "head" if shift.tag == "LOST" else ""
    text = f"{shift.service} ({shift.kind}) at {shift.at_pet.pet}: {shift.before} → {shift.after}"
    if shift.strings_before != shift.strings_after and shift.tag in ("REDUCED", "FULL", "SWAP"):
        before, after = " ".join(shift.strings_before), " ".join(shift.strings_after)
        text += f"; strings up: {before or 'none'} → {after or 'none'}"
    if shift.tag == "LOST":
        text += f"; because {'; '.join(chain(reason) for reason in shift.reasons)}"
    if shift.recovery_min:
        text += f"; counts as back {h_mm(shift.recovery_min)} later"
    if not shift.planned:
        text, style = f"!! NOT PLANNED !! {text}", "loud"
    page.field(shift.tag, text, _INDENT + 4, _TAG_WIDE, style)


def _summary(page: Page, report: ReplayReport) -> None:
    actions = [action for step in report.steps for action in step.actions]
    outcomes = [
        f"{number} {word}"
        for word in ("done", "begun", "not possible", "not reached")
        if (number := sum(action.outcome == word for action in actions))
    ]
    losses = [s for action in actions for s in action.shifts if s.tag == "LOST"]
    unplanned = sum(not shift.planned for shift in losses)
    page.head("SUMMARY")
    page.field("steps", str(len(report.steps)), 2, 10)
    page.field("actions", ", ".join(outcomes) or "none", 2, 10)
    lost = f"{len(losses)} times lost, {unplanned} of them not planned"
    page.field("services", lost if losses else "none lost", 2, 10, "loud" if unplanned else "")
    page.field("findings", count_line(report.findings), 2, 10)
    if report.stopped:
        page.field("STOPPED", Moments(report).at(report.phases[-1].end_pet), 2, 10, "loud")


def _services(page: Page, start: Sequence[ServiceRow], end: Sequence[ServiceRow]) -> None:
    if not end:
        return
    page.head("SERVICES AT THE END")
    wide = max(len(row.service) for row in end)
    kinds = max(len(row.kind) for row in end)
    for before, row in zip(start, end, strict=True):
        mark = "" if before.state == row.state else f"   (at the start: {before.state})"
        strings = ""
        if len(row.strings) > 1:
            strings = "   " + ", ".join(f"{s.string} {s.standing}" for s in row.strings)
        style: Style = "loud" if row.state == "down" else ""
        text = f"{row.service:<{wide}}  {row.kind:<{kinds}}  {row.state}{strings}{mark}"
        page.add(text, 2, 4, style)


def _findings(page: Page, report: ReplayReport) -> None:
    """Add each finding in a line; those that stand beneath no step in full."""
    page.head(f"FINDINGS: {count_line(report.findings)}")
    shown = {n for step in report.steps for n in step.findings}
    for n, finding in enumerate(report.findings):
        if n not in shown:
            tell(page, finding, 2)
            continue
        after = f" (follows from step {finding.because_of})" if finding.because_of else ""
        page.add(
            f"{place(finding)}: {finding.severity}: {finding.rule}: step {finding.step}: "
            f"{finding.found}{after}",
            2,
            4,
        )
