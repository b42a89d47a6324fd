"""Stops as text: how everything stands if work stops, wherever an action ends."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cablewalk.cli.page import Page, Row
from cablewalk.cli.phrases import (
    PREDICTED,
    Moments,
    left_h_mm,
    opening,
    tell,
    used_h_mm,
)
from cablewalk.reports.halt import HaltReport
from cablewalk.reports.halt_rows import DownRow, HaltRow, LiveHalfRow, RecoveringRow

_WIDE = 11
_ROOMS = 3
_HALFWAY = "part-engaged-at-end"
_NOTHING_ENDS_IT = "no clock runs, and no limit that is given is to come"


def halt_page(report: HaltReport, every: bool = False, in_full: bool = False) -> Page:
    """Return the report as a page.

    Args:
        report: the stops.
        every: tell each stop, those in a row at which everything stands alike together; else those
            as steps end, each with what is worse on the way to it.
        in_full: each for itself, with steps begun, people, and the ways out of what is left.
    """
    page, when = Page(), Moments(report)
    opening(page, "HALT on", report)
    if not in_full:
        _glance(page, when, report)
    for first, last, rows in _folded(when, report.stops, every, in_full):
        page.blank()
        page.add(_title(when, first, last), style="head")
        page.rows.extend(rows)
    page.blank()
    for text in report.not_judged:
        page.add(f"Not judged: {text}.", hang=0)
    page.add(
        "No further action begins; what is under way stays half done. What people would still do "
        "to make things safe is not in this. A pause is counted by likely minutes, slack not "
        "counted: half of all days leave less ('cablewalk spread').",
        hang=0,
    )
    page.add(PREDICTED, hang=0)
    return page


def _glance(page: Page, when: Moments, report: HaltReport) -> None:
    good = [stop for stop in report.stops if stop.good]
    page.head(f"GOOD STOPS: {len(good)} of {len(report.stops)}")
    for first, last in _runs(report.stops):
        page.add(f"{_span(when, first, last):<16}  {_labels(first, last)}", 2, 18)
    away = [s for s in report.stops if s.next_good_min is not None]
    far = max(away, key=lambda s: s.next_good_min or 0, default=None)
    if far is not None and not far.good:
        page.add(f"Farthest, {label(far)}: {used_h_mm(far.next_good_min or 0)} to the next.", 2)
    timed = [s for s in report.stops if s.pause_min is not None]
    tight = min(timed, key=lambda s: s.pause_min or 0, default=None)
    if tight is not None:
        page.add(f"Least room for a pause, {label(tight)}: {_pause(tight)}.", 2)


def _runs(stops: Sequence[HaltRow]) -> Iterator[tuple[HaltRow, HaltRow]]:
    """Yield the first and the last of each run of good stops within a phase."""
    first: HaltRow | None = None
    for n, stop in enumerate(stops):
        first = first or (stop if stop.good else None)
        following = stops[n + 1] if n + 1 < len(stops) else None
        goes_on = following and following.good and following.phase_number == stop.phase_number
        if first and not goes_on:
            yield first, stop
            first = None


def _folded(
    when: Moments, stops: Sequence[HaltRow], every: bool, in_full: bool
) -> Iterator[tuple[HaltRow, HaltRow, list[Row]]]:
    """Yield the first and the last of the stops that are told in the same lines, and the lines."""
    held: tuple[HaltRow, HaltRow, list[Row]] | None = None
    way: list[HaltRow] = []
    for stop in stops:
        if not (every or in_full or stop.after_steps or not stop.after):
            way.append(stop)
            continue
        page = Page()
        _body(page, when, stop, in_full)
        _on_the_way(page, when, way, (held[1] if held else stop, stop))
        if held and not in_full and _key(held[1], held[2]) == _key(stop, page.rows):
            held = held[0], stop, held[2]
        else:
            if held:
                yield held
            held = stop, stop, page.rows
        way = []
    if held:
        yield held


def _key(stop: HaltRow, rows: list[Row]) -> tuple[int, bool, list[Row]]:
    """Return what is the same of two stops that are told together."""
    return stop.phase_number, stop.good, rows


def _on_the_way(
    page: Page, when: Moments, way: Sequence[HaltRow], ends: tuple[HaltRow, HaltRow]
) -> None:
    """Add what is worse between two stops than at both: down, live, unheld, or too late."""
    known = {fact for stop in ends for fact in _facts(stop)}
    begun: dict[str, HaltRow] = {}
    last: dict[str, HaltRow] = {}
    for stop in way:
        for fact in _facts(stop):
            if fact not in known:
                begun.setdefault(fact, stop)
                last[fact] = stop
    for n, (fact, first) in enumerate(begun.items()):
        text = f"{_span(when, first, last[fact])}  {fact} ({label(first)})"
        page.field("" if n else "on the way", text, 4, _WIDE, "loud")


def _facts(stop: HaltRow) -> list[str]:
    """Return what makes a stop worse, in words."""
    facts = [f"{row.service} is down" for row in stop.down]
    facts += [f"LIVE {row.half}" for row in stop.live]
    facts += [f"inhibit {row.id} does not hold" for row in stop.held if not row.holds]
    facts += [f"no room: {row.ends} is overrun" for row in stop.pauses if row.minutes < 0]
    facts += [f"{f.items[0]} is part-engaged" for f in stop.left if f.rule == _HALFWAY]
    return facts


def _title(when: Moments, first: HaltRow, last: HaltRow) -> str:
    said = "GOOD STOP" if first.good else "NOT A GOOD STOP"
    return f"{_span(when, first, last)}  {_labels(first, last)}: {said}"


def _span(when: Moments, first: HaltRow, last: HaltRow) -> str:
    begin = f"{when.phase(first.at_pet)}PET {first.at_pet.pet}"
    return begin if first.at_pet == last.at_pet else f"{begin} → {last.at_pet.pet}"


def _labels(first: HaltRow, last: HaltRow) -> str:
    return label(first) if first is last else f"{label(first)}, to {label(last)}"


def label(stop: HaltRow) -> str:
    """Return after what a stop is: steps, or an action within a step."""
    if not stop.after:
        return f"before the first step of {stop.phase}"
    within = [row for row in stop.after if row.step not in stop.after_steps]
    parts = [*stop.after_steps, *(f"{r.step}/{r.action_number} {r.text}" for r in within)]
    return f"after {', '.join(parts)}"


def _body(page: Page, when: Moments, stop: HaltRow, in_full: bool) -> None:
    if not stop.good:
        on = when.at(stop.next_good_pet, "none to come")
        page.field(
            "good stops", f"next {on}; last {when.at(stop.last_good_pet, 'none yet')}", 4, _WIDE
        )
    page.field("pause", _pause(stop), 4, _WIDE)
    for n, half in enumerate(stop.live):
        page.field("" if n else "LIVE", _live(half), 4, _WIDE, "" if half.found_so else "loud")
    for n, (text, late) in enumerate(_down(when, stop.down)):
        page.field("" if n else "down", text, 4, _WIDE, "loud" if late else "")
    for n, row in enumerate(stop.recovering):
        late = row.margin_min is not None and row.margin_min < 0
        name = "" if n else "comes back"
        page.field(name, _recovering(when, row), 4, _WIDE, "loud" if late else "")
    weak = [f"{r.service} {r.state}, by {', '.join(r.strings)}" for r in stop.weak]
    page.field("not whole", "; ".join(weak), 4, _WIDE)
    doing = [f"{', '.join(r.by)}: {r.text} ({r.step}/{r.action_number})" for r in stop.under_way]
    page.field("half done", "\n".join(doing), 4, _WIDE)
    for held in stop.held:
        text = f"{held.id} ({held.requires}; {held.owner})"
        if held.holds:
            page.field("inhibit", f"{text} holds: keep it so", 4, _WIDE)
        else:
            page.field("INHIBIT", f"{text} DOES NOT HOLD: {held.why_not}", 4, _WIDE, "loud")
    if not in_full:
        page.field("left", "; ".join(finding.found for finding in stop.left), 4, _WIDE)
        return
    for begun in stop.begun:
        then = "the last is under way"
        if begun.following:
            then = f"next {begun.following.text} ({', '.join(begun.following.by)})"
        page.field("begun", f"{begun.step}: {begun.done} of {begun.actions} done, {then}", 4, _WIDE)
    for n, person in enumerate(stop.people):
        has = f", holds {', '.join(person.holds)}" if person.holds else ""
        text = f"{person.person} at {person.place or 'a place nobody told'}{has}"
        page.field("" if n else "people", text, 4, _WIDE)
    for finding in stop.left:
        tell(page, finding, 4)


def _pause(stop: HaltRow) -> str:
    """Return how long work may stand still at a stop, and what ends that, the soonest first."""
    parts = []
    for row in stop.pauses[:_ROOMS]:
        if row.minutes < 0:
            parts.append(f"none: {row.ends} is overrun by {used_h_mm(-row.minutes)} without one")
        else:
            parts.append(f"{left_h_mm(row.minutes)} to {row.ends}")
    more = len(stop.pauses) - _ROOMS
    return ", ".join([*parts, f"{more} more later"] if more > 0 else parts) or _NOTHING_ENDS_IT


def _live(half: LiveHalfRow) -> str:
    name = f"{half.half} ({half.label})" if half.label and half.label != half.half else half.half
    how = f"under somebody's hands ({half.being})" if half.being else half.state
    before = ", as in the baseline" if half.found_so else ""
    return f"{name} is {how}{before}; may be live from {', '.join(half.feeds)}"


def _recovering(when: Moments, row: RecoveringRow) -> str:
    text = f"{row.service} ({row.kind}) by {when.at(row.back_pet)}"
    if row.margin_min is not None and row.margin_min < 0:
        return f"{text}, its clock overrun by {used_h_mm(-row.margin_min)} then"
    return text


def _down(when: Moments, rows: Sequence[DownRow]) -> Iterator[tuple[str, bool]]:
    """Yield what is down, and whether it is too late for it; what has no clock comes last."""
    for row in rows:
        if row.clock_min is not None:
            yield f"{row.service} ({row.kind}): {_clock(when, row)}{_back(when, row)}", _late(row)
    bare = [(_open_end(when, row), row) for row in rows if row.clock_min is None]
    for end in dict.fromkeys(text for text, _ in bare):
        names = ", ".join(f"{row.service} ({row.kind})" for text, row in bare if text == end)
        yield f"{names}: {end}", False


def _open_end(when: Moments, row: DownRow) -> str:
    """Return what is to be said of a service that has no clock."""
    text = "no clock, so nobody says for how long"
    if row.estimate_by_pet is not None:
        by = when.at(row.estimate_by_pet)
        text = f"no clock; {row.estimate_zone} wants it by {by} (estimate, not for go/no-go)"
    return text + _back(when, row)


def _back(when: Moments, row: DownRow) -> str:
    if row.said_dark:
        return "; dark by the baseline, until it is verified"
    if row.retired_by_step:
        return f"; {row.retired_by_step} retires it"
    if row.restored_by_step:
        return f"; back by {row.restored_by_step}"
    return "; the plan does not bring it back"


def _clock(when: Moments, row: DownRow) -> str:
    allowed = f"{left_h_mm(row.clock_min or 0)} by {row.clock_source}"
    if row.left_min is None:
        return f"its clock of {allowed} does not run yet"
    by = f"reconnect by {when.at(row.reconnect_by_pet)}"
    if _late(row):
        return f"{by}, which is past (clock {allowed})"
    return f"{by} (clock {allowed})"


def _late(row: DownRow) -> bool:
    return row.left_min is not None and row.left_min < 0
