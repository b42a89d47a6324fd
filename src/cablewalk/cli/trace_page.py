"""An answer as text: where it goes, who rides on it, what losing it would do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import Moments, count_line, place
from cablewalk.reports.asked import (
    LossRow,
    MatchRow,
    RiderRow,
    ServiceLossRow,
    SharedRow,
    StopRow,
    TraceReport,
    WayRow,
)

MATCHES_HERE: Final = 40
MATCHES_ELSEWHERE: Final = 12
"""Fitting halves that the page names; the JSON has all."""

_ASKABLE_MATES: Final = frozenset({"half", "leg", "contact"})


def trace_page(report: TraceReport) -> Page:
    """Return the report as a page."""
    page = Page()
    _opening(page, report)
    _ways(page, report)
    _riders(page, report)
    if report.would_lose is not None:
        _loss(page, report.would_lose)
    _shared(page, report)
    if report.asked.kind in _ASKABLE_MATES:
        _matches(page, report)
    if report.findings:
        page.head(f"FINDINGS: {count_line(report.findings)}")
    for finding in report.findings:
        if finding.severity != "note":
            text = f"{finding.severity} {finding.rule}: {finding.found}  ({place(finding)})"
            page.add(text, 2, style="loud" if finding.severity == "error" else "")
    return page


def _opening(page: Page, report: TraceReport) -> None:
    asked, base = report.asked, report.baseline
    named = f"{asked.of}, {asked.kind}"
    if asked.item and asked.item != asked.of:
        named += f" of {asked.item}"
    page.add(f"TRACE of {named}{f'  {asked.label}' if asked.label else ''}", style="head")
    if report.at_step is None:
        page.add(f"on {base.id}, as the baseline has it", 2)
    else:
        at = report.at_step
        moment = Moments(report).at(at.at_pet)
        page.add(f"on {base.id}, when step {at.step} of {at.phase} is over, PET {moment}", 2)
    page.field("stands", asked.state, 2, 10)
    page.field("why", asked.why, 2, 10)
    page.field("place", asked.place or "", 2, 10)
    page.field("look", asked.where, 2, 10)
    if report.under_way:
        page.add(
            f"being worked on by others at that moment, so doubtful: {', '.join(report.under_way)}",
            2,
            style="loud",
        )
    if report.stopped:
        page.add("!! the replay stopped later, at an action that is not possible", 2, style="loud")


# -- ways -----------------------------------------------------------------------------


def _ways(page: Page, report: TraceReport) -> None:
    if not report.way or report.asked.kind in ("service", "string"):
        return  # of a string the page tells its lines instead
    page.head("WHERE IT GOES")
    whole = report.asked.kind in ("contact", "terminal")
    wide = max(len(way.of) for way in report.way)
    for way in report.way:
        if whole:
            _whole_way(page, way)
        else:
            page.field(way.of, _short_way(way), 2, wide + 2)


def _stop_text(stop: StopRow) -> str:
    if stop.structure:
        return "structure"
    parts = [", ".join(stop.terminals), ", ".join(stop.contacts)]
    text = "; ".join(part for part in parts if part)
    return f"{text}  [{', '.join(stop.harnesses)}]" if stop.harnesses else text


def _whole_way(page: Page, way: WayRow) -> None:
    """Add every stop, each beneath the one it is reached from."""
    if not way.stops:
        page.add("nowhere: it joins nothing", 2)
        return
    beneath: dict[int | None, list[int]] = {}
    for n, stop in enumerate(way.stops):
        beneath.setdefault(stop.before, []).append(n)
    todo = [(0, 0)]
    while todo:
        n, depth = todo.pop()
        stop = way.stops[n]
        indent = 2 + 3 * min(depth, 12)
        if stop.through:
            doubt = "" if stop.sure else "  (DOUBTFUL)"
            page.add(f"by {stop.through}{doubt}", indent - 1)
        page.add(_stop_text(stop), indent)
        todo.extend((k, depth + 1) for k in reversed(beneath.get(n, [])))
    for end in way.open_ends:
        page.add(f"ends open at {end.contact}: {end.state}", 2)
    page.add(_live(way), 2)


def _short_way(way: WayRow) -> str:
    """Return a way in a line: what it comes to, and through which halves."""
    if not way.stops:
        return "joins nothing"
    ends = [t for stop in way.stops for t in stop.terminals if not stop.structure]
    ends += ["structure"] if any(stop.structure for stop in way.stops) else []
    unsure = "" if all(stop.sure for stop in way.stops) else ", in part by a doubtful join"
    reached = f"{', '.join(ends) or 'no terminal'}{unsure}"
    halves = [stop.through for stop in way.stops if stop.through]
    by = f"  by {', '.join(halves)}" if halves else ""
    opened = f"  open at {', '.join(e.contact for e in way.open_ends)}" if way.open_ends else ""
    live = f"  LIVE? {', '.join(way.live_from)}" if way.live_from else ""
    return f"{reached}{by}{opened}{live}"


def _live(way: WayRow) -> str:
    if way.live_from:
        return f"may be live from {', '.join(way.live_from)}"
    return "no feed of the baseline that may be on reaches it"


# -- riders ---------------------------------------------------------------------------


def _riders(page: Page, report: TraceReport) -> None:
    own = report.asked.kind in ("service", "string")
    page.head("ITS STRINGS" if own else "WHAT RIDES ON IT")
    if not report.riders:
        page.add("nothing", 2)
    for rider in report.riders:
        _rider(page, rider, own)


def _rider(page: Page, rider: RiderRow, own: bool) -> None:
    string = "" if rider.string == rider.service else f" string {rider.string}"
    how = "" if own else f", {rider.how}"
    proof = " unproven" if rider.unproven else ""
    page.add(
        f"{rider.service}{string} ({rider.kind}){how}: {rider.standing}{proof}; "
        f"the service is {rider.state}",
        2,
    )
    for line in rider.lines:
        page.add(line.line, 6)
        if own or rider.how == "runs over it":
            page.field("over", ", ".join(f"{j.a} / {j.b}" for j in line.joins), 10, 6)
        if own:
            page.field("in", ", ".join(line.segments), 10, 6)
    if rider.feed is not None:
        behind = f", behind {', '.join(rider.switches)}" if rider.switches else ""
        page.add(f"feed {rider.feed}{behind}", 6)
    if rider.standing != "up":
        page.field("not up:", "; ".join(rider.troubles), 6, 8)


# -- losses ---------------------------------------------------------------------------


def _loss(page: Page, loss: LossRow) -> None:
    page.head("WHAT LOSING IT WOULD DO")
    page.add(f"taken as: {'; '.join(loss.taken_as)}", 2)
    if not loss.services:
        page.add("no service would stand otherwise", 2)
        return
    wide = max(len(row.service) for row in loss.services)
    for row in loss.services:
        loud = row.verdict in ("down", "reduced")
        page.field(row.verdict.upper(), _service_text(row, wide), 2, 16, "loud" if loud else "")


def _service_text(row: ServiceLossRow, wide: int) -> str:
    state = f"{row.before} → {row.after}" if row.before != row.after else f"{row.before} still"
    moved = [f"{s.string} {s.before} → {s.after}" for s in row.strings if s.string != row.service]
    strings = f"; {', '.join(moved)}; {row.left} up, {row.need} needed" if moved else ""
    cause = "; by what it needs" if not row.strings else ""
    return f"{row.service:<{wide}}  ({row.kind}) {state}{strings}{cause}"


# -- sharing and mating ---------------------------------------------------------------


def _shared(page: Page, report: TraceReport) -> None:
    own = report.asked.kind in ("service", "string")
    page.head("WHAT ITS REDUNDANT STRINGS SHARE" if own else "REDUNDANT STRINGS THAT SHARE IT")
    if not report.shared:
        page.add("none" if not own else "nothing", 2)
    alike: dict[tuple[str, tuple[str, ...]], list[SharedRow]] = {}
    for row in report.shared:
        alike.setdefault((row.service, row.strings), []).append(row)
    for rows in alike.values():
        first = rows[0]
        others = f"apart: {', '.join(first.others)}" if first.others else "none is apart"
        weight = "; losing one of these takes the service down" if first.defeats else ""
        page.add(
            f"{first.service}: {' and '.join(first.strings)} share what follows ({others}; "
            f"{first.need} needed{weight})",
            2,
            style="loud" if first.defeats else "",
        )
        page.add(", ".join(row.item for row in rows), 6, 0)


def _matches(page: Page, report: TraceReport) -> None:
    page.head("WHAT CAN MATE HERE")
    if report.asked.obstacles:
        page.add(f"first: it is {'; '.join(report.asked.obstacles)}", 2)
    if not report.can_mate:
        page.add("no half of the baseline fits", 2)
        return
    near = [row for row in report.can_mate if row.here or row.mated]
    far = [row for row in report.can_mate if not (row.here or row.mated)]
    if not near:
        page.add("none at the same place", 2)
    _match_rows(page, near, MATCHES_HERE, "here")
    _match_rows(page, far, MATCHES_ELSEWHERE, "elsewhere")


def _match_rows(page: Page, rows: Sequence[MatchRow], most: int, spot: str) -> None:
    wide = max((len(row.half) for row in rows[:most]), default=0)
    for row in rows[:most]:
        where = "here" if row.here else f"at {row.place}" if row.place else "at no known place"
        now = "mated with it now" if row.mated else "; ".join(row.obstacles) or "free"
        kind = f"{row.role}, " if row.role != "free" else ""
        label = f"  {row.label}" if row.label else ""
        page.field(row.half, f"{where}: {kind}{now}{label}", 2, wide + 2)
    if len(rows) > most:
        page.add(f"and {len(rows) - most} more {spot} (--json names them)", 2)
