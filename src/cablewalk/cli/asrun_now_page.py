"""Where we are, as text."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import PREDICTED, count_line, h_mm, left_h_mm, tell, used_h_mm
from cablewalk.reports.asrun_clock import RunningClock
from cablewalk.reports.asrun_log import EntryRow, LogReport, LogRow
from cablewalk.reports.asrun_now import ImpossibleRow, NowReport
from cablewalk.reports.asrun_people import ActorRow
from cablewalk.reports.fault import FindingRow

IMPOSSIBLE = "CANNOT BE DONE AS PLANNED"
TO_COME = "WHAT THE REST AS PLANNED WILL BRING"


def log_head(page: Page, title: str, report: LogReport) -> None:
    """Add what log it is, as of when, and any damage to it."""
    log = report.log
    page.add(f"{title}  {log.phase} on {on_what(log)}", style="head")
    page.add(
        f"PET {report.now_pet}  {report.now_utc}   {log.events} events   {log.file}   "
        f"head {log.head[:16]}", 2,
    )  # fmt: skip
    for fault in log.damage:
        page.add(f"!! THE LOG IS DAMAGED: {fault} ('cablewalk asrun check')", style="loud")


def on_what(log: LogRow) -> str:
    """Return the baseline a log starts from, with the hardware's own name."""
    return f"{log.baseline} ({log.hardware})" if log.hardware else log.baseline


def late(minutes: float | None) -> str:
    """Return minutes behind the plan in words; empty where nobody knows."""
    if minutes is None:
        return ""
    if abs(minutes) < 0.5:
        return "on time"
    return f"{h_mm(abs(minutes))} {'behind' if minutes > 0 else 'ahead'}"


def entry_line(row: EntryRow) -> str:
    """Return an entry in one line."""
    named = f"{row.step}/{row.action_number}  " if row.action_number else ""
    outcome = f": {row.outcome}" if row.outcome and not row.void else ""
    reason = f" - {row.reason}" if row.reason else ""
    who = f"  [{', '.join(row.actors)}]" if row.actors else ""
    if row.kind == "note" and row.items:
        reason = f" - about {', '.join(row.items)}"
    mark = f"corrects {row.corrects}: " if row.corrects else ""
    if row.void:
        which = "could not be read" if row.kind == "lost" else row.outcome
        mark = f"takes back {row.corrects}, which {which}: "
    why = row.correction_reason
    why = f" ({'because' if row.corrects else 'corrected'}: {why})" if why else ""
    return f"{row.number:<6} {row.pet:>6}  {named}{mark}{row.text}{outcome}{reason}{why}{who}"


def entries(page: Page, title: str, rows: tuple[EntryRow, ...]) -> None:
    """Add a list of entries beneath a heading; nothing where there is none."""
    if rows:
        page.head(title)
        for row in rows:
            page.add(entry_line(row), 2, 16)


def now_page(report: NowReport) -> Page:
    """Return the report as a page."""
    page = Page()
    log_head(page, "NOW", report)
    page.add(f"{report.actions_over} of {report.actions_planned} planned actions over", 2)
    _down(page, report)
    _impossible(page, report)
    if report.to_come:
        page.head(f"{TO_COME}: {count_line(report.to_come)}", style="loud")
    for finding in report.to_come:
        page.add(to_come_line(report, finding), 2, 6, style="loud")
    if report.not_whole:
        page.head("UP, BUT NOT WHOLE OR NOT PROVEN")
        for row in report.not_whole:
            own = [s.string for s in row.strings if s.unproven]
            strings = f"  (to be verified: {' '.join(own)})" if own else ""
            page.add(f"{row.service} ({row.kind}): {row.state}{strings}", 2)
    page.head("WHO, AND WHAT COMES NEXT")
    for actor in report.actors:
        _actor(page, actor, next_trouble(report, actor))
    entries(page, "TRIED, AND NOT DONE", report.unfinished)
    entries(page, "SKIPPED", report.skipped)
    entries(page, "OPEN ITEMS", report.open_items)
    entries(page, "LAST ENTRIES", report.last)
    findings(page, report)
    return page


def findings(page: Page, report: LogReport) -> None:
    """Add the findings of a log in full."""
    page.head(f"FINDINGS: {count_line(report.findings)}")
    for finding in report.findings:
        tell(page, finding, 2)


def errors(page: Page, report: LogReport) -> None:
    """Add the errors in full, where a page tells no findings: why its command fails."""
    rows = [finding for finding in report.findings if finding.severity == "error"]
    if rows:
        page.head(f"FINDINGS: {count_line(rows)}, as 'asrun now' tells", style="loud")
    for finding in rows:
        tell(page, finding, 2)


def down_title(report: NowReport) -> str:
    """Return the heading over the running clocks."""
    return "RECOVERING" if all(row.reconnected for row in report.down) else "DOWN NOW"


def _down(page: Page, report: NowReport) -> None:
    if not report.down:
        page.head("EVERY SERVICE IS UP")
        return
    page.head(down_title(report), style="loud")
    page.add(f"  {'SERVICE':<22} {'DARK':>7} {'SINCE':>8} {'CLOCK':>7} {'LEFT':>7}  RECONNECT BY")
    for row in by_urgency(report.down):
        page.add(
            down_line(row, report.log.baseline),
            2,
            4,
            style="loud" if is_over(row) else "",
        )
        page.field("why", row.why, 6, 4)
    if any(row.in_hand_min is not None for row in report.down):
        page.add(PREDICTED, 2)


