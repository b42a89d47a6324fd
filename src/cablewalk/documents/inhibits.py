"""Inhibits: what must hold while contacts are touched, written as an expression."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Final

from pydantic import AfterValidator

from cablewalk.documents.base import Bounded, Id, Ids, Label, Minutes, Strict, Words

SWITCH_STATES: Final = ("off", "blocked", "on", "tripped")
"""What an expression may say of a switch; ``off`` holds for a blocked switch too."""

MAX_DEPTH: Final = 40
"""Brackets and ``not`` deeper than this are refused."""

_WORD = re.compile(r"\s*(\(|\)|[A-Za-z0-9][A-Za-z0-9_-]*)")
_JOINERS = frozenset({"and", "or", "not"})


@dataclass(frozen=True, slots=True)
class Fact:
    """A switch in a state; without a state, a statement or another inhibit."""

    name: str
    state: str = ""

    def __str__(self) -> str:
        return f"{self.name} {self.state}".rstrip()


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite of an expression."""

    part: Expression

    def __str__(self) -> str:
        return f"not {self.part}"


@dataclass(frozen=True, slots=True)
class Every:
    """All of these hold; of no parts, it holds."""

    parts: tuple[Expression, ...]

    def __str__(self) -> str:
        return f"({' and '.join(map(str, self.parts))})"


@dataclass(frozen=True, slots=True)
class Some:
    """At least one of these holds; of no parts, it does not."""

    parts: tuple[Expression, ...]

    def __str__(self) -> str:
        return f"({' or '.join(map(str, self.parts))})"


Expression = Fact | Not | Every | Some


class _Parser:
    """Recursive descent over ``or``, then ``and``, then ``not``, brackets and facts."""

    def __init__(self, text: str) -> None:
        self.words = _words(text)
        self.at = 0

    def next(self) -> str:
        return self.words[self.at] if self.at < len(self.words) else ""

    def whole(self) -> Expression:
        found = self.either(0)
        if self.next():
            raise ValueError(f"{self.next()!r} is not expected there: put 'and' or 'or' before it")
        return found

    def either(self, depth: int) -> Expression:
        parts = [self.both(depth)]
        while self.next() == "or":
            self.at += 1
            parts.append(self.both(depth))
        return parts[0] if len(parts) == 1 else Some(tuple(parts))

    def both(self, depth: int) -> Expression:
        parts = [self.single(depth)]
        while self.next() == "and":
            self.at += 1
            parts.append(self.single(depth))
        return parts[0] if len(parts) == 1 else Every(tuple(parts))

    def single(self, depth: int) -> Expression:
        if depth >= MAX_DEPTH:
            raise ValueError(f"brackets and 'not' go deeper than {MAX_DEPTH}")
        word = self.next()
        if word == "not":
            self.at += 1
            return Not(self.single(depth + 1))
        if word == "(":
            self.at += 1
            found = self.either(depth + 1)
            if self.next() != ")":
                raise ValueError("a bracket is not closed")
            self.at += 1
            return found
        if not word or word in _JOINERS or word == ")" or word in SWITCH_STATES:
            after = f" before {word!r}" if word else " at the end"
            raise ValueError(f"the name of a switch or statement is missing{after}")
        self.at += 1
        if self.next() in SWITCH_STATES:
            self.at += 1
            return Fact(word, self.words[self.at - 1])
        return Fact(word)


def _words(text: str) -> list[str]:
    words, at = [], 0
    while text[at:].strip():
        match = _WORD.match(text, at)
        if match is None:
            raise ValueError(f"{text[at:].strip()[:1]!r} has no meaning here")
        words.append(match.group(1))
        at = match.end()
    if not words:
        raise ValueError("an inhibit requires something: 'K1 blocked and (K2 off or joint-locked)'")
    return words


def parse(text: str) -> Expression:
    """Return an expression such as ``K1 blocked and (K2 off or transmitter-off)``.

    ``and`` binds closer than ``or``; a name without a state is a statement or another inhibit.

    Raises:
        ValueError: the text is no such expression; the message is for the user.
    """
    return _Parser(text).whole()


def facts(expression: Expression) -> list[Fact]:
    """Return the facts an expression names, each once, in order."""
    if isinstance(expression, Fact):
        return [expression]
    parts = (expression.part,) if isinstance(expression, Not) else expression.parts
    return list(dict.fromkeys(fact for part in parts for fact in facts(part)))


def _parsed(text: str) -> str:
    parse(text)
    return text


class Inhibit(Strict):
    """What must hold from before the first action it protects until its named release.

    ``requires``: an expression over switch states (``K1 blocked``), statements of this procedure,
    and other inhibits. Statements are verified by ``verify: {STATEMENT: true}``.
    """

    id: Id
    title: Label = ""
    requires: Annotated[str, Bounded(max_length=1000), AfterValidator(_parsed)]
    owner: Id
    """Person or role who sets it and verifies its end state."""
    lead_min: Minutes = 0
    """Minutes it must have held before the first action it protects."""
    set_by: Id | None = None
    """The step at whose end it holds; else it holds from just before its first action."""
    until: Id | None = None
    """The step that releases it, or ``end``: it holds to the end of the phase."""
    protects: Ids = ()
    """Steps or halves; none: every mate and demate between ``set_by`` and ``until``."""


Statements = dict[Id, Words]
"""Statement to what its verifier vouches for."""
