"""How every service stands at one moment, and how one shifts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.continuity.services import State
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED
from cablewalk.reports.base import Part, Pet, pet_at
from cablewalk.reports.cause import ReasonRow, reason_rows
from cablewalk.reports.lesser import string_name
from cablewalk.timeline.account import Account
from cablewalk.units import minutes
from cablewalk.walk.trace import Event, Shift, View

Tag = Literal[
    "LOST", "BACK", "REDUCED", "FULL", "UNPROVEN", "PROVEN", "FIRST UP", "RETIRED", "SWAP"
]


class StringRow(Part):
    """How one string stands."""

    string: str = Field(description="Id of the string; the service's id where it has but one.")
    standing: str = Field(description="up, available (a switch would bring it up) or down.")
    unproven: bool = Field(description="Up, but disturbed and not verified since.")


class ServiceRow(Part):
    """How one service stands."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    state: str = Field(description="up, reduced, either with unproven; down, awaited or retired.")
    strings: tuple[StringRow, ...] = Field(description="Its strings, in the baseline's order.")


class ShiftRow(Part):
    """A service that stands otherwise after an action began or ended than before."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    tag: Tag = Field(
        description="What it comes to: LOST, BACK, REDUCED, FULL (no longer reduced), UNPROVEN, "
        "PROVEN, FIRST UP, RETIRED, or SWAP (the state is as before, by other strings)."
    )
    before: str = Field(description="Its state before, as in ServiceRow.")
    after: str = Field(description="Its state after.")
    strings_before: tuple[str, ...] = Field(description="The strings that were up.")
    strings_after: tuple[str, ...] = Field(description="The strings that are up.")
    begins: bool = Field(description="As the action began (true) or ended (false).")
    at_min: float = Field(description="When.")
    at_pet: Pet = Field(description="That moment in phase elapsed time.")
    recovery_min: float = Field(description="Minutes after BACK until it counts as back; else 0.")
    planned: bool = Field(description="False: lost, and neither step nor procedure plans it.")
    reasons: tuple[ReasonRow, ...] = Field(description="Why.")


def service_rows(account: Account, views: Sequence[View]) -> tuple[ServiceRow, ...]:
    """Return how every service stands, given its views, in the baseline's order."""
    return tuple(
        ServiceRow(
            service=service.id,
            kind=service.kind,
            label=service.label,
            state=view.words,
            strings=tuple(
                StringRow(
                    string=string_name(account, string),
                    standing=str(standing),
                    unproven=string in view.unproven,
                )
                for string, standing in zip(service.strings, view.strings, strict=True)
            ),
        )
        for service, view in zip(account.trace.wiring.services, views, strict=True)
    )


def shift_row(account: Account, event: Event, shift: Shift) -> ShiftRow | None:
    """Return what a shift comes to, or None where it shows in no word (a path within a string)."""
    trace = account.trace
    service = trace.wiring.services[shift.service]
    tag = _tag(shift.before, shift.after)
    if tag is None:
        return None
    return ShiftRow(
        service=service.id,
        kind=service.kind,
        label=service.label,
        tag=tag,
        before=shift.before.words,
        after=shift.after.words,
        strings_before=_up(account, service.strings, shift.before),
        strings_after=_up(account, service.strings, shift.after),
        begins=event.begins,
        at_min=minutes(event.time_s),
        at_pet=pet_at(trace, event.time_s, event.task.phase),
        recovery_min=minutes(service.recovery_s) if tag == "BACK" else 0.0,
        planned=shift.planned or tag != "LOST",
        reasons=reason_rows(trace.wiring, shift.reasons),
    )


def _up(account: Account, strings: Sequence[int], view: View) -> tuple[str, ...]:
    pairs = zip(strings, view.strings, strict=True)
    return tuple(string_name(account, s) for s, standing in pairs if str(standing) == "up")


def _tag(before: View, after: View) -> Tag | None:
    """Return the one word for a shift; the gravest where several fit."""
    if before.life != RETIRED and after.life == RETIRED:
        return "RETIRED"
    if before.life == AWAITED and after.life == ALIVE:
        return "FIRST UP"
    if after.life != ALIVE:
        return None
    if before.state is not after.state:
        return _moved(before.state, after.state)
    if bool(before.unproven) != bool(after.unproven):
        return "UNPROVEN" if after.unproven else "PROVEN"
    return "SWAP" if before.strings != after.strings else None


def _moved(before: State, after: State) -> Tag:
    if after is State.DOWN:
        return "LOST"
    if before is State.DOWN:
        return "BACK"
    return "REDUCED" if after is State.REDUCED else "FULL"