def _impossible(page: Page, report: NowReport) -> None:
    if not report.impossible:
        return
    page.head(IMPOSSIBLE, style="loud")
    for row in report.impossible:
        page.add(next_mark(row) + impossible_line(report, row), 2, 6, style="loud")
        page.field("why", row.why, 6, 9)
        page.field("needed", row.expected, 6, 9)
        page.field("way out", row.way_out, 6, 9)
        page.field("so too", ", ".join(row.follows), 6, 9)
    page.add("record what is done instead: 'asrun do STEP/N differently --action …', or skipped", 2)


def next_mark(row: ImpossibleRow) -> str:
    """Return the word and blank that an action which is somebody's next begins with; or nothing."""
    return "NEXT " if row.is_next else ""


def impossible_line(report: NowReport, row: ImpossibleRow) -> str:
    """Return an action that cannot be done as planned in one line."""
    named = f"{row.step}/{row.action_number} {row.text}"
    of = "" if row.phase_number == report.log.phase_number else f" of {row.phase}"
    return f"{named}{of}" + (f"  [{', '.join(row.people)}]" if row.people else "")


def to_come_line(report: NowReport, row: FindingRow) -> str:
    """Return an error to come in one line; 'asrun forecast' tells it whole."""
    later = row.phase_number not in (None, report.log.phase_number)
    of = f" of {row.phase}" if later else ""
    return (
        f"step {row.step}{of}: {row.rule}: {row.found}" if row.step else f"{row.rule}: {row.found}"
    )


def next_trouble(report: NowReport, actor: ActorRow) -> str:
    """Return what is wrong with the next planned action of a person, or nothing.

    Why it cannot be done is told with it where it is told nowhere else.
    """
    if actor.next_done_already:
        return f"DONE ALREADY: {actor.next_done_already}: record it skipped"
    if not actor.next_impossible:
        return ""
    own = (report.log.phase_number, actor.next_step, actor.next_action_number)
    told = own in {(r.phase_number, r.step, r.action_number) for r in report.impossible}
    return IMPOSSIBLE if told else f"{IMPOSSIBLE}: {actor.next_impossible}"


def by_urgency(rows: Iterable[RunningClock]) -> list[RunningClock]:
    """Return running clocks: what is to be reconnected first, then what recovers, then the rest."""
    return sorted(
        rows, key=lambda row: (row.reconnected, row.in_hand_min is None, row.in_hand_min or 0)
    )


def is_over(row: RunningClock) -> bool:
    """Return whether a clock is overrun, or will be as the service counts as back."""
    return row.in_hand_min is not None and row.in_hand_min < 0


def recovers(row: RunningClock) -> str:
    """Return that a service is reconnected and when it counts as back; or nothing."""
    if not row.reconnected:
        return ""
    hand = row.margin_min
    if hand is None:
        return f"reconnected, counts as back at {row.back_pet}"
    margin = f"{left_h_mm(hand)} in hand" if hand >= 0 else f"{used_h_mm(-hand)} too late"
    return f"reconnected, counts as back at {row.back_pet}: {margin}"


def not_begun(row: RunningClock) -> str:
    """Return that the clock of a service that is down does not run yet, and from when; or nothing.

    Only one that starts at the demate waits for anything.
    """
    waits = not row.reconnected and row.outage.clock_min is not None
    return "its clock runs from the demate" if waits and row.left_min is None else ""


def down_line(row: RunningClock, baseline: str) -> str:
    """Return a service that is down in one line, its clock as it runs."""
    out = row.outage
    clock = "" if out.clock_min is None else h_mm(out.clock_min)
    left = "" if row.in_hand_min is None else left_h_mm(row.in_hand_min)
    by = f"{row.reconnect_by_pet} ({row.reconnect_by_utc})" if row.reconnect_by_utc else ""
    by = recovers(row) or by or not_begun(row)
    since = "before" if row.since_before else out.from_pet.pet
    line = f"{out.service:<22} {used_h_mm(row.dark_min):>7} {since:>8} {clock:>7} {left:>7}  {by}"
    if row.since_before:
        line += f"  {dark_already(row, baseline)}"
    return line.rstrip()


def dark_already(row: RunningClock, baseline: str) -> str:
    """Return for how many hours a service is dark that was so in the baseline already."""
    return f"{row.dark_min / 60:.1f} h, dark already in {baseline}"


def _actor(page: Page, actor: ActorRow, trouble: str) -> None:
    roles = f" ({', '.join(actor.roles)})" if actor.roles else ""
    place = f"at {actor.place}" if actor.place else "at no place of the work"
    holds = f", holds {' '.join(actor.holds)}" if actor.holds else ""
    behind = late(actor.behind_min)
    page.add(f"{actor.person}{roles}  {place}{holds}{'  ' + behind if behind else ''}", 2,
             style="head")  # fmt: skip
    if actor.last_number:
        page.field("last", f"{actor.last_pet}  {actor.last_text}", 6, 7)
    if actor.next_step is None:
        page.field("next", "nothing is left of the plan", 6, 7)
        return
    waits = f"  - waits for {', '.join(actor.waits_for)}" if actor.waits_for else ""
    planned = f" (planned {actor.next_planned_pet})" if actor.next_planned_pet else ""
    mark = f"  - {trouble}" if trouble else ""
    page.field(
        "next",
        f"{actor.next_step}/{actor.next_action_number} {actor.next_text}{planned}{waits}{mark}",
        6,
        7,
        "loud" if trouble else "",
    )
    page.field("say", actor.next_say, 6, 7)
    for caution in actor.next_cautions:
        page.field("CAUTION", caution, 6, 9)
