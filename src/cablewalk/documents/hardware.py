"""Fixed hardware: interfaces, halves, panels, units, switches, caps, covers, bags, people."""

from typing import Annotated, Any, Literal, Self

from pydantic import model_validator

from cablewalk.documents.base import (
    Bounded,
    Id,
    Ids,
    Label,
    Marked,
    Name,
    Positive,
    Reader,
    Ref,
    Strict,
    Told,
    as_words,
)
from cablewalk.documents.electrical import Draw
from cablewalk.documents.terminals import check_groups, check_once, lacking
from cablewalk.findings import nearest

Gender = Literal["pin", "socket"]


class Interface(Strict):
    """What decides which halves can mate; contact gender stands at the half.

    Short form: a count (``power4: 4``), or a list of contact names.
    Two halves mate when family, shell, insert and key agree and their genders differ.
    """

    contacts: tuple[Name, ...]
    family: Label = ""
    shell: Label = ""
    insert: Label = ""
    key: Label = ""

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, str | int):
            value = {"contacts": value}
        elif isinstance(value, list | tuple):
            value = {"contacts": tuple(value)}
        if isinstance(value, dict) and isinstance(value.get("contacts"), str | int):
            text = str(value["contacts"])
            if not (text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= 2000):
                raise ValueError("contacts is a count from 1 to 2000 or a list of names")
            value = {**value, "contacts": tuple(str(n + 1) for n in range(int(text)))}
        return value

    @model_validator(mode="after")
    def _names(self) -> Self:
        if not self.contacts:
            raise ValueError("an interface needs at least one contact")
        if "shell" in self.contacts:
            raise Told(
                "a contact is named 'shell'",
                "contact names other than 'shell'",
                "every half has its shell already, beside the contacts",
                "take 'shell' out, or rename that contact",
            )
        check_once(self.contacts, "contacts")
        return self


def split_half(value: Any) -> Any:
    """Read the short form of a half: ``interface gender [terminal …]``."""
    if isinstance(value, str):
        words = value.split()
        if len(words) < 2:
            raise ValueError(f"{value!r}: a half is written 'interface gender [terminal …]'")
        return {"interface": words[0], "gender": words[1], "wired": tuple(words[2:])}
    return value


class Half(Marked):
    """A fixed half: one side of a connector on a panel or a unit.

    Short form ``pwr4 socket SRC.hi SRC.ret``: interface, gender, then what each contact is
    wired to behind the panel, in contact order (``-`` leaves one out).
    """

    interface: Id
    gender: Gender
    wired: dict[Name, Ref] | tuple[str, ...] = ()
    through: Id | None = None
    """Another fixed half whose same-named contacts are joined to these (a feed-through)."""
    parking: bool = False
    """A dummy with no electrical joins, where a free half is kept safe."""
    cycles_limit: Annotated[int, Bounded(gt=0)] | None = None
    cycles_source: Label = ""

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        return split_half(value)

    @model_validator(mode="after")
    def _limit(self) -> Self:
        if self.cycles_limit is not None and not self.cycles_source:
            raise ValueError("cycles_limit needs cycles_source: who set this limit")
        return self


class Panel(Marked):
    """A surface that carries halves. ``bonded``: the shells of its halves join structure."""

    bonded: bool = True
    halves: dict[Id, Half] = {}


class Feed(Strict):
    """A source terminal pair, behind switches in series.

    ``input`` names the terminal pair that must itself be fed for this feed to be up
    (converter, remote switch, loop-through).
    """

    hi: Name = "hi"
    ret: Name = "ret"
    volts: Positive
    limit_a: Positive | None = None
    limit_source: Label = ""
    """Who set limit_a; empty: the baseline does not say."""
    switches: Ids = ()
    input: Annotated[tuple[Name, Name] | None, Reader(lambda v: v and as_words(v))] = None
    accepts: Ids = ()
    """Feeds the input takes; empty means any."""
    parallel_with: Ids = ()
    """Feeds meant to be joined with this one; any other join of two feeds is a cross-tie."""
    grounded: bool = False
    """The return is tied to structure inside the unit."""

    @model_validator(mode="after")
    def _limit(self) -> Self:
        if self.limit_source and self.limit_a is None:
            raise ValueError("limit_source says who set limit_a, which is not given")
        return self


UnitKind = Literal["source", "converter", "load", "store"]
_TERMINALS = {
    "source": ("hi", "ret"),
    "store": ("hi", "ret"),
    "load": ("hi", "ret"),
    "converter": ("in_hi", "in_ret", "out_hi", "out_ret"),
}


