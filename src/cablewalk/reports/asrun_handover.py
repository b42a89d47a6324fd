"""Handing over: the configuration as left, and what the next phase must know."""

from __future__ import annotations

from statistics import median
from typing import Final, Literal

from pydantic import Field

from cablewalk.continuity.services import State
from cablewalk.replay.change import Field as Table
from cablewalk.replay.configuration import ALIVE, RETIRED
from cablewalk.replay.standing import told
from cablewalk.reports.asrun_log import (
    EntryRow,
    LogFacts,
    LogReport,
    entry_row,
    log_heading,
    number,
    utc_text,
)
from cablewalk.reports.asrun_log import told as told_findings
from cablewalk.reports.asrun_now import unfinished
from cablewalk.reports.asrun_upheld import UpheldRow, upheld
from cablewalk.reports.base import Part
from cablewalk.timeline.account import Account
from cablewalk.timeline.part_engaged import left_part_engaged
from cablewalk.timeline.up_against_joins import up_against_joins
from cablewalk.units import minutes, seconds
from cablewalk.walk.asrun_state import Played, Tracked

_FINISHED: Final = ("done", "done differently")


class RetestRow(Part):
    """A service of which something was disturbed and not verified since."""

    service: str = Field(description="Id of the service.")
    state: str = Field(description="How it stands as left.")
    strings: tuple[str, ...] = Field(description="Its strings to be tested.")
    disturbed_by: tuple[str, ...] = Field(
        description="Steps and entries that disturbed it since; or the baseline, of what it owed."
    )


class DarkRow(Part):
    """A service that is down as left."""

    service: str = Field(description="Id of the service.")
    dark_min: float = Field(description="Minutes it has been down, up to dark_until_utc.")
    used_before_min: float = Field(description="Minutes its clock had used before this outage.")
    since_utc: str = Field(description="Since when, UTC.")
    lost_by: str = Field(description="The step or entry that took it down; empty: before the log.")
    seen_only: bool = Field(
        description="Found down, though the model has it up: the baseline as left cannot say so."
    )


class BareRow(Part):
    """A half left without a cap."""

    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label as marked.")
    state: str = Field(description="Its state as left.")
    skipped: str = Field(description="Number of the entry that skipped its cap; empty: none.")


class MinutesRow(Part):
    """How long a kind of action really took, where the log tells it."""

    verb: str = Field(description="Kind of action.")
    count: int = Field(description="How many of them.")
    least_min: float = Field(description="The quickest.")
    median_min: float = Field(description="The median.")
    most_min: float = Field(description="The slowest.")
    planned_min: float = Field(description="Mean of what was likely for the same actions.")


class HandoverReport(LogReport):
    """What the next phase must know. The as-left baseline is a file of its own."""

    report: Literal["asrun-handover"] = Field(description="Which report this is.")
    left_utc: str = Field(description="As of when everything stands so, UTC.")
    dark_until_utc: str = Field(description="Up to when the minutes dark are counted, UTC.")
    open_items: tuple[EntryRow, ...] = Field(description="Open items.")
    not_done: tuple[str, ...] = Field(description="Planned actions never recorded, as STEP/N.")
    skipped: tuple[EntryRow, ...] = Field(description="What was skipped.")
    unfinished: tuple[EntryRow, ...] = Field(description="What failed, or was left part-engaged.")
    found: tuple[EntryRow, ...] = Field(description="What was found otherwise than held.")
    dark: tuple[DarkRow, ...] = Field(description="Services down as left.")
    upheld: tuple[UpheldRow, ...] = Field(
        description="Services up as left because they were found so, whatever their joins say: "
        "owed is which join. The baseline as left has them down, dark for 0 minutes."
    )
    used_min: dict[str, float] = Field(
        description="Service that is up to the minutes its clock has used and not reset yet."
    )
    retest: tuple[RetestRow, ...] = Field(description="What must be tested.")
    bare: tuple[BareRow, ...] = Field(
        description="Halves left bare that were not so at the start, or whose cap was skipped."
    )
    unlocked: tuple[str, ...] = Field(
        description="Halves mated whose lock nobody verified, or that are part-engaged."
    )
    actual_minutes: tuple[MinutesRow, ...] = Field(description="Minutes a kind of action took.")
    without_begin: int = Field(
        description="Actions done that count in no minutes: nobody said when they began."
    )
    told_as_one: int = Field(
        description="Actions done that count in no minutes: only of several together was it said "
        "how long they took."
    )


