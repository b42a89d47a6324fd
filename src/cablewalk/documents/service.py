"""Services, strings, lines and clocks."""

from typing import Annotated, Any, Literal, Self

from pydantic import model_validator

from cablewalk.documents.base import (
    Bounded,
    Id,
    Ids,
    Label,
    Marked,
    Minutes,
    Name,
    Reader,
    Ref,
    Refs,
    Strict,
    Told,
    Words,
    as_list,
    as_words,
)

Through = Annotated[
    tuple[Annotated[str, Bounded(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.+-]*$", max_length=100)], ...],
    Reader(as_words),
]
"""Contacts (``P1.3``) or whole halves (``P1``) a line must pass."""


class Line(Strict):
    """A line joins two terminals. Short form ``A.x to B.y`` or ``A.x to B.y through P1.3 P4.3``.

    ``through``: what it must pass, where its ends are common with another string.
    ``parallel``: it is so many parallel conductors, each named by a contact it passes, of which
    ``need`` must be made (all, where not given).
    """

    a: Ref
    b: Ref
    through: Through = ()
    parallel: Refs = ()
    need: Annotated[int, Bounded(ge=1)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, str):
            words = value.split()
            if len(words) >= 3 and words[1] == "to":
                if len(words) == 3:
                    return {"a": words[0], "b": words[2]}
                if len(words) > 4 and words[3] == "through":
                    return {"a": words[0], "b": words[2], "through": tuple(words[4:])}
            raise ValueError(f"{value!r}: a line is written 'A.x to B.y [through C.z …]'")
        return value

    @model_validator(mode="after")
    def _count(self) -> Self:
        if self.a == self.b:
            raise ValueError("a line joins two different terminals")
        if self.need is not None and not self.parallel:
            raise ValueError("need counts parallel conductors: name them in parallel")
        if self.need is not None and self.need > len(self.parallel):
            raise Told(
                f"need is {self.need}, but parallel names {len(self.parallel)}",
                f"at most {len(self.parallel)}",
                f"{self.need - len(self.parallel)} more than there are",
                "name the other conductors in parallel, or lower need",
            )
        return self


class Parallel(Strict):
    """Parallel conductors of a power string, each named by a contact it passes."""

    hi: Refs = ()
    ret: Refs = ()
    need: Annotated[int, Bounded(ge=1)]


class Strand(Strict):
    """One way of providing a service (a *string* in the trade's word).

    A power string gives ``load`` (a unit, or its two terminals) and the ``feeds`` it accepts;
    which feeds reach it, with polarity, is computed. Any string may give ``lines``.
    ``cold`` strings name the switch whose being on selects them.
    """

    load: Annotated[tuple[str, ...], Reader(as_words)] = ()
    feeds: Ids = ()
    lines: Annotated[tuple[Line, ...], Reader(as_list)] = ()
    through: Through = ()
    parallel: Parallel | None = None
    terminated_by: Refs = ()
    cold: bool = False
    selected_by: Id | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.load:
            if len(self.load) > 2:
                raise ValueError("load is a unit, or its high and its return terminal")
            if len(self.load) == 2 and any("." not in end for end in self.load):
                raise ValueError("load with two entries names two terminals, high first")
            if not self.feeds:
                raise ValueError("a string with a load names the feeds it accepts")
        elif self.feeds or self.parallel:
            raise ValueError("feeds and parallel belong to a string with a load")
        elif not self.lines:
            raise ValueError("a string needs a load with feeds, or lines")
        if self.cold != (self.selected_by is not None):
            raise ValueError(
                "a cold string, and only a cold one, says which switch it is selected_by"
            )
        return self

    @property
    def load_terminals(self) -> tuple[str, str] | None:
        """The load's high and return terminal, or None for a string without a load."""
        if not self.load:
            return None
        if len(self.load) == 2:
            return self.load[0], self.load[1]
        unit = self.load[0]
        return (unit, "") if "." in unit else (f"{unit}.hi", f"{unit}.ret")


class Clock(Strict):
    """How long a service may be down, who says so, and under which conditions."""

    allowed_min: Minutes
    source: Label
    starts: Literal["power_off", "demate"] = "power_off"
    conditions: Words = ""
    resets_after_up_min: Minutes | None = None
    """Minutes up (and proven or not) after which the clock starts afresh; without it,
    outages accumulate."""

    @model_validator(mode="after")
    def _sourced(self) -> Self:
        if not self.source:
            raise ValueError("a clock names its source")
        return self


_STRING_KEYS = tuple(Strand.model_fields)


class Service(Marked):
    """What must not go dark: heater power, telemetry, data, video, bonding …

    Needs ``need`` of its strings (all, where not given), and the services in ``needs``.
    A service of one string may give the string's fields at the service itself.

    ``begins``: ``start`` (alive from the beginning), or ``established`` (alive once it is first
    up). ``arrives_with`` names the unit whose installation it waits for.
    """

    kind: Name
    strings: dict[Id, Strand]
    need: Annotated[int, Bounded(ge=1)] | None = None
    needs: Ids = ()
    recovery_min: Minutes = 0
    clocks: Annotated[tuple[Clock, ...], Reader(as_list)] = ()
    begins: Literal["start", "established"] = "start"
    arrives_with: Id | None = None

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        value = dict(value)
        if "clock" in value:
            if "clocks" in value:
                raise ValueError("give clock or clocks, not both")
            value["clocks"] = value.pop("clock")
        own = {k: value.pop(k) for k in _STRING_KEYS if k in value}
        if own:
            if "strings" in value:
                raise ValueError("give strings, or one string's fields at the service, not both")
            value["strings"] = {"only": own}
        return value

    @model_validator(mode="after")
    def _count(self) -> Self:
        if not self.strings:
            raise ValueError("a service needs at least one string")
        if self.need is not None and self.need > len(self.strings):
            raise Told(
                f"need is {self.need}, and the strings are {', '.join(self.strings)}",
                f"at most {len(self.strings)}",
                f"{self.need - len(self.strings)} more than there are",
                "add the strings that are missing, or lower need",
            )
        hot = sum(not s.cold for s in self.strings.values())
        if self.need is None and hot < len(self.strings):
            raise ValueError("a service with a cold string says how many it needs")
        return self
