"""The live view of a log, made for a screen of any size that is read from across the room."""

from __future__ import annotations

from cablewalk.cli.asrun_now_page import (
    IMPOSSIBLE,
    TO_COME,
    by_urgency,
    dark_already,
    down_title,
    entry_line,
    impossible_line,
    is_over,
    late,
    next_mark,
    next_trouble,
    not_begun,
    recovers,
    to_come_line,
)
from cablewalk.cli.page import Row, Style
from cablewalk.cli.phrases import count_line, h_mm, left_h_mm, used_h_mm
from cablewalk.reports.asrun_clock import RunningClock
from cablewalk.reports.asrun_now import NowReport
from cablewalk.reports.asrun_people import ActorRow
from cablewalk.sheets.cell import clipped, inert, width, wrapped

NARROWEST = 20
DAY_MIN = 24 * 60
LINES_A_TEXT = 4
"""Lines a text may take before it is cut: 'cablewalk asrun now' tells it whole."""


class Wall:
    """Lines no wider than a screen; what a user wrote is made harmless."""

    def __init__(self, columns: int) -> None:
        # The last column stays empty: some terminals go to the next line once it is written.
        self.columns = max(NARROWEST, columns) - 1
        self.rows: list[Row] = []

    def add(self, text: str, indent: int = 0, hang: int = 2, style: Style = "") -> None:
        """Add text; the lines after the first stand ``hang`` columns further in."""
        room = self.columns - indent
        text = inert(text).strip()
        lines = [text] if width(text) <= room else wrapped(text, room - hang, LINES_A_TEXT)
        for n, line in enumerate(lines):
            self.rows.append(Row(" " * (indent + hang * (n > 0)) + line, style))

    def line(self, text: str, style: Style = "") -> None:
        """Add one line, cut where it is too wide."""
        self.rows.append(Row(clipped(inert(text), self.columns), style))

    def head(self, text: str, style: Style = "head") -> None:
        """Add a heading, with an empty line before it."""
        self.rows.append(Row("", ""))
        self.line(text, style)


def wall_rows(report: NowReport, columns: int, lines: int, trouble: str = "") -> list[Row]:
    """Return the screen: what is most urgent first, and what has no room is said to be left off.

    Args:
        report: how everything stands.
        columns, lines: the size of the screen.
        trouble: why the log could not be read anew; empty: it was.
    """
    wall = Wall(columns)
    log = report.log
    wall.line(f"PET {report.now_pet}   {report.now_utc}   {log.phase} on {log.baseline}", "head")
    wall.line(
        f"{report.actions_over} of {report.actions_planned} planned actions over   "
        f"{log.events} events   {log.file}"
    )
    if trouble:
        wall.add(f"!! OLD: {trouble}", style="loud")
    for fault in log.damage:
        wall.add(f"!! THE LOG IS DAMAGED: {fault}", style="loud")
    _down(wall, report)
    if report.impossible:
        wall.head(f"{IMPOSSIBLE}: {len(report.impossible)}", "loud")
    for action in report.impossible:
        line = f"{next_mark(action)}{impossible_line(report, action)}: {action.why}"
        wall.add(line, 2, 4, style="loud")
        wall.add(action.way_out, 4)
    _to_come(wall, report)
    wall.head("WHO, AND WHAT COMES NEXT")
    for actor in report.actors:
        _actor(wall, actor, next_trouble(report, actor))
    errors = [f for f in report.findings if f.severity == "error"]
    if errors:
        wall.head(f"ERRORS: {len(errors)}", "loud")
        for finding in reversed(errors):
            wall.add(f"{finding.rule}: {finding.found}", 2, style="loud")
    if report.not_whole:
        wall.head("UP, BUT NOT WHOLE OR NOT PROVEN")
        wall.add("; ".join(f"{row.service} {row.state}" for row in report.not_whole), 2, 0)
    for title, entries in (
        ("TRIED, AND NOT DONE", report.unfinished),
        ("SKIPPED", report.skipped),
        ("OPEN ITEMS", report.open_items),
        ("LAST ENTRIES", tuple(reversed(report.last))),
    ):
        if entries:
            wall.head(title)
        for row in entries:
            wall.add(entry_line(row), 2)
    return _fitting(wall, lines)


