"""Harnesses: legs, runs and segments."""

from typing import Annotated, Any, Literal, Self

from pydantic import model_validator

from cablewalk.documents.base import (
    Bounded,
    Id,
    Label,
    Marked,
    Name,
    Positive,
    Reader,
    Strict,
    Told,
    as_words,
)
from cablewalk.documents.hardware import Gender, split_half


class Leg(Marked):
    """One leg of a harness: it ends in a free half, or is hard-wired to a unit's terminals.

    Short form ``pwr4 pin``. The leg and the free half at its end share one id.
    """

    interface: Id | None = None
    gender: Gender | None = None
    hard_wired: Id | None = None
    """The unit whose terminals this leg's conductors are fixed to."""
    length_m: Positive | None = None
    diameter_mm: Positive | None = None
    cycles_limit: Annotated[int, Bounded(gt=0)] | None = None
    cycles_source: Label = ""

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        short = split_half(value)
        if isinstance(value, str) and short.pop("wired"):
            raise ValueError("a leg is written 'interface gender'; give its conductors as runs")
        return short

    @model_validator(mode="after")
    def _end(self) -> Self:
        half = self.interface is not None and self.gender is not None
        if half == (self.hard_wired is not None):
            raise ValueError(
                "a leg ends in a half (interface and gender) or is hard_wired, not both"
            )
        if self.cycles_limit is not None and not self.cycles_source:
            raise ValueError("cycles_limit needs cycles_source: who set this limit")
        return self


class Segment(Strict):
    """A stretch of harness between two legs or breakouts."""

    between: Annotated[tuple[Name, Name], Reader(as_words)]
    length_m: Positive | None = None
    diameter_mm: Positive | None = None
    gauge_awg: Annotated[int, Bounded(ge=0, le=40)] | None = None


class Harness(Marked):
    """A tree of segments and breakouts. Its segments are named ``harness.segment``.

    Short form, straight through: ``W1: [P1 pwr4 pin, P2 pwr4 pin]`` joins the same-named
    contacts of all its legs, shells too.

    ``runs``: each entry names the contacts one conductor joins (more than two is a splice):
    ``P1.1 P2.1``; ranges and ``*`` make several runs at once: ``P1.1-3 P2.4-6``, ``P1.* P2.*``
    (all contacts but the shell). Terminals of a hard-wired leg's unit may stand in a run.

    Without ``segments`` a two-leg harness has one, ``main``; one with more legs has one a leg,
    named as the leg, from a common breakout.
    """

    legs: dict[Id, Leg]
    runs: tuple[Annotated[tuple[str, ...], Reader(as_words)], ...] | Literal["straight"] = (
        "straight"
    )
    segments: dict[Name, Segment] = {}
    length_m: Positive | None = None
    diameter_mm: Positive | None = None
    gauge_awg: Annotated[int, Bounded(ge=0, le=40)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, list | tuple):
            legs: dict[str, str] = {}
            for text in value:
                words = str(text).split()
                if len(words) != 3:
                    raise ValueError(f"{text!r}: a leg in a list is written 'ID interface gender'")
                if words[0] in legs:
                    raise Told(
                        f"two legs are named {words[0]}",
                        "each leg with an id of its own",
                        f"'{legs[words[0]]}' and '{' '.join(words[1:])}'",
                        "rename one of the two, or take it out",
                    )
                legs[words[0]] = " ".join(words[1:])
            value = {"legs": legs}
        return value

    @model_validator(mode="after")
    def _shape(self) -> Self:
        if len(self.legs) < 2:
            raise ValueError("a harness needs at least two legs")
        if self.runs == "straight":
            if any(leg.hard_wired for leg in self.legs.values()):
                raise ValueError("a harness with a hard-wired leg must give its runs")
            kinds = {leg.interface for leg in self.legs.values()}
            if len(kinds) > 1:
                named = (f"{key} is {leg.interface}" for key, leg in self.legs.items())
                raise Told(
                    "its legs have different interfaces, and it has no runs",
                    "one interface at all legs of a harness that is straight through",
                    ", ".join(named),
                    "give its runs, or correct the interface",
                )
        for run in self.runs if self.runs != "straight" else ():
            if len(run) < 2:
                raise ValueError("a run joins at least two contacts")
        if self.segments:
            self._check_tree()
        return self

    def _check_tree(self) -> None:
        """Raise unless the segments form one tree whose ends are exactly the legs."""
        degree: dict[str, int] = {}
        group: dict[str, str] = {}

        def root(name: str) -> str:
            while group.setdefault(name, name) != name:
                name = group[name]
            return name

        for key, segment in self.segments.items():
            a, b = segment.between
            for end in (a, b):
                degree[end] = degree.get(end, 0) + 1
            if root(a) == root(b):
                raise ValueError(f"segment {key} closes a loop: a harness is a tree")
            group[root(a)] = root(b)
        ends = {name for name, count in degree.items() if count == 1}
        if ends != set(self.legs):
            no_legs, no_ends = sorted(ends - set(self.legs)), sorted(set(self.legs) - ends)
            wrong = {"ends a segment and is no leg": no_legs, "is a leg at no such end": no_ends}
            raise Told(
                "the loose ends of its segments are not its legs",
                "each leg at the end of one segment, and no other loose end",
                ", ".join(f"{name} {how}" for how, names in wrong.items() for name in names),
                "correct 'between' of the segments, or the legs",
            )
        if len({root(name) for name in degree}) > 1:
            raise ValueError("the segments fall into separate pieces: a harness is one tree")