class Unit(Marked):
    """Equipment with terminals. Short form: its kind.

    A single feed may be given as ``volts``, ``limit_a``, ``limit_source`` and ``switches`` at the
    unit itself; its id is then the unit's.
    """

    kind: UnitKind
    terminals: Annotated[tuple[Name, ...], Reader(as_words)] = ()
    isolated: tuple[tuple[Name, ...], ...] = ()
    """Groups of terminals that pass no voltage to one another; without it, all do."""
    feeds: dict[Id, Feed] = {}
    draws: dict[Name, Draw] = {}
    """What it draws between its terminals; judged only where it is given."""
    halves: dict[Id, Half] = {}
    bonded: bool = True

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, str):
            value = {"kind": value}
        if not isinstance(value, dict):
            return value
        value = dict(value)
        own = ("volts", "limit_a", "limit_source", "switches")
        single = {k: value.pop(k) for k in own if k in value}
        kind = value.get("kind")
        if isinstance(kind, str) and kind in _TERMINALS and not value.get("terminals"):
            value["terminals"] = _TERMINALS[kind]
        if single:
            if "feeds" in value:
                raise ValueError("give either feeds, or volts, limit_a and switches at the unit")
            if kind == "converter":
                single |= {"hi": "out_hi", "ret": "out_ret", "input": ("in_hi", "in_ret")}
            value["feeds"] = {"self": single}
        return value

    @model_validator(mode="after")
    def _groups(self) -> Self:
        check_once(self.terminals, "terminals")
        if self.isolated:
            check_groups(self.isolated, self.terminals)
        for feed in self.feeds.values():
            for name in (feed.hi, feed.ret, *(feed.input or ())):
                if name not in self.terminals:
                    raise lacking("the feed", name, self.terminals, "unit")
        for draw in self.draws.values():
            for name in (draw.hi, draw.ret):
                if name not in self.terminals:
                    raise lacking("the draw", name, self.terminals, "unit")
            if draw.passes is not None and draw.passes not in self.feeds:
                raise Told(
                    f"the draw passes {draw.passes!r}, which is no feed of this unit",
                    f"one of its feeds: {', '.join(self.feeds) or 'it has none'}",
                    way_out=nearest(draw.passes, list(self.feeds)) or "name one of its feeds",
                )
        return self


class Switch(Marked):
    """A switch in series with feeds.

    ``commanded_through`` names the service without which it can be neither operated nor verified.
    ``by_hand``: a worker must be at its place.
    """

    commanded_through: Id | None = None
    by_hand: bool = False

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        return value or {}


class Cap(Marked):
    """A protective or electrical cap. Short form: the half it is tethered to.

    ``fits`` says ``interface gender`` of the halves it covers where ``on`` is not given.
    An electrical cap has ``joins`` (contacts shorted together) or ``terminals`` and ``wired``.
    """

    on: Id | None = None
    tethered: bool = True
    fits: Annotated[tuple[Id, Gender] | None, Reader(lambda v: v and as_words(v))] = None
    joins: tuple[Annotated[tuple[Name, ...], Reader(as_words)], ...] = ()
    terminals: Annotated[tuple[Name, ...], Reader(as_words)] = ()
    wired: dict[Name, Name] = {}

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        return {"on": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _covers(self) -> Self:
        if self.on is None and self.fits is None:
            raise ValueError("a cap needs 'on' (its half) or 'fits' (interface and gender)")
        for name in self.wired.values():
            if name not in self.terminals:
                raise lacking("wired", name, self.terminals, "cap")
        return self

    @property
    def electrical(self) -> bool:
        """Whether the cap counts in continuity while fitted."""
        return bool(self.joins or self.wired)


class Bag(Marked):
    """Holds harnesses, caps, tools and ties. What it holds now stands under ``now``."""

    tools: dict[Label, Annotated[int, Bounded(ge=0)]] = {}
    ties: Annotated[int, Bounded(ge=0)] = 0

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        return value or {}


PersonKind = Literal["outside", "inside", "ground", "vehicle"]


class Person(Marked):
    """Who acts: an outside worker, inside crew, ground, or an arm or vehicle (a movable place).

    Short form: the kind.
    """

    kind: PersonKind
    can_hold: Annotated[int, Bounded(ge=0)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        return {"kind": value} if isinstance(value, str) else value
