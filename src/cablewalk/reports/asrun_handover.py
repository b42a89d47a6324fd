"""Handing over: the configuration as left, and what the next phase must know."""

from __future__ import annotations

from statistics import median
from typing import Final, Literal

from pydantic import Field

from cablewalk.continuity.services import State
from cablewalk.replay.configuration import RETIRED
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
from cablewalk.reports.asrun_retest import RetestRow, lasting, retest_rows
from cablewalk.reports.asrun_upheld import UpheldRow, upheld
from cablewalk.reports.base import Part
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks_left import clocks_left
from cablewalk.timeline.part_engaged import left_part_engaged
from cablewalk.timeline.up_against_joins import strings_found_down, up_against_joins
from cablewalk.units import minutes
from cablewalk.walk.asrun_state import Played, Tracked

_FINISHED: Final = ("done", "done differently")


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
    found_down: bool = Field(
        description="Found down, and down by its joins too: the baseline as left says so, and it "
        "is held down until it is verified or found up, whatever its joins."
    )


class ClocksRow(Part):
    """How the clocks of a service are handed over, as of dark_until_utc."""

    service: str = Field(description="Id of the service.")
    used_min: tuple[float, ...] = Field(
        description="Minutes each of its clocks has used in outages that are over, and not reset."
    )
    is_down: bool = Field(description="It is down or recovers.")
    up_min: float | None = Field(description="Minutes it has been up; null: it is down.")
    demated_min: float | None = Field(
        description="Minutes since a join of its own was first broken in the outage that lasts, "
        "from when a clock that starts at the demate runs; null: it is up, none was, or no such "
        "clock."
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
    clocks: tuple[ClocksRow, ...] = Field(description="The clocks of each service that has any.")
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
    left += strings_found_down(tracked.ground.wiring, tracked.fold.said_dead)
    fields["findings"] = (*told_findings(account, facts, left), *fields["findings"])
    until_s = now_s if until_s is None else until_s
    untimed = [r for r in tracked.played if r.entry.outcome in _FINISHED and not _timed(r)]
    as_one = _told_as_one(untimed)
    entries = tracked.effective.entries
    clocks = _clocks(tracked, account, until_s)
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
        used_min={
            row.service: max(row.used_min)
            for row in clocks
            if not row.is_down and max(row.used_min)
        },
        clocks=clocks,
        retest=retest_rows(account),
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
    rows, fold = [], tracked.fold
    for n, spell in lasting(account):
        by_joins = fold.continuity.states[spell.service] is State.DOWN
        before = max((r.used_before_s for r in account.readings[n]), default=0)
        rows.append(
            DarkRow(
                service=tracked.ground.wiring.services[spell.service].id,
                dark_min=minutes(until_s - spell.from_s),
                used_before_min=minutes(before),
                since_utc=utc_text(tracked.zero_utc_s + spell.from_s),
                lost_by=spell.lost_by.task.step_id if spell.lost_by else "",
                seen_only=not by_joins,
                found_down=by_joins and fold.is_found_down(spell.service),
            )
        )
    return tuple(rows)


def _clocks(tracked: Tracked, account: Account, until_s: int) -> tuple[ClocksRow, ...]:
    """Return how the clocks of every service that is not retired are handed over."""
    names = [service.id for service in tracked.ground.wiring.services]
    lives = dict(zip(names, (view.life for view in account.trace.end_views), strict=True))
    down = {names[spell.service] for _, spell in lasting(account)}
    return tuple(
        ClocksRow(
            service=name,
            used_min=tuple(minutes(used) for used in left.used_s),
            is_down=name in down,
            up_min=None if name in down else minutes(left.up_s),
            demated_min=None if left.demated_s is None else minutes(left.demated_s),
        )
        for name, left in clocks_left(account, tracked.dark_s, until_s).items()
        if lives[name] != RETIRED
    )


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
