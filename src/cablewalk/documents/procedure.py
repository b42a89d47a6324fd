"""The procedure: who does what, in which order, how long it takes."""

from typing import Annotated, Any, Literal, Self

from pydantic import field_validator, model_validator

from cablewalk.documents.actions import VERBS, Action, Estimate
from cablewalk.documents.base import (
    Bounded,
    ClockText,
    Id,
    Ids,
    Label,
    Minutes,
    Name,
    Positive,
    Reader,
    Strict,
    Texts,
    Told,
    Words,
    as_list,
)
from cablewalk.documents.inhibits import Inhibit, Statements
from cablewalk.documents.phase_limits import PhaseLimits
from cablewalk.documents.waivers import Waiver
from cablewalk.findings import nearest


def _estimates(value: Any) -> Any:
    """Let one estimate stand for every kind of action."""
    if isinstance(value, str | int | float | list | tuple):
        return {"any": value}
    return value


class Speed(Strict):
    """How fast a worker moves along a path, and who says so."""

    free_m_per_min: Positive
    loaded_m_per_min: Positive
    source: Label


class Step(Strict):
    """What one or more workers do together, with the worker's words.

    ``mark: get_aheads`` alone makes the place where get-aheads enter.
    """

    id: Id = ""
    mark: Literal["get_aheads"] | None = None
    by: Ids = ()
    say: Words = ""
    indication: Words = ""
    """What is seen when it went as it should."""
    cautions: Texts = ()
    after: Ids = ()
    lead_min: dict[Id, Minutes] = {}
    """Step to the minutes that must pass after it ends."""
    go: Annotated[tuple[Name, ...], Reader(as_list)] = ()
    """GO calls this step waits for."""
    not_before: ClockText | None = None
    loses: Ids = ()
    """Services this step is meant to take down."""
    do: Annotated[tuple[Action, ...], Reader(as_list)] = ()

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.mark:
            if len(self.model_fields_set) > 1:
                raise ValueError("a mark stands alone")
        elif not self.id:
            raise ValueError("a step needs an id")
        return self


class GetAhead(Strict):
    """Work done only if time allows. ``when`` states what must be so for it to be possible."""

    id: Id
    priority: Annotated[int, Bounded(ge=1)]
    title: Label = ""
    when: dict[Annotated[str, Bounded(max_length=100)], Words] = {}
    steps: tuple[Step, ...]


class Procedure(Strict):
    """One phase of the work."""

    cablewalk: Literal["1", 1]
    procedure: Id
    title: Label = ""
    why: Words = ""
    assumes: Id | None = None
    """The baseline, or the procedure before, that this one is written for."""
    start_pet: ClockText = "0:00"
    """Phase elapsed time (PET) of the first step; negative: work before the hatch opens."""
    gap_min: Minutes | None = None
    """Minutes between the end of the phase before and the first step of this one."""
    roles: dict[Id, Id] = {}
    """Role to person; a step may name either."""
    minutes: Annotated[dict[Name, Estimate], Reader(_estimates)] = {}
    """Verb to best, likely and worst minutes; ``any`` stands for the verbs not named."""
    spread: Literal["beta", "triangular"] | None = None
    """How minutes vary between best, likely and worst: ``beta`` has the mean (b + 4l + w)/6."""
    phase_limits: PhaseLimits | None = None
    speed: Speed | None = None
    establishes: Ids = ()
    """Services this phase is to bring up for the first time."""
    planned_outages: dict[Id, Words] = {}
    """Service to the reason it may go down in this phase."""
    steps: tuple[Step, ...]
    get_aheads: tuple[GetAhead, ...] = ()
    statements: Statements = {}
    """What an actor vouches for by ``verify: {STATEMENT: true}``; inhibits may require it."""
    inhibits: Annotated[tuple[Inhibit, ...], Reader(as_list)] = ()
    waivers: Annotated[tuple[Waiver, ...], Reader(as_list)] = ()

    @field_validator("minutes")
    @classmethod
    def _verbs(cls, value: dict[str, Estimate]) -> dict[str, Estimate]:
        for verb in value:
            if verb not in VERBS and verb != "any":
                hint = nearest(verb, [*VERBS, "any"])
                raise Told(
                    f"minutes names {verb!r}, which is no action",
                    "verbs of actions, or 'any'",
                    way_out=hint or "see 'cablewalk schema' for the verbs",
                )
        return value

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if sum(step.mark is not None for step in self.steps) > 1:
            raise ValueError("get-aheads have one mark")
        if any(step.mark for ahead in self.get_aheads for step in ahead.steps):
            raise ValueError("a mark stands among the procedure's own steps")
        if self.get_aheads and not any(step.mark for step in self.steps):
            raise ValueError("get_aheads need a step 'mark: get_aheads' where they enter")
        return self
