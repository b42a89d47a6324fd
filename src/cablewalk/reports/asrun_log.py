"""What every report on a log begins with, and its entries as rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from pydantic import Field

from cablewalk import __version__
from cablewalk.files.place import Source
from cablewalk.files.wording import inert
from cablewalk.findings import Finding, Severity
from cablewalk.reports.base import REPORT_VERSION, Part
from cablewalk.reports.deed import deed
from cablewalk.reports.fault import FindingRow, finding_rows
from cablewalk.timeline.account import Account
from cablewalk.timeline.asrun import asrun_account
from cablewalk.units import clock
from cablewalk.walk.asrun_entry import Entry, Key
from cablewalk.walk.asrun_state import Phase, Tracked


@dataclass(frozen=True, slots=True)
class LogFacts:
    """What is known of the file of a log."""

    name: str
    head: str
    """Head of the chain of hashes, hexadecimal."""
    events: int
    faults: tuple[str, ...]
    """What is damaged, a sentence each."""
    sources: tuple[Source, ...]


NEVER: Final = "never happened"
"""What stands as the outcome of a correction that takes an entry back."""


class LogRow(Part):
    """The log a report tells of."""

    file: str = Field(description="The log's file, as it was named.")
    events: int = Field(description="How many events it holds: what a reader has then seen.")
    head: str = Field(description="Head of its chain of hashes, SHA-256, hexadecimal.")
    baseline: str = Field(description="Id of the baseline it starts from.")
    hardware: str = Field(description="Title of that baseline: which hardware; may be empty.")
    phase: str = Field(description="Id of the procedure of the phase begun last.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    zero_utc: str = Field(description="UTC at which that phase's PET was 0:00.")
    damage: tuple[str, ...] = Field(description="What is damaged in the file; empty: nothing.")


class LogReport(Part):
    """What every report on a log begins with."""

    version: int = Field(description="Version of this report's fields.")
    cablewalk: str = Field(description="Version of the program.")
    log: LogRow = Field(description="The log.")
    now_utc: str = Field(description="The moment the report is for, UTC.")
    now_pet: str = Field(description="That moment in phase elapsed time, H:MM.")
    findings: tuple[FindingRow, ...] = Field(
        description="Warnings and errors: where the log contradicts plan, model or itself."
    )

    @property
    def has_errors(self) -> bool:
        """Whether anything is damaged, or a finding is of severity error."""
        return bool(self.log.damage) or any(f.severity == "error" for f in self.findings)


class EntryRow(Part):
    """An entry of the log."""

    number: str = Field(description="Phase and serial, as '1.17'.")
    utc: str = Field(description="When it was over, UTC.")
    pet: str = Field(description="When it was over, phase elapsed time.")
    began_pet: str | None = Field(description="When it began, if somebody said; else null.")
    kind: str = Field(description="begin, action, note or lost.")
    actors: tuple[str, ...] = Field(description="Ids of those who did it.")
    step: str = Field(description="The planned step it answers; empty: none.")
    action_number: int | None = Field(description="Position of the action in the step, from 1.")
    text: str = Field(description="What was done, in words; of a note, the note.")
    outcome: str = Field(
        description="done, done differently, part-engaged, failed, skipped, found; of a correction "
        "that takes back what it corrects: never happened."
    )
    reason: str = Field(
        description="What was said beside it; of a correction, what the entry says as it stands."
    )
    items: tuple[str, ...] = Field(description="Ids of the things it acts on.")
    entered_by: str = Field(description="Who wrote it into the log.")
    entered_utc: str = Field(description="When that was.")
    witness: str = Field(description="Who witnessed it.")
    inspection: str = Field(description="What was inspected, and how it looked.")
    lock_verified: bool | None = Field(description="Whether the lock was verified; null: not said.")
    cap_fitted: bool | None = Field(description="Whether a cap was fitted; null: not said.")
    corrects: str = Field(description="Number of the entry it corrects; empty: none.")
    corrected_by: str = Field(description="Number of the last correction of it; empty: none.")
    void: bool = Field(description="A correction: what it corrects never happened.")
    open_item: bool = Field(description="An open item.")
    closes: str = Field(description="Number of the open item it closes; empty: none.")
    doubt: str = Field(
        description="Why it may not be as it was recorded: salvage took it over unproved; or empty."
    )
    correction_reason: str = Field(
        description="Why it was corrected, by its last correction; of a correction, why it was "
        "made; or empty."
    )


def utc_text(utc_s: int) -> str:
    """Return seconds since 1970 as ``2031-05-06T14:03:10Z``."""
    return datetime.fromtimestamp(utc_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def number(key: Key | None) -> str:
    """Return how an entry is numbered for people; empty for none."""
    return "" if key is None else f"{key[0] + 1}.{key[1]}"


def log_heading(tracked: Tracked, facts: LogFacts, now_s: int) -> tuple[dict[str, Any], Account]:
    """Return the fields of :class:`LogReport`, and the account up to now.

    ``now_s`` is mission elapsed time; at least one phase has begun.
    """
    account = asrun_account(tracked, now_s)
    phase = tracked.phases[-1]
    row = LogRow(
        file=inert(facts.name),
        events=facts.events,
        head=facts.head,
        baseline=tracked.ground.baseline.baseline,
        hardware=tracked.ground.baseline.title,
        phase=phase.procedure.procedure,
        phase_number=phase.number + 1,
        zero_utc=utc_text(tracked.zero_utc_s + phase.zero_s),
        damage=tuple(inert(fault) for fault in facts.faults),
    )
    fields = {
        "version": REPORT_VERSION,
        "cablewalk": __version__,
        "log": row,
        "now_utc": utc_text(tracked.zero_utc_s + now_s),
        "now_pet": pet(phase, now_s),
        "findings": told(account, facts, account.findings.items),
    }
    return fields, account


def told(account: Account, facts: LogFacts, findings: list[Finding]) -> tuple[FindingRow, ...]:
    """Return the warnings and errors among findings."""
    every = account.findings.items
    account.findings.items = [f for f in findings if f.severity > Severity.NOTE]
    try:
        rows = finding_rows(account, facts.sources)
    finally:
        account.findings.items = every
    # What stands in no step of the plan has its place in the log, not in a document.
    here = {"file": inert(facts.name), "line": None}
    return tuple(
        row.model_copy(update=here) if (row.step or "").startswith("log ") else row for row in rows
    )


def pet(phase: Phase, time_s: int) -> str:
    """Return mission elapsed seconds in a phase's elapsed time, H:MM."""
    return clock(time_s - phase.zero_s)