def handover_report(
    tracked: Tracked, facts: LogFacts, now_s: int, until_s: int | None = None
) -> HandoverReport:
    """Return the hand-over as of a moment; ``until_s``: up to when darkness is counted."""
    fields, account = log_heading(tracked, facts, now_s)
    left = [*left_part_engaged(tracked.fold.config, tracked.phases[-1])]
    left += up_against_joins(tracked.fold.config, account.trace.end_views)
    fields["findings"] = (*told_findings(account, facts, left), *fields["findings"])
    until_s = now_s if until_s is None else until_s
    untimed = [r for r in tracked.played if r.entry.outcome in _FINISHED and not _timed(r)]
    as_one = _told_as_one(untimed)
    entries = tracked.effective.entries
    return HandoverReport(
        report="asrun-handover",
        left_utc=utc_text(tracked.zero_utc_s + now_s),
        dark_until_utc=utc_text(tracked.zero_utc_s + until_s),
        open_items=tuple(entry_row(tracked, e) for e in tracked.open_items()),
        not_done=_not_done(tracked),
        skipped=tuple(entry_row(tracked, e) for e in entries if e.outcome == "skipped"),
        unfinished=unfinished(tracked),
        found=tuple(entry_row(tracked, e) for e in entries if e.outcome == "found"),
        dark=_dark(tracked, account, until_s),
        upheld=upheld(tracked),
        used_min=_used_while_up(tracked, account),
        retest=_retest(account),
        bare=_bare(tracked),
        unlocked=_unlocked(tracked),
        actual_minutes=_minutes(tracked),
        without_begin=len(untimed) - as_one,
        told_as_one=as_one,
        **fields,
    )


def _not_done(tracked: Tracked) -> tuple[str, ...]:
    return tuple(
        f"{step.id}/{n + 1}"
        for phase in tracked.phases
        for step in phase.plan.steps
        if not step.get_ahead
        for n, _ in tracked.open_tasks(phase, step)
        if (phase.number, step.id, n) not in tracked.answered
    )


def _dark(tracked: Tracked, account: Account, until_s: int) -> tuple[DarkRow, ...]:
    rows = []
    for n, spell in enumerate(account.outages):
        if spell.retired or (spell.to_s is not None and spell.to_s <= account.trace.end_s):
            continue
        before = max((r.used_before_s for r in account.readings[n]), default=0)
        rows.append(
            DarkRow(
                service=tracked.ground.wiring.services[spell.service].id,
                dark_min=minutes(until_s - spell.from_s),
                used_before_min=minutes(before),
                since_utc=utc_text(tracked.zero_utc_s + spell.from_s),
                lost_by=spell.lost_by.task.step_id if spell.lost_by else "",
                seen_only=tracked.fold.continuity.states[spell.service] is not State.DOWN,
            )
        )
    return tuple(rows)


def _used_while_up(tracked: Tracked, account: Account) -> dict[str, float]:
    """Return what the clocks of services that are up have used and not reset yet."""
    left = account.trace.end_s
    used: dict[str, float] = {}
    for n, spell in enumerate(account.outages):
        if spell.to_s is None or spell.to_s > left or spell.retired:
            continue
        for reading in account.readings[n]:
            reset = reading.clock.resets_after_up_min
            if reset is None or left - spell.to_s < seconds(reset):
                name = tracked.ground.wiring.services[spell.service].id
                used[name] = max(used.get(name, 0), minutes(reading.total_s))
    return used


