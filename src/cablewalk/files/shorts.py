"""The short forms the document models take, as data: for messages and for the JSON Schemas.

The models' before-validators decide; this table says in words and in JSON Schema what they
accept. A test holds the two together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel

from cablewalk.documents.actions import Action, Estimate, Walk
from cablewalk.documents.base import Bounded, Id, Name, Ref
from cablewalk.documents.hardware import Bag, Cap, Half, Interface, Person, Switch, Unit
from cablewalk.documents.harness import Harness, Leg
from cablewalk.documents.service import Line, Service, Strand, Through

_TEXT: dict[str, Any] = {"type": "string"}
_LIST: dict[str, Any] = {"type": "array", "items": {"type": "string"}}
_NULL: dict[str, Any] = {"type": "null"}


@dataclass(frozen=True, slots=True)
class Short:
    """How a model may be written without its keys."""

    words: str
    """For people."""
    schemas: tuple[dict[str, Any], ...]
    """For JSON Schema, beside the object."""


SHORTS: dict[type[BaseModel], Short] = {
    Interface: Short(
        "a count of contacts, or a list of contact names", ({"type": "integer"}, _TEXT, _LIST)
    ),
    Half: Short("'interface gender [terminal …]'", (_TEXT,)),
    Unit: Short("its kind (source, converter, load or store)", (_TEXT,)),
    Cap: Short("the half it is tethered to", (_TEXT,)),
    Person: Short("the kind (outside, inside, ground or vehicle)", (_TEXT,)),
    Switch: Short("nothing", (_NULL,)),
    Bag: Short("nothing", (_NULL,)),
    Harness: Short("a list of legs, each 'ID interface gender'", (_LIST,)),
    Leg: Short("'interface gender'", (_TEXT,)),
    Line: Short("'A.x to B.y [through C.z …]'", (_TEXT,)),
    Estimate: Short(
        "one number of minutes, or [best, likely, worst]",
        (
            {"type": "number"},
            _TEXT,
            {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3},
        ),
    ),
    Walk: Short("the place", (_TEXT,)),
}

ONE_FEED_KEYS = ("volts", "limit_a", "limit_source", "switches")
"""Keys of a single feed that may stand at its unit."""

EXTRA_KEYS: dict[type[BaseModel], tuple[str, ...]] = {
    Unit: ONE_FEED_KEYS,
    Service: ("clock", *Strand.model_fields),
}
"""Keys a model takes beside its fields, for the one thing that may be written in place."""

NOUNS: dict[type[BaseModel], str] = {Action: "an action", Interface: "an interface"}
"""Nouns that are not 'a' and the model's name in small letters."""


def _pattern(annotation: Any) -> str:
    """Return the pattern of an annotated text."""
    for part in get_args(annotation):
        if isinstance(part, Bounded) and "pattern" in part.bounds:
            return str(part.bounds["pattern"])
    raise LookupError(f"{annotation} has no pattern")


PATTERNS: dict[str, str] = {
    _pattern(Id): "an id: letters, digits, '_' and '-', with a letter or digit first",
    _pattern(Name): "a name: letters, digits, '+', '_' and '-'",
    _pattern(Ref): "'item.contact' or 'unit.terminal', or the word structure",
    _pattern(get_args(get_args(Through)[0])[0]): "a contact as 'P1.3', or a half as 'P1'",
}
"""Pattern of a text in the models to what it asks for."""


def noun(model: type[BaseModel]) -> str:
    """Return what a planner calls the thing a model stands for, with its article."""
    if model is Strand:
        return "a string"
    return NOUNS.get(model, f"a {model.__name__.lower()}")


def keys_of(model: type[BaseModel]) -> tuple[str, ...]:
    """Return all the keys a model takes as written in a file."""
    return (*model.model_fields, *(EXTRA_KEYS.get(model, ())))


def forms(model: type[BaseModel]) -> str:
    """Return in words how a model is written."""
    needed = [name for name, info in model.model_fields.items() if info.is_required()]
    keys = f"a group of keys with {', '.join(needed)}" if needed else "a group of keys"
    short = SHORTS.get(model)
    return f"{short.words}, or {keys}" if short else keys


def models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """Yield the models an annotation speaks of, through unions, dicts, tuples and Annotated."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        return
    parts = get_args(annotation)
    for part in parts[:1] if get_origin(annotation) is Annotated else parts:
        yield from models_in(part)


def model_at(model: type[BaseModel], path: tuple[str | int, ...]) -> type[BaseModel]:
    """Return the model that the end of a path belongs to: ``model`` or one within it.

    Keys of dicts, list positions and union tags are stepped over.
    """
    current, pending = model, None
    for step in path:
        if pending is None:
            info = current.model_fields.get(str(step))
            pending = next(models_in(info.annotation), None) if info else None
            if info is not None and pending is not None and not _is_container(info.annotation):
                current, pending = pending, None
        elif step != "[key]":
            current, pending = pending, None
    return current


@lru_cache(maxsize=4)
def owners(model: type[BaseModel]) -> dict[str, list[str]]:
    """Return each key of what a document of this kind is made of, with what bears such a key."""
    seen: list[type[BaseModel]] = []
    todo = [model]
    while todo:
        current = todo.pop()
        if current in seen:
            continue
        seen.append(current)
        for info in current.model_fields.values():
            todo.extend(models_in(info.annotation))
    found: dict[str, list[str]] = {}
    for each in seen:
        for key in keys_of(each) if each is not model else ():
            found.setdefault(key, []).append(noun(each))
    return {key: sorted(set(nouns)) for key, nouns in found.items()}


def _is_container(annotation: Any) -> bool:
    """Return whether models stand in a dict or tuple of the annotation."""
    origin = get_origin(annotation)
    if origin in (dict, tuple):
        return True
    if origin is None:
        return False
    parts = get_args(annotation)
    return any(_is_container(part) for part in (parts[:1] if origin is Annotated else parts))