def entry_rows(tracked: Tracked) -> tuple[EntryRow, ...]:
    """Return every entry as recorded, corrections among them."""
    corrected = tracked.effective.corrected
    return tuple(
        entry_row(tracked, entry, corrected.get(entry.key, (None,))[-1])
        for entry in tracked.entries
    )


def entry_row(tracked: Tracked, entry: Entry, corrected_by: Key | None = None) -> EntryRow:
    """Return one entry as a row; a correction has the words of its entry, as they stand by it."""
    own = tracked.effective.texts.get(entry.key, entry.text)
    return EntryRow(
        number=number(entry.key),
        utc=utc_text(entry.utc_s),
        pet=clock(entry.pet_s),
        began_pet=None
        if entry.began_s is None
        else clock(entry.pet_s - (entry.utc_s - entry.began_s)),
        kind=entry.kind,
        actors=entry.actors,
        step=entry.step,
        action_number=None if entry.task is None else entry.task + 1,
        text=words(tracked, entry) if entry.action or entry.kind == "begin" else own,
        outcome=NEVER if entry.void else entry.outcome or "",
        reason=own if entry.kind == "action" else "",
        items=entry.items,
        entered_by=entry.entered_by,
        entered_utc=utc_text(entry.entered_s),
        witness=entry.witness,
        inspection=entry.inspection,
        lock_verified=entry.lock_verified,
        cap_fitted=entry.cap_fitted,
        corrects=number(entry.corrects),
        corrected_by=number(corrected_by),
        void=entry.void,
        open_item=entry.open_item,
        closes=number(entry.closes),
        doubt=entry.doubt,
        correction_reason=tracked.effective.why.get(entry.key, ""),
    )


def words(tracked: Tracked, entry: Entry) -> str:
    """Return what an entry says was done."""
    if entry.action is not None:
        return deed(tracked.ground.wiring, entry.action)
    if entry.kind == "begin":
        procedures = tracked.procedures
        known = entry.phase < len(procedures)
        return f"{procedures[entry.phase].procedure if known else 'a phase'} begins"
    return entry.text