def _retest(account: Account) -> tuple[RetestRow, ...]:
    trace, config = account.trace, account.trace.end
    assert config is not None
    rows = []
    causes = _causes(account)
    for n, service in enumerate(trace.wiring.services):
        strings = [s for s in service.strings if config.disturbed[s]]
        view = trace.end_views[n]
        if not strings or config.life[n] == RETIRED:
            continue
        by = dict.fromkeys(cause for s in strings for cause in causes.get(s, ()))
        awaited = view.life != ALIVE
        rows.append(
            RetestRow(
                service=service.id,
                state="awaited" if awaited else view.words,
                strings=tuple(trace.wiring.strings[s].id for s in strings),
                disturbed_by=tuple(by),
            )
        )
    return tuple(rows)


def _causes(account: Account) -> dict[int, list[str]]:
    """Return string to what disturbed it since it was last proved: steps, entries, the baseline."""
    trace = account.trace
    owed = f"{account.ground.baseline.baseline}, before this log"
    found = {s: [owed] for s, disturbed in enumerate(trace.start.disturbed) if disturbed}
    for event in trace.events:
        shaken = set(event.joins_broken)
        for change in event.changes:
            if change.field is not Table.DISTURBED:
                continue
            shaken |= {change.item} if change.new else set()
            if not change.new:
                found.pop(change.item, None)
        for string in shaken:
            found.setdefault(string, []).append(event.task.step_id)
    return found


def _timed(row: Played) -> bool:
    """Return whether somebody told when an action began, and its end was not worked out."""
    return not row.assumed and not row.entry.spread


def _told_as_one(rows: list[Played]) -> int:
    """Return how many of these were recorded with others as one whose beginning was told."""
    steps = {
        (row.entry.phase, row.entry.step)
        for row in rows
        if row.entry.spread and row.entry.began_s is not None
    }
    return sum(r.entry.spread and (r.entry.phase, r.entry.step) in steps for r in rows)


def _bare(tracked: Tracked) -> tuple[BareRow, ...]:
    wiring, config, start = tracked.ground.wiring, tracked.fold.config, tracked.trace.start
    skipped: dict[str, str] = {}
    for entry in tracked.effective.entries:
        if entry.outcome == "skipped" and entry.action is not None:
            skipped.update(dict.fromkeys((entry.action.fit_cap or {}).values(), number(entry.key)))
    rows = []
    for n, item in enumerate(wiring.items):
        if item.kind != "half" or config.state_name(n) != "bare":
            continue
        if start.state_name(n) != "bare" or item.id in skipped:
            rows.append(
                BareRow(
                    half=item.id,
                    label=item.label,
                    state=config.state_name(n),
                    skipped=skipped.get(item.id, ""),
                )
            )
    return tuple(rows)


def _unlocked(tracked: Tracked) -> tuple[str, ...]:
    wiring, config = tracked.ground.wiring, tracked.fold.config
    return tuple(
        f"{item.id} {told(config, n)}"
        for n, item in enumerate(wiring.items)
        if item.kind == "half" and config.state_name(n) in ("unverified", "part_engaged")
    )


def _minutes(tracked: Tracked) -> tuple[MinutesRow, ...]:
    """Return how long each kind of action took, of those whose beginning somebody told."""
    took: dict[str, list[tuple[float, float]]] = {}
    for row in tracked.played:
        if _timed(row) and row.entry.outcome in _FINISHED:
            pair = (minutes(row.end_s - row.begin_s), minutes(row.task.durations_s[1]))
            took.setdefault(row.task.verb, []).append(pair)
    return tuple(
        MinutesRow(
            verb=verb,
            count=len(pairs),
            least_min=min(a for a, _ in pairs),
            median_min=round(median(a for a, _ in pairs), 4),
            most_min=max(a for a, _ in pairs),
            planned_min=round(sum(p for _, p in pairs) / len(pairs), 4),
        )
        for verb, pairs in sorted(took.items())
    )