def _to_come(wall: Wall, report: NowReport) -> None:
    """Add the errors to come, those of one step and rule as one: the first, and how many more."""
    if report.to_come:
        wall.head(f"{TO_COME}: {count_line(report.to_come)}", "loud")
    alike: dict[tuple[str | None, str], list[str]] = {}
    for finding in report.to_come:
        alike.setdefault((finding.step, finding.rule), []).append(to_come_line(report, finding))
    for first, *more in alike.values():
        wall.add(first + (f" (and {len(more)} more)" if more else ""), 2, 4, style="loud")


def _fitting(wall: Wall, lines: int) -> list[Row]:
    """Return as many lines as there is room for; the last line of the screen stays empty."""
    room = max(2, lines - 1)
    if len(wall.rows) <= room:
        return wall.rows
    rows = [row for row in wall.rows if row.text]
    left_off = len(rows) - room + 1
    if left_off <= 1:
        return rows
    told = clipped(f"... {left_off} more lines: enlarge the window, or 'asrun now'", wall.columns)
    return [*rows[: room - 1], Row(told, "head")]


def _down(wall: Wall, report: NowReport) -> None:
    if not report.down:
        wall.head("EVERY SERVICE IS UP")
        return
    wall.head(f"{down_title(report)}: {len(report.down)}", "loud")
    rows = by_urgency(report.down)
    wide = max(width(row.outage.service) for row in rows)
    for row in rows:
        style: Style = "loud" if is_over(row) else ""
        for text in _clock(row, wide, wall.columns - 2, report.log.baseline):
            wall.line(f"  {text}", style)


def _clock(row: RunningClock, wide: int, room: int, baseline: str) -> list[str]:
    """Return a running clock: one line where there is room for it, else several."""
    out = row.outage
    parts = [text for text in (recovers(row), not_begun(row)) if text]
    if row.left_min is not None:
        parts.append(f"left {left_h_mm(row.left_min)}")
    if row.reconnect_by_utc is not None:
        near = abs(row.left_min or 0) < DAY_MIN
        utc = f"{row.reconnect_by_utc[11:16]}Z" if near else row.reconnect_by_utc
        parts.append(f"reconnect no later than PET {row.reconnect_by_pet} ({utc})")
    allowed = "" if out.clock_min is None else f" of {h_mm(out.clock_min)}"
    parts.append(f"dark {used_h_mm(row.dark_min)}{allowed}")
    if row.since_before:
        parts.append(dark_already(row, baseline))
    if not row.reconnected and row.why:
        parts.append(row.why)
    state = "OVER" if is_over(row) else "WAIT" if row.reconnected else "DOWN"
    one = f"{state} {out.service:<{wide}}  {'  '.join(parts)}"
    if width(one) <= room:
        return [one]
    lines = [f"{state} {out.service}"]
    for part in parts:
        if width(lines[-1]) + 2 + width(part) <= room:
            lines[-1] += f"  {part}"
        else:
            lines.append(f"     {part}")
    return lines


def _actor(wall: Wall, actor: ActorRow, trouble: str) -> None:
    roles = f" ({', '.join(actor.roles)})" if actor.roles else ""
    parts = [f"{actor.person}{roles}", f"at {actor.place}" if actor.place else ""]
    parts.append(f"holds {' '.join(actor.holds)}" if actor.holds else "")
    parts.append(late(actor.behind_min))
    wall.add("  ".join(part for part in parts if part), 2, style="head")
    if actor.next_step is None:
        wall.add("nothing is left of the plan", 4)
        return
    planned = f" (planned {actor.next_planned_pet})" if actor.next_planned_pet else ""
    waits = f" - waits for {', '.join(actor.waits_for)}" if actor.waits_for else ""
    mark = f" - {trouble}" if trouble else ""
    named = f"{actor.next_step}/{actor.next_action_number} {actor.next_text}"
    wall.add(f"next {named}{planned}{waits}{mark}", 4, 5, "loud" if trouble else "")
