"""Services first established, retired, re-routed, and those that only stood by."""

from __future__ import annotations

from pydantic import Field

from cablewalk.reports.base import Part, Pet, back_or_none, min_or_none, pet_or_none
from cablewalk.reports.lesser import string_name
from cablewalk.reports.outage import step_and_phase
from cablewalk.timeline.account import Account


class TurnRow(Part):
    """A service that was established, retired or re-routed."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    string: str | None = Field(
        description="The string that runs over other conductors; null unless re-routed."
    )
    by_step: str | None = Field(description="Id of the step that did it; null: as it began.")
    by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    at_min: float | None = Field(description="When; null as above.")
    at_pet: Pet | None = Field(
        description="That moment in phase elapsed time, rounded up for one first up; or null."
    )


class BystanderRow(Part):
    """A service that was lost though nothing of its own was altered."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")


def turn_rows(account: Account, kind: str) -> tuple[TurnRow, ...]:
    """Return the turns of one kind, ``established``, ``retired`` or ``re-routed``, by time."""
    rows = []
    told = back_or_none if kind == "established" else pet_or_none
    for turn in account.turns:
        if turn.kind != kind:
            continue
        service = account.trace.wiring.services[turn.service]
        step, phase = step_and_phase(account, turn.event)
        at = turn.at_s
        rows.append(
            TurnRow(
                service=service.id,
                kind=service.kind,
                label=service.label,
                string=None if turn.string is None else string_name(account, turn.string),
                by_step=step,
                by_phase=phase,
                at_min=min_or_none(at),
                at_pet=told(account.trace, at, turn.event.task.phase if turn.event else None),
            )
        )
    return tuple(rows)


def bystander_rows(account: Account) -> tuple[BystanderRow, ...]:
    """Return the services lost only because they share a feed or connector with the work."""
    services = account.trace.wiring.services
    return tuple(
        BystanderRow(service=services[n].id, kind=services[n].kind, label=services[n].label)
        for n in account.bystanders
    )
