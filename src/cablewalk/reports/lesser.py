"""Services reduced or unproven, and the strings that are left."""

from __future__ import annotations

from pydantic import Field

from cablewalk.reports.base import Part, Pet, back_or_none, min_or_none, pet_at
from cablewalk.reports.cause import ReasonRow, reason_rows
from cablewalk.reports.outage import step_and_phase
from cablewalk.timeline.account import Account
from cablewalk.units import minutes
from cablewalk.walk.trace import Event, Trace


class SpellRow(Part):
    """A time in which a service was reduced, or up but unproven."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    by_step: str | None = Field(description="Id of the step that made it so; null: at the start.")
    by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    ended_by_step: str | None = Field(description="Id of the step that ended it; null: still so.")
    ended_by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    from_min: float = Field(description="When it began.")
    from_pet: Pet = Field(
        description="That moment in phase elapsed time; rounded up where the service was back then."
    )
    to_min: float | None = Field(description="When it ended; null: still so as the replay ends.")
    to_pet: Pet | None = Field(description="That moment, rounded up; or null.")
    duration_min: float = Field(description="How long; up to the replay's end if still so.")
    reasons: tuple[ReasonRow, ...] = Field(description="Why.")


class StringsLeftRow(Part):
    """Which strings of a service of several could carry it, from a moment on."""

    service: str = Field(description="Id of the service.")
    from_min: float = Field(description="From when on.")
    from_pet: Pet = Field(description="That moment in phase elapsed time.")
    by_step: str | None = Field(description="Id of the step; null: at the start.")
    by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    up: tuple[str, ...] = Field(description="Strings that are up.")
    available: tuple[str, ...] = Field(description="Cold strings that a switch would bring up.")
    need: int = Field(description="How many must be up.")


def spell_rows(account: Account, kind: str) -> tuple[SpellRow, ...]:
    """Return the spells of one kind, ``reduced`` or ``unproven``, by time, then by service."""
    trace = account.trace
    back = {(spell.service, spell.to_s) for spell in account.outages}
    rows = []
    for spell in sorted(account.lesser, key=lambda s: (s.from_s, s.service)):
        if spell.kind != kind:
            continue
        service = trace.wiring.services[spell.service]
        begun, ended = spell.lost_by, spell.restored_by
        by_step, by_phase = step_and_phase(account, begun)
        end_step, end_phase = step_and_phase(account, ended)
        rows.append(
            SpellRow(
                service=service.id,
                kind=service.kind,
                label=service.label,
                by_step=by_step,
                by_phase=by_phase,
                ended_by_step=end_step,
                ended_by_phase=end_phase,
                from_min=minutes(spell.from_s),
                from_pet=_told(
                    trace, spell.from_s, begun, is_back=(spell.service, spell.from_s) in back
                ),
                to_min=min_or_none(spell.to_s),
                to_pet=None
                if spell.to_s is None
                else _told(trace, spell.to_s, ended, is_back=True),
                duration_min=minutes(spell.duration_s(trace.end_s)),
                reasons=reason_rows(trace.wiring, spell.reasons),
            )
        )
    return tuple(rows)


def _told(trace: Trace, time_s: int, event: Event | None, is_back: bool) -> Pet:
    """Return a moment on the clock of its event's phase; where something is back, rounded up."""
    phase = event.task.phase if event else None
    found = back_or_none(trace, time_s, phase) if is_back else None
    return found or pet_at(trace, time_s, 0 if phase is None else phase)


def string_name(account: Account, string: int) -> str:
    """Return a string's id without the service's: ``a`` of ``heat.a``."""
    row = account.trace.wiring.strings[string]
    service = account.trace.wiring.services[row.service].id
    return row.id.removeprefix(f"{service}.")


def strings_left_rows(account: Account) -> tuple[StringsLeftRow, ...]:
    """Return every change of the strings left, by service, then by time."""
    trace = account.trace
    rows = []
    for left in account.strings_left:
        phase = left.phase
        rows.append(
            StringsLeftRow(
                service=trace.wiring.services[left.service].id,
                from_min=minutes(left.time_s),
                from_pet=pet_at(trace, left.time_s, phase or 0),
                by_step=left.step,
                by_phase=None if phase is None else account.procedures[phase].procedure,
                up=tuple(string_name(account, s) for s in left.up),
                available=tuple(string_name(account, s) for s in left.available),
                need=left.need,
            )
        )
    return tuple(rows)
