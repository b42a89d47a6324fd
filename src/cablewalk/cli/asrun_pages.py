"""Comparison, connector log and hand-over as text."""

from __future__ import annotations

from cablewalk.cli.asrun_now_page import entries, errors, findings, log_head
from cablewalk.cli.page import Page
from cablewalk.cli.phrases import h_mm
from cablewalk.reports.asrun_compare import CompareReport
from cablewalk.reports.asrun_connectors import ConnectorReport
from cablewalk.reports.asrun_handover import HandoverReport


def compare_page(report: CompareReport) -> Page:
    """Return the comparison as a page."""
    page = Page()
    log_head(page, "AS RUN AGAINST PLAN", report)
    page.add(", ".join(f"{n} {word}" for word, n in report.outcomes.items()), 2)
    page.head(f"{'PLANNED':>15} {'AS RUN':>16} {'LATE':>7}  ACTION")
    for row in report.actions:
        planned = f"{row.planned_begin_pet or ''} → {row.planned_end_pet or ''}"
        done = "" if row.begin_pet is None else f"{row.begin_pet} → {row.end_pet}"
        by = "~" if row.begin_assumed else " "
        late_by = "" if row.late_min is None else h_mm(row.late_min)
        page.add(
            f"{planned:>15} {by}{done:>15} {late_by:>7}  {row.step}/{row.action_number} "
            f"{row.planned_text}{'' if row.outcome == 'done' else ': ' + row.outcome}", 0, 42,
        )  # fmt: skip
        if row.done_text:
            page.add(f"instead: {row.done_text}", 42)
        for text in row.deviations:
            page.add(text, 42, style="head")
    entries(page, "NOT IN THE PLAN", report.unplanned)
    entries(page, "CORRECTIONS", report.corrections)
    errors(page, report)
    page.blank()
    page.add("~ nobody said when it began: as early as estimates and log allow")
    return page


def connector_page(report: ConnectorReport) -> Page:
    """Return the connector log as a page."""
    page = Page()
    log_head(page, "CONNECTOR LOG", report)
    if not report.halves:
        page.head("Nothing was mated or demated.")
    for half in report.halves:
        label = f" ({half.label})" if half.label and half.label != half.half else ""
        limit = "nobody gives a limit" if half.limit is None else (
            f"limit {half.limit} ({half.source}), {half.left} left"
        )  # fmt: skip
        over = half.left is not None and half.left < 0
        page.head(
            f"{half.half}{label}: {half.mates} mates in all ({half.mates_at_start} before), "
            f"{half.demates} demates here; {limit}",
            style="loud" if over else "head",
        )
        for row in report.entries:
            if row.half != half.half:
                continue
            parts = [
                f"{row.number:<6} {row.utc} PET {row.pet:>6}  {row.step:<8} {row.did:<7}"
                f" {row.mate:<10} {row.outcome}; {row.state}; mates {row.mates}",
                f"by {', '.join(row.by) or 'nobody named'}",
                f"witness {row.witness or '-'}",
                f"lock {row.lock_verified or '-'}",
                f"cap {row.cap_fitted or '-'}",
                f"inspection {row.inspection or '-'}",
            ]
            page.add("; ".join(parts + ([row.reason] if row.reason else [])), 2, 8)
    errors(page, report)
    return page


def handover_page(report: HandoverReport) -> Page:
    """Return the hand-over as a page."""
    page = Page()
    log_head(page, "HAND-OVER", report)
    page.add(f"as left {report.left_utc}; head of the log {report.log.head}", 2)
    if report.dark:
        page.head("DARK AS LEFT", style="loud")
    for dark in report.dark:
        by = f", lost by {dark.lost_by}" if dark.lost_by else ", down before this log"
        page.add(
            f"{dark.service}: {h_mm(dark.dark_min)} up to {report.dark_until_utc}, since "
            f"{dark.since_utc}{by}", 2,
        )  # fmt: skip
        if dark.seen_only:
            page.add(
                "found down, or still recovering, though its joins have it up: the next log holds "
                "it down from its start, until it is found up or verified", 4,
            )  # fmt: skip
        if dark.found_down:
            page.add(
                "found down, and down by its joins too: the next log holds it down, reconnected "
                "or not, until it is found up or verified", 4,
            )  # fmt: skip
    if report.upheld:
        page.head("UP AS SEEN, DOWN BY ITS JOINS: WHICH JOIN IS TO BE FOUND", style="loud")
    for up in report.upheld:
        by = f"found up ({up.seen})" if up.seen else f"up by {', '.join(up.needs)}"
        page.add(
            f"{up.service}: {by}; by its joins: {up.why_down}. The baseline as left can only have "
            "it down; its clock does not run until the next phase begins", 2, 4,
        )  # fmt: skip
    entries(page, "OPEN ITEMS", report.open_items)
    entries(page, "TRIED, AND NOT DONE", report.unfinished)
    entries(page, "SKIPPED", report.skipped)
    entries(page, "FOUND OTHERWISE", report.found)
    if report.not_done:
        page.head(f"NEVER RECORDED: {len(report.not_done)} planned actions")
        page.add(" ".join(report.not_done), 2)
    if report.bare:
        page.head("LEFT WITHOUT A CAP")
    for bare in report.bare:
        label = f" ({bare.label})" if bare.label and bare.label != bare.half else ""
        why = f", its cap was skipped ({bare.skipped})" if bare.skipped else ""
        page.add(f"{bare.half}{label}: {bare.state}{why}", 2)
    if report.unlocked:
        page.head("LOCK NOT VERIFIED")
        page.add("; ".join(report.unlocked), 2)
    if not report.retest:
        page.head("NOTHING IS OWED A TEST")
    for title, not_back in (("TO BE TESTED", False), ("TO BE TESTED ONCE BACK", True)):
        tests = [test for test in report.retest if test.not_back is not_back]
        if tests:
            page.head(title)
        for test in tests:
            by = f"; disturbed by {', '.join(test.disturbed_by)}" if test.disturbed_by else ""
            page.add(f"{test.service} ({test.state}): strings {' '.join(test.strings)}{by}", 2)
    if report.actual_minutes:
        page.head("MINUTES REALLY TAKEN, of actions whose beginning was told")
        page.add(f"{'KIND':<14} {'N':>3} {'LEAST':>7} {'MEDIAN':>7} {'MOST':>7} {'PLANNED':>8}", 2)
    for row in report.actual_minutes:
        page.add(
            f"{row.verb:<14} {row.count:>3} {row.least_min:>7.1f} {row.median_min:>7.1f} "
            f"{row.most_min:>7.1f} {row.planned_min:>8.1f}", 2,
        )  # fmt: skip
    if report.without_begin:
        page.add(
            f"{report.without_begin} actions done count in no minutes: nobody said when they began "
            "(--began, --took)", 2,
        )  # fmt: skip
    if report.told_as_one:
        page.add(
            f"{report.told_as_one} actions done count in no minutes: it was said how long they "
            "took together, not each", 2,
        )  # fmt: skip
    findings(page, report)
    return page
