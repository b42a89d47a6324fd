"""Texts that several reports share: what was replayed, moments, reasons, findings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cablewalk.cli.page import Page, Style
from cablewalk.reports.base import Pet
from cablewalk.reports.cause import ReasonRow
from cablewalk.reports.fault import FindingRow
from cablewalk.reports.heading import Report
from cablewalk.units import clock, clock_down, clock_up, seconds

PREDICTED = (
    "Times are predictions from the procedures' estimates (likely minutes). "
    "The certified procedure and the flight rules decide."
)


def h_mm(minutes: float) -> str:
    """Return minutes as H:MM."""
    return clock(seconds(minutes))


def used_h_mm(minutes: float) -> str:
    """Return minutes used as H:MM, rounded up."""
    return clock_up(seconds(minutes))


def left_h_mm(minutes: float) -> str:
    """Return minutes left as H:MM, rounded down."""
    return clock_down(seconds(minutes))


def celsius(value: float | None) -> str:
    """Return a temperature to a tenth, or a dash."""
    return "-" if value is None else f"{value:.1f}"


class Moments:
    """Writes moments: ``P2 0:12`` where there are several phases, ``0:12`` where there is one."""

    def __init__(self, report: Report) -> None:
        self.several = len(report.phases) > 1

    def phase(self, pet: Pet) -> str:
        """Return the short name of a moment's phase and a blank; empty where there is but one."""
        return f"P{pet.phase_number} " if self.several else ""

    def at(self, pet: Pet | None, never: str = "never") -> str:
        """Return a moment, or the word for none."""
        return never if pet is None else f"{self.phase(pet)}{pet.pet}"


def opening(page: Page, title: str, report: Report) -> None:
    """Add what was replayed: the baseline and its phases."""
    base = report.baseline
    page.add(f"{title} {base.id}{': ' if base.title else ''}{base.title}", style="head")
    several = len(report.phases) > 1
    wide = max(len(phase.procedure) for phase in report.phases)
    for phase in report.phases:
        times = f"PET {phase.start_pet.pet} → {phase.end_pet.pet}"
        number = f"P{phase.number}  " if several else ""
        gap = "" if phase.gap_min is None else f", {h_mm(phase.gap_min)} after the phase before"
        page.add(
            f"{number}{phase.procedure:<{wide}}  {times:<20} {h_mm(phase.length_min)} long{gap}"
            f"  {report.procedures[phase.number - 1].title}",
            2,
            4,
        )
    for ahead in report.get_aheads:
        if ahead.entered:
            page.add(f"get-ahead {ahead.id} of {ahead.phase} is in: {ahead.title}", 2)
    if report.stopped:
        page.blank()
        page.add(
            "!! STOPPED at an action that is not possible; what comes after it is not known "
            "(--keep-going skips it)",
            style="loud",
        )
        missing = [procedure.id for procedure in report.procedures[len(report.phases) :]]
        if missing:
            page.add(f"!! NOT REPLAYED: {', '.join(missing)}", style="loud")


def chain(reason: ReasonRow) -> str:
    """Return a reason in one line, from the step to the line."""

    def named(name: str, label: str) -> str:
        return f"{name} ({label})" if label and label != name else name

    parts = (
        reason.step,
        f"{reason.verb.replace('_', ' ')} {named(reason.item, reason.item_label)}".strip(),
        named(reason.harness, reason.harness_label),
        reason.line,
    )
    return " → ".join(part for part in parts if part)


def place(finding: FindingRow) -> str:
    """Return ``file:line`` of a finding."""
    return finding.file if finding.line is None else f"{finding.file}:{finding.line}"


def count_line(findings: Sequence[FindingRow]) -> str:
    """Return how many findings there are of each severity."""
    parts = []
    for severity in ("error", "warning", "note"):
        number = sum(finding.severity == severity for finding in findings)
        if number:
            parts.append(f"{number} {severity}{'s' * (number != 1)}")
    return ", ".join(parts) or "none"


def tell(page: Page, finding: FindingRow, indent: int) -> None:
    """Add a finding with all its parts."""
    style: Style = "loud" if finding.severity == "error" else ""
    step = f", step {finding.step}" if finding.step else ""
    page.add(
        f"{finding.severity.upper()} {finding.rule}  {place(finding)}{step}", indent, style=style
    )
    page.add(finding.found, indent + 4)
    for name, text in (
        ("expected", finding.expected),
        ("difference", finding.difference),
        ("way out", finding.way_out),
        ("source", finding.source),
    ):
        page.field(name, text, indent + 4, 12)


def tell_all(page: Page, findings: Iterable[FindingRow]) -> None:
    """Add findings in full; what follows from a skipped step stands beneath its first finding."""
    rows = list(findings)
    page.head(f"FINDINGS: {count_line(rows)}")
    told: set[int] = set()
    causes = {finding.step for finding in rows if _skips(finding)}
    for n, finding in enumerate(rows):
        if finding.because_of in causes:
            continue
        tell(page, finding, 2)
        if not _skips(finding):
            continue
        beneath = [
            k
            for k, other in enumerate(rows)
            if k > n and k not in told and other.because_of == finding.step
        ]
        told.update(beneath)
        tell_beneath(page, [rows[k] for k in beneath], 6)


def _skips(finding: FindingRow) -> bool:
    """Whether a finding tells of a step that could not be done, and not because of another."""
    return finding.rule == "refused" and finding.because_of is None


def tell_beneath(page: Page, findings: Sequence[FindingRow], indent: int) -> None:
    """Add the consequences of a step that could not be done, a line each."""
    if findings:
        page.add("and what follows from it:", indent)
    for finding in findings:
        step = f"step {finding.step}: " if finding.step else ""
        page.add(f"- {step}{finding.rule}: {finding.found}  ({place(finding)})", indent)
