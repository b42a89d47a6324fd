"""A model as plain data in the shortest form the models read back to an equal model."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo

from cablewalk.documents.base import as_list, as_mapping, as_words
from cablewalk.documents.hardware import Bag, Cap, Feed, Half, Interface, Person, Switch, Unit
from cablewalk.documents.harness import Harness, Leg
from cablewalk.documents.service import Line, Service
from cablewalk.files.shorts import ONE_FEED_KEYS

_INNER_WORDS = {"runs", "joins", "along", "ties", "unproven"}
"""Fields whose entries are lists of words."""


def plain(model: BaseModel) -> Any:
    """Return the model as dicts, lists, texts and None, with defaults left out."""
    data: dict[str, Any] = {}
    for name, info in type(model).model_fields.items():
        value = getattr(model, name)
        if info.is_required() or value != info.get_default(call_default_factory=True):
            data[name] = _field(name, info, value)
    shorten = _SHORTENERS.get(type(model))
    return shorten(model, data) if shorten else data


def _field(name: str, info: FieldInfo, value: Any) -> Any:
    readers = [m.func for m in info.metadata if isinstance(m, BeforeValidator)]
    if isinstance(value, dict):
        inner = _INNER.get(name, _value)
        out = {key: inner(entry) for key, entry in value.items()}
        if as_mapping in readers and out and all(entry is None for entry in out.values()):
            return list(out)
        return out
    if isinstance(value, tuple):
        if as_words in readers:
            return words(value)
        if name in _INNER_WORDS:
            return [words(entry) for entry in value]
        entries = [_value(entry) for entry in value]
        if as_list in readers and len(entries) == 1 and isinstance(entries[0], str | dict):
            return entries[0]
        return entries
    return _value(value)


def _value(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return plain(value)
    if isinstance(value, tuple):
        return [_value(entry) for entry in value]
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return value if value is None else str(value)


def words(value: Any) -> Any:
    """Return a tuple of texts as one text with blanks, where that reads back the same."""
    if not value:
        return None
    text = " ".join(value)
    return text if tuple(text.split()) == tuple(value) else list(value)


def _numbers(value: tuple[float, ...]) -> Any:
    return words([_value(number) for number in value])


_INNER = {**dict.fromkeys(_INNER_WORDS, words), "used_min": _numbers}
"""Fields that are groups to what shortens each of their entries."""


def _interface(model: Interface, data: dict[str, Any]) -> Any:
    count = len(model.contacts)
    if model.contacts == tuple(str(n + 1) for n in range(count)) and count <= 2000:
        data["contacts"] = str(count)
    return data["contacts"] if set(data) == {"contacts"} else data


def _half(model: Half, data: dict[str, Any]) -> Any:
    wired = words(model.wired) if isinstance(model.wired, tuple) else model.wired
    if set(data) <= {"interface", "gender", "wired"} and (wired is None or isinstance(wired, str)):
        return " ".join(filter(None, (model.interface, model.gender, wired)))
    return data


def _unit(model: Unit, data: dict[str, Any]) -> Any:
    if model.terminals == Unit(kind=model.kind).terminals:
        data.pop("terminals", None)
    if set(model.feeds) == {"self"}:
        feed = plain(model.feeds["self"])
        at_unit = {key: feed[key] for key in ONE_FEED_KEYS if key in feed}
        alone = Unit.model_validate({"kind": model.kind, **at_unit}) if _fits(model) else None
        if alone is not None and alone.feeds == model.feeds:
            del data["feeds"]
            data |= at_unit
    return data["kind"] if set(data) == {"kind"} else data


def _fits(model: Unit) -> bool:
    """Return whether the usual terminals of its kind carry the unit's single feed."""
    feed: Feed = model.feeds["self"]
    usual = Unit(kind=model.kind).terminals
    named = {feed.hi, feed.ret, *(feed.input or ())}
    return named <= set(usual) and (model.kind == "converter" or "hi" in usual)


def _bare(_: BaseModel, data: dict[str, Any]) -> Any:
    return data or None


def _only(key: str) -> Callable[[Any, dict[str, Any]], Any]:
    """Return a shortener for models written as one value where the other keys are usual."""

    def shorten(_: Any, data: dict[str, Any]) -> Any:
        return data[key] if set(data) == {key} and data[key] is not None else data

    return shorten


def _leg(model: Leg, data: dict[str, Any]) -> Any:
    return f"{model.interface} {model.gender}" if set(data) == {"interface", "gender"} else data


def _harness(_: Harness, data: dict[str, Any]) -> Any:
    legs = data["legs"]
    if set(data) == {"legs"} and all(isinstance(leg, str) for leg in legs.values()):
        return [f"{name} {leg}" for name, leg in legs.items()]
    return data


def _line(model: Line, data: dict[str, Any]) -> Any:
    if not set(data) <= {"a", "b", "through"}:
        return data
    through = words(model.through)
    return f"{model.a} to {model.b}" + (f" through {through}" if through else "")


def _service(model: Service, data: dict[str, Any]) -> Any:
    if set(model.strings) == {"only"}:
        own = data["strings"]["only"]
        # In the place of 'strings', so that the order of the keys stays the usual one.
        data = {
            key: value
            for name, entry in data.items()
            for key, value in (own.items() if name == "strings" else ((name, entry),))
        }
    if len(model.clocks) == 1:
        data["clock"] = data.pop("clocks")
    return data


_SHORTENERS: dict[type[BaseModel], Callable[[Any, dict[str, Any]], Any]] = {
    Interface: _interface,
    Half: _half,
    Unit: _unit,
    Switch: _bare,
    Bag: _bare,
    Cap: _only("on"),
    Person: _only("kind"),
    Harness: _harness,
    Leg: _leg,
    Line: _line,
    Service: _service,
}
