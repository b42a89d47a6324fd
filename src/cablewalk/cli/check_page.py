"""The page of ``cablewalk check``, and that of ``--explain``."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.checks.explain import explanation
from cablewalk.checks.rule import Rule
from cablewalk.cli.page import Page, Style
from cablewalk.cli.phrases import count_line, place, tell_beneath
from cablewalk.cli.spread_gaps import add_missing_limits
from cablewalk.reports.checked import CheckReport
from cablewalk.reports.fault import FindingRow

_HEADS = {"error": "ERRORS", "warning": "WARNINGS", "note": "NOTES"}


def check_page(report: CheckReport) -> Page:
    """Return findings by severity and step, what follows from a skipped step beneath it."""
    page = Page()
    base = report.baseline
    page.add(f"CHECK of {base.id}{': ' if base.title else ''}{base.title}", style="head")
    for phase in report.phases:
        page.add(f"{phase.procedure}  PET {phase.start_pet.pet} → {phase.end_pet.pet}", 2)
    standing = [f for f in report.findings if not _beneath(f, report.findings)]
    for severity, head in _HEADS.items():
        rows = [f for f in standing if f.severity == severity]
        count = sum(f.severity == severity for f in report.findings)
        if count:
            under = count - len(rows)
            more = f" ({under} of them beneath the skipped step they follow from)" if under else ""
            page.head(f"{head}: {count}{more}", "loud" if severity == "error" else "head")
            _by_step(page, rows, report.findings)
    if report.waived:
        page.head(f"WAIVED: {len(report.waived)}")
        for one in report.waived:
            page.add(f"{one.finding.rule} for {one.scope}: {one.finding.found}", 2, 4)
            page.field("reason", one.reason, 6, 12)
            page.field("authority", one.authority, 6, 12)
    exposed = [t for t in report.touches if t.could_reach]
    if exposed:
        page.head("MATES AND DEMATES THAT POWER COULD REACH")
        for touch in exposed:
            where = f"{touch.begins.pet:>6}  {touch.step}  {touch.verb.replace('_', ' ')}"
            page.add(f"{where} {' / '.join(touch.halves)}: {', '.join(touch.could_reach)}", 2, 8)
            stated = ", ".join(touch.inhibits) or "none stated"
            page.field(
                "inhibit", f"{stated}{f': {touch.verdict}' if touch.inhibits else ''}", 10, 10
            )
            if touch.left_alive or touch.no_switch:
                page.field("proposed", touch.proposed, 10, 10)
            if touch.no_switch:
                page.field("beware", f"no switch stops {', '.join(touch.no_switch)}", 10, 10)
    page.head(f"FINDINGS: {count_line(report.findings)}{_waived_count(report)}")
    if report.findings:
        page.add("'cablewalk check --explain RULE' tells what a rule is for.", 2)
    if report.phases:
        page.add(_held_against(report), 2)
        add_missing_limits(page, report.limits_not_judged, 2)
    page.add("The certified procedure and the flight rules decide.", 2)
    return page


def _held_against(report: CheckReport) -> str:
    """Return what clocks and phase limits were held against."""
    what = "Clocks and phase limits" if report.limits_judged else "Clocks"
    if report.runs is None:
        return f"{what}: by likely minutes only ({report.not_sampled})."
    return f"{what}: by likely minutes and {report.runs:,} samples."


def _waived_count(report: CheckReport) -> str:
    return f"; {len(report.waived)} waived" if report.waived else ""


def _beneath(finding: FindingRow, every: Sequence[FindingRow]) -> bool:
    """Whether a finding is told beneath the skipped step it follows from."""
    return finding.because_of is not None and any(
        f.rule == "refused" and f.because_of is None and f.step == finding.because_of for f in every
    )


def _by_step(page: Page, rows: Sequence[FindingRow], every: Sequence[FindingRow]) -> None:
    told: set[tuple[str | None, str | None]] = set()
    for row in rows:
        key = (row.phase, row.step)
        if key in told:
            continue
        told.add(key)
        page.blank()
        where = "the documents" if row.step is None else f"step {row.step}"
        page.add(f"{where}{f' of {row.phase}' if row.phase else ''}", 2, style="head")
        for one in rows:
            if (one.phase, one.step) == key:
                _tell(page, one, 4)
                if one.rule == "refused":
                    follows = [f for f in every if f.because_of == one.step and f is not one]
                    tell_beneath(page, follows, 8)


def _tell(page: Page, finding: FindingRow, indent: int) -> None:
    style: Style = "loud" if finding.severity == "error" else ""
    page.add(f"{finding.rule}  {place(finding)}", indent, style=style)
    for name, text in (
        ("found", finding.found),
        ("expected", finding.expected),
        ("difference", finding.difference),
        ("way out", finding.way_out),
        ("source", finding.source),
    ):
        page.field(name, text, indent + 4, 12)


def explain_page(rule: Rule) -> Page:
    """Return what a rule is for, and how to satisfy or waive it."""
    page = Page()
    page.add(f"{rule.id}: {rule.title}", style="head")
    for name, text in explanation(rule):
        page.field(name, text, 2, 12)
    for name, text in (("fires on", rule.fires), ("silent on", rule.silent)):
        if text.strip():
            page.blank()
            page.add(f"{name}, laid over the example of the registry:", 2)
            for line in text.strip().splitlines():
                page.add(line.strip(), 4 + len(line) - len(line.lstrip()))
    return page
