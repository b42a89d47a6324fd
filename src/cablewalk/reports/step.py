"""A step as it was replayed, with its actions and what came of them."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.base import Part, Pet
from cablewalk.reports.standing import ShiftRow

Outcome = Literal["done", "begun", "not possible", "not reached"]


class ChangeRow(Part):
    """How an item stood before an action and stands after it."""

    item: str = Field(description="Id of the item; of a leg with a half, the half's.")
    kind: str = Field(description="Kind of the item: half, leg, cap, cover, switch and others.")
    label: str = Field(description="Its label as marked; may be empty.")
    before: str = Field(description="State and partner before, in the words of expect.")
    after: str = Field(description="State and partner after.")


class ActionRow(Part):
    """One action of a step."""

    verb: str = Field(description="The verb, as in the procedure.")
    text: str = Field(description="The action in words.")
    people: tuple[str, ...] = Field(description="Ids of those who do it.")
    begin_min: float = Field(description="When it begins, or would.")
    end_min: float = Field(description="When it ends, or would.")
    begin_pet: Pet = Field(description="begin_min in phase elapsed time.")
    end_pet: Pet = Field(description="end_min in phase elapsed time.")
    best_min: float = Field(description="Minutes it takes at best.")
    likely_min: float = Field(description="Minutes it likely takes; the replay goes by these.")
    worst_min: float = Field(description="Minutes it takes at worst.")
    outcome: Outcome = Field(
        description="done; begun (the replay stopped before its end); not possible; not reached."
    )
    refusal: str = Field(description="Why it is not possible; else empty.")
    because_of: str | None = Field(
        description="Id of the step that could not be done, from which this follows; or null."
    )
    changes: tuple[ChangeRow, ...] = Field(description="What it changed, item by item.")
    shifts: tuple[ShiftRow, ...] = Field(description="The services it shifted.")


class StepRow(Part):
    """One step."""

    phase: str = Field(description="Id of its procedure.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    id: str = Field(description="Its id.")
    get_ahead: str | None = Field(description="Id of the get-ahead it belongs to, or null.")
    by: tuple[str, ...] = Field(description="Who does it, as written: roles or people.")
    people: tuple[str, ...] = Field(description="Ids of all the people at work in it.")
    begin_min: float = Field(description="When it begins, or would.")
    end_min: float = Field(description="When it ends, or would.")
    begin_pet: Pet = Field(description="begin_min in phase elapsed time.")
    end_pet: Pet = Field(description="end_min in phase elapsed time.")
    say: str = Field(description="The worker's words; may be empty.")
    indication: str = Field(description="What is seen when it went well; may be empty.")
    cautions: tuple[str, ...] = Field(description="What to beware of.")
    actions: tuple[ActionRow, ...] = Field(description="Its actions, in order.")
    findings: tuple[int, ...] = Field(
        description="Positions, from 0, of its findings in the report's list."
    )
