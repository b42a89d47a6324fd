"""Phase limits: when a phase must be over, turned back, decided; each with who says so."""

from typing import Annotated, Self

from pydantic import model_validator

from cablewalk.documents.base import ClockText, Id, Reader, Strict, Words, as_list
from cablewalk.documents.limits import Source


class Consumables(Strict):
    """The phase must be over by this phase elapsed time: air, cooling, battery, daylight."""

    by_pet: ClockText
    source: Source


class TurnBack(Strict):
    """The way back must have begun by this phase elapsed time.

    ``step``: the one that begins the way back.
    """

    by_pet: ClockText
    step: Id
    source: Source


class Decision(Strict):
    """A moment at which it is decided whether to go on.

    ``step``: what should be over by then. ``otherwise``: what is done where it is not.
    """

    id: Id
    by_pet: ClockText
    step: Id
    otherwise: Words = ""
    source: Source


class PhaseLimits(Strict):
    """What bounds a phase. What is not given is not judged; there are no defaults."""

    consumables: Consumables | None = None
    turn_back: TurnBack | None = None
    decisions: Annotated[tuple[Decision, ...], Reader(as_list)] = ()

    @model_validator(mode="after")
    def _whole(self) -> Self:
        seen = [decision.id for decision in self.decisions]
        if len(set(seen)) < len(seen):
            raise ValueError("each decision point bears its own id")
        return self
