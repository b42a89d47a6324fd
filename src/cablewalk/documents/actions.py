"""Actions: what one pair of hands does, one verb each."""

from itertools import pairwise
from typing import Annotated, Any, Final, Self

from pydantic import model_validator

from cablewalk.documents.base import (
    Bounded,
    Id,
    Ids,
    Label,
    Minutes,
    Name,
    Reader,
    Ref,
    Strict,
    Told,
    Words,
    as_list,
    as_words,
)


class Estimate(Strict):
    """Best, likely and worst minutes. Short form: one number, or a list of three."""

    best_min: Minutes
    likely_min: Minutes
    worst_min: Minutes

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, str | int | float):
            value = (value, value, value)
        if isinstance(value, list | tuple):
            if len(value) != 3:
                raise ValueError("minutes are one number, or best, likely and worst")
            return dict(zip(("best_min", "likely_min", "worst_min"), value, strict=True))
        return value

    @model_validator(mode="after")
    def _order(self) -> Self:
        if not self.best_min <= self.likely_min <= self.worst_min:
            given = {"best": self.best_min, "likely": self.likely_min, "worst": self.worst_min}
            falls = [f"{b} is less than {a}" for a, b in pairwise(given) if given[b] < given[a]]
            raise Told(
                f"minutes are {', '.join(f'{v:g} ({k})' for k, v in given.items())}",
                "minutes that rise: best, likely, worst",
                " and ".join(falls),
                "write them in this order",
            )
        return self


def _one(value: Any) -> Any:
    if isinstance(value, dict) and len(value) != 1:
        raise ValueError("one action names one item: write a separate action for each")
    return value


def _bare(value: Any) -> Any:
    """Let ``release: C1`` stand for all fasteners."""
    return {value: None} if isinstance(value, str) else _one(value)


def _walk(value: Any) -> Any:
    return {"to": value} if isinstance(value, str) else value


Pair = Annotated[dict[Id, Id], Reader(_one)]
Count = Annotated[int, Bounded(ge=1, le=500)]
Counted = Annotated[dict[Id, Count | None], Reader(_bare)]
At = Annotated[dict[Ref, Id], Reader(_one)]
Along = Annotated[
    dict[Annotated[str, Bounded(max_length=130)], Annotated[tuple[Id, ...], Reader(as_words)]],
    Reader(_one),
]
Tools = Annotated[tuple[Label, ...], Reader(as_list)]
States = dict[Annotated[str, Bounded(max_length=100)], Words]


class Walk(Strict):
    """Go to a place. ``carrying`` says that the slower, loaded speed applies."""

    to: Id
    carrying: bool = False


class Action(Strict):
    """One verb with what it acts on; ``minutes`` and ``by`` override the step's.

    ``reason`` is required by ``found`` and allowed everywhere. ``tools``, ``tools_out`` and
    ``tools_back`` keep the account of single tools; they stop no action.
    """

    mate: Pair | None = None
    """Free half to the half it is mated with: engaged, seated and lock verified."""
    engage: Pair | None = None
    """Begin a mate and leave it part-engaged."""
    seat: Pair | None = None
    """Mate, lock not verified."""
    lock: Id | None = None
    """Verify the lock of a seated half."""
    demate: Id | None = None
    park: Pair | None = None
    """Mate a free half to a parking half."""
    fit_cap: Pair | None = None
    """Cap to the half it goes on."""
    remove_cap: Id | None = None
    """Take this cap off its half: it hangs on its tether, or stays in hand."""
    tether: Id | None = None
    """Tether a held cap to its half or to this place."""
    pick_up: Id | None = None
    """Take a leg, cap or removed cover in hand."""
    let_go: Id | None = None
    """Leave a leg loose here; its half stays as it is."""
    release: Counted | None = None
    """Release fasteners of a cover: ``COVER`` for all, ``COVER: n`` for some."""
    fasten: Counted | None = None
    open: Id | None = None
    close: Id | None = None
    remove_cover: Id | None = None
    fit_cover: Id | None = None
    switch_off: Id | None = None
    block: Id | None = None
    """Block the close command of a switch that is off."""
    unblock: Id | None = None
    switch_on: Id | None = None
    reset: Id | None = None
    """Reset a tripped switch; it is then off."""
    take: Id | None = None
    """Take a harness, a leg or a cap out of the bag it is in."""
    pack: Pair | None = None
    """Put a held harness, leg or cap in a bag."""
    carry: Id | None = None
    leave: Id | None = None
    """Leave the bag one carries at this place."""
    hand_over: Pair | None = None
    """What one holds, to the other worker of a joint step."""
    pull_aside: Id | None = None
    restore: Id | None = None
    """Put a leg that was pulled aside back where it was."""
    tie: At | None = None
    """Segment to the tie point."""
    cut_tie: At | None = None
    route: Along | None = None
    """Segment (``W1.main``) or leg to the paths it is laid along."""
    restrain: Id | None = None
    """Hold a leg temporarily here."""
    stow: Pair | None = None
    """Leave a leg at a place or in a bag for later."""
    install: Id | None = None
    remove: Id | None = None
    """Remove a unit or panel."""
    walk: Annotated[Walk | None, Reader(_walk)] = None
    inspect: Id | None = None
    verify: States | Id | None = None
    """``ITEM: state`` checks a state; a service's id proves the service works."""
    expect: States | None = None
    go_call: Name | None = None
    """Give the GO other steps wait for."""
    wait: Minutes | None = None
    found: States | None = None
    """``ITEM: state`` or ``ITEM: state OTHER``: what was really there."""
    retire: Id | None = None
    """From here on nobody needs this service."""

    minutes: Estimate | None = None
    by: Ids = ()
    reason: Words = ""
    tools: Tools = ()
    """Tools it is done with, by the names they have in the bags: at hand, or in a bag there."""
    tools_out: dict[Label, Id] = {}
    """Tool to the bag it is taken out of as the action begins; its first worker then has it."""
    tools_back: dict[Label, Id] = {}
    """Tool to the bag it is put back in as the action ends."""

    @model_validator(mode="after")
    def _single(self) -> Self:
        given = [v for v in self.model_fields_set & _VERB_SET if getattr(self, v) is not None]
        if len(given) != 1:
            named = ", ".join(verb for verb in VERBS if verb in given) or "none"
            raise ValueError(f"an action has exactly one verb; this one has {named}")
        if self.found is not None and not self.reason:
            raise ValueError("found needs a reason")
        for states in (self.found, self.expect, self.verify):
            if isinstance(states, dict) and not states:
                raise ValueError("name at least one item and its state")
        return self

    @property
    def verb(self) -> str:
        """The one verb this action has."""
        for name in self.model_fields_set:
            if name in _VERB_SET and getattr(self, name) is not None:
                return name
        raise AssertionError("the model's own check lets no action be without a verb")

    @property
    def argument(self) -> Any:
        """What the verb acts on, as written."""
        return getattr(self, self.verb)


_EXTRAS: Final = ("minutes", "by", "reason", "tools", "tools_out", "tools_back")
VERBS: Final[tuple[str, ...]] = tuple(n for n in Action.model_fields if n not in _EXTRAS)
_VERB_SET: Final = frozenset(VERBS)
