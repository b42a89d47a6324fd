"""The connector log: every mate and demate of each half, with its count and its limit."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.checks.case import Case
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.reports.asrun_log import LogFacts, LogReport, log_heading, number, pet, utc_text
from cablewalk.reports.base import Part
from cablewalk.timeline.account import Account
from cablewalk.walk.asrun_entry import ids_of
from cablewalk.walk.asrun_force import MATING
from cablewalk.walk.asrun_state import Played, Tracked
from cablewalk.walk.trace import Event

LOGGED = frozenset((*MATING, "lock", "demate", "found"))
"""Verbs that stand in a connector log."""


class ConnectorRow(Part):
    """One mate or demate, at one of the two halves."""

    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label as marked.")
    utc: str = Field(description="When it was over, UTC.")
    pet: str = Field(description="When it was over, phase elapsed time.")
    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="The planned step; empty: none.")
    number: str = Field(description="Number of the entry.")
    did: str = Field(description="mate, seat, engage, park, lock, demate or found.")
    mate: str = Field(description="Id of the other half; empty: none.")
    outcome: str = Field(description="done, done differently, part-engaged, failed or found.")
    state: str = Field(description="State of the half afterwards.")
    by: tuple[str, ...] = Field(description="Who did it.")
    witness: str = Field(description="Who witnessed it; empty: nobody said.")
    inspection: str = Field(description="What was inspected; empty: nobody said.")
    lock_verified: str = Field(
        description="yes, no, or 'by the step' where nobody said and the step includes it."
    )
    cap_fitted: str = Field(description="yes, no, or empty: nobody said.")
    mates: int = Field(description="Mates the half has had by then, all its life.")
    reason: str = Field(description="What was said beside it.")


class CycleRow(Part):
    """One half: its count against its limit."""

    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label as marked.")
    mates_at_start: int = Field(description="Mates it had when the log was opened.")
    mates: int = Field(description="Mates it has had now.")
    demates: int = Field(description="Demates in this log.")
    limit: int | None = Field(description="Mates it may have; null: nobody gives a limit.")
    source: str = Field(description="Who gives the limit.")
    left: int | None = Field(description="Mates left; negative: over the limit.")


class ConnectorReport(LogReport):
    """The connector log. Columns: common practice, no source."""

    report: Literal["asrun-connectors"] = Field(description="Which report this is.")
    halves: tuple[CycleRow, ...] = Field(description="Every half that was mated or demated.")
    entries: tuple[ConnectorRow, ...] = Field(description="By half, then by time.")


def connector_report(tracked: Tracked, facts: LogFacts, now_s: int) -> ConnectorReport:
    """Return the connector log of all phases."""
    fields, account = log_heading(tracked, facts, now_s)
    rows = _rows(tracked)
    halves = {row.half for row in rows}
    order = [i.id for i in tracked.ground.wiring.items if i.kind == "half" and i.id in halves]
    return ConnectorReport(
        report="asrun-connectors",
        halves=tuple(_half(tracked, name, rows, account) for name in order),
        entries=tuple(row for name in order for row in rows if row.half == name),
        **fields,
    )


def _limit(account: Account, half: int) -> tuple[int | None, str]:
    """Return the mates a half may have and who says so: its own limit, else the general one."""
    case = Case(account)
    if half in case.own_cycle_limits:
        return case.own_cycle_limits[half]
    general = case.limits.mate_cycles
    return (general.value, general.source) if general is not None else (None, "")


def _half(tracked: Tracked, name: str, rows: list[ConnectorRow], account: Account) -> CycleRow:
    wiring = tracked.ground.wiring
    item = wiring.by_id[name]
    mates = tracked.fold.config.count[item]
    limit, source = _limit(account, item)
    return CycleRow(
        half=name,
        label=wiring.items[item].label,
        mates_at_start=tracked.trace.start.count[item],
        mates=mates,
        demates=sum(r.half == name and r.did == "demate" and r.outcome != "failed" for r in rows),
        limit=limit,
        source=source,
        left=None if limit is None else limit - mates,
    )


def _rows(tracked: Tracked) -> list[ConnectorRow]:
    played = {row.entry.key: row for row in tracked.played}
    config = tracked.trace.start.copy()
    rows: list[ConnectorRow] = []
    touched: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for event in tracked.trace.events:
        key = (event.task.phase, event.task.serial)
        if event.begins and event.task.verb in LOGGED:
            touched[key] = _halves(config, event)
        config.apply(event.changes)
        if not event.begins and key in touched:
            pairs = touched.pop(key)
            rows.extend(_row(tracked, config, played[key], half, mate) for half, mate in pairs)
    return rows


def _halves(config: Configuration, event: Event) -> list[tuple[int, int]]:
    """Return the halves an action concerns, each with the other of the pair, before it."""
    wiring = config.wiring
    halves = [
        wiring.by_id[n]
        for n in ids_of(event.task.action)
        if n in wiring.by_id and wiring.items[wiring.by_id[n]].kind == "half"
    ]
    if event.task.verb in MATING:
        return [(halves[0], halves[1]), (halves[1], halves[0])]
    pairs = []
    for half in halves:
        mate = config.link[half]
        if mate == NONE or wiring.items[mate].kind != "half":
            mate = NONE
        pairs.append((half, mate))
        if mate != NONE and mate not in halves:
            pairs.append((mate, half))
    return pairs


def _row(
    tracked: Tracked, config: Configuration, row: Played, half: int, mate: int
) -> ConnectorRow:
    entry, wiring = row.entry, tracked.ground.wiring
    phase = tracked.phases[entry.phase]
    verb = entry.action.verb if entry.action else row.task.verb
    lock = _said(entry.lock_verified)
    if not lock and verb in ("mate", "park", "lock") and entry.outcome != "failed":
        lock = "by the step"
    other = mate if mate != NONE else config.link[half]
    shown = other != NONE and wiring.items[other].kind == "half"
    return ConnectorRow(
        half=wiring.items[half].id,
        label=wiring.items[half].label,
        utc=utc_text(entry.utc_s),
        pet=pet(phase, row.end_s),
        phase=phase.procedure.procedure,
        step=entry.step,
        number=number(entry.key),
        did=verb,
        mate=wiring.items[other].id if shown else "",
        outcome=entry.outcome or "",
        state=config.state_name(half),
        by=entry.actors,
        witness=entry.witness,
        inspection=entry.inspection,
        lock_verified=lock,
        cap_fitted=_said(entry.cap_fitted),
        mates=config.count[half],
        reason=entry.text,
    )


def _said(truth: bool | None) -> str:
    return "" if truth is None else "yes" if truth else "no"
