"""JSON Schemas of the documents, short forms included.

The models' own schemas know only the long forms: their before-validators are invisible to
pydantic. Scalars are let in as text as well as in their own type, because a checker may read the
YAML either way; limits then bind numbers only, and the loader has the last word.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel, BeforeValidator

from cablewalk.documents.actions import Action
from cablewalk.documents.base import FORMAT_VERSION, as_list, as_mapping, as_words
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Cap, Feed, Interface, Unit
from cablewalk.documents.harness import Harness
from cablewalk.documents.now import Now
from cablewalk.documents.procedure import Procedure
from cablewalk.documents.service import Service, Strand
from cablewalk.files.described import field_texts
from cablewalk.files.shorts import ONE_FEED_KEYS, SHORTS, models_in

Schema = dict[str, Any]

_TEXT: Schema = {"type": "string"}
_TEXTS: Schema = {"type": "array", "items": _TEXT}
_NULL: Schema = {"type": "null"}

_ALSO: dict[tuple[type[BaseModel], str], tuple[Schema, ...]] = {
    (Feed, "input"): (_TEXT,),
    (Cap, "fits"): (_TEXT,),
    (Action, "release"): (_TEXT,),
    (Action, "fasten"): (_TEXT,),
    (Interface, "contacts"): ({"type": "integer"}, _TEXT),
    (Procedure, "minutes"): ({"$ref": "#/$defs/Estimate"},),
}
"""Forms of single fields that their own readers take, beside the usual readers."""

_WORDS_WITHIN: set[tuple[type[BaseModel], str]] = {
    (Harness, "runs"),
    (Cap, "joins"),
    (Now, "along"),
    (Now, "ties"),
    (Now, "unproven"),
    (Action, "route"),
}
"""Fields whose entries may be words in one text."""

_NUMBERS_WITHIN: set[tuple[type[BaseModel], str]] = {(Now, "used_min")}
"""Fields whose entries may be one number, or numbers in one text."""


def schemas() -> dict[str, Schema]:
    """Return the JSON Schema (draft 2020-12) of each kind of document, by its key word."""
    return {"baseline": _schema(Baseline), "procedure": _schema(Procedure)}


def _schema(model: type[BaseModel]) -> Schema:
    schema = model.model_json_schema(mode="validation")
    definitions: Schema = schema.setdefault("$defs", {})
    for part in _all_models(model):
        _open_fields(part, schema if part is model else definitions[part.__name__])
    if "Unit" in definitions:
        _open_unit(definitions)
    if "Service" in definitions:
        _open_service(definitions)
    for short_model, short in SHORTS.items():
        name = short_model.__name__
        if name in definitions:
            definitions[name] = {
                "title": name,
                "description": definitions[name].pop("description", ""),
                "anyOf": [definitions[name], *(dict(s) for s in short.schemas)],
            }
    _as_text_too(schema)
    kind = model.__name__.lower()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:cablewalk:schema:{kind}:{FORMAT_VERSION}",
        **schema,
        "title": f"cablewalk {kind}, format {FORMAT_VERSION}",
    }


def _all_models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """Yield the model and all the models its fields speak of, each once."""
    seen = {model: None}
    queue = [model]
    while queue:
        current = queue.pop()
        yield current
        for info in current.model_fields.values():
            for part in models_in(info.annotation):
                if part not in seen:
                    seen[part] = None
                    queue.append(part)


def _open_fields(model: type[BaseModel], schema: Schema) -> None:
    """Say what a model's fields mean, and add the forms that their readers take."""
    properties = schema.get("properties", {})
    meanings = field_texts(model)
    for name, info in model.model_fields.items():
        field = properties[name]
        if name in meanings:
            field["description"] = meanings[name]
        if (model, name) in _WORDS_WITHIN:
            _open_within(field, [_TEXT, _NULL])
        if (model, name) in _NUMBERS_WITHIN:
            _open_within(field, [{"type": "number"}, _TEXT, _NULL])
        more: list[Schema] = [dict(form) for form in _ALSO.get((model, name), ())]
        for reader in (m.func for m in info.metadata if isinstance(m, BeforeValidator)):
            if reader is as_list:
                more += [field["items"], _NULL]
            elif reader is as_words:
                more += [_TEXT, _NULL]
            elif reader is as_mapping:
                more += [_TEXTS, _NULL]
        if more:
            properties[name] = _any_of(field, more)


def _any_of(field: Schema, more: list[Schema]) -> Schema:
    """Return a field's schema with more forms, its title and default staying outside."""
    outer: Schema = {key: field[key] for key in ("title", "default", "description") if key in field}
    inner = {key: value for key, value in field.items() if key not in outer}
    outer["anyOf"] = [inner, *(dict(form) for form in more)]
    return outer


def _open_within(field: Schema, more: list[Schema]) -> None:
    """Let more forms stand for each list within a field, such as words in one text."""
    for form in [field, *field.get("anyOf", ())]:
        if isinstance(form.get("items"), dict) and form["items"].get("type") == "array":
            form["items"] = _any_of(form["items"], more)
        for group in ("patternProperties", "additionalProperties"):
            entries = form.get(group)
            if not isinstance(entries, dict):
                continue
            if group == "patternProperties":
                form[group] = {k: _any_of(v, more) for k, v in entries.items()}
            else:
                form[group] = _any_of(entries, more)


def _open_unit(definitions: Schema) -> None:
    """Let the keys of a single feed stand at the unit."""
    own, feed = definitions[Unit.__name__]["properties"], definitions[Feed.__name__]["properties"]
    own.update({key: feed[key] for key in ONE_FEED_KEYS})


def _open_service(definitions: Schema) -> None:
    """Let the keys of a single string, and one clock, stand at the service."""
    service = definitions[Service.__name__]
    strand = definitions[Strand.__name__]["properties"]
    service["properties"].update({key: strand[key] for key in Strand.model_fields})
    service["properties"]["clock"] = service["properties"]["clocks"]
    service["required"].remove("strings")
    service["anyOf"] = [{"required": [key]} for key in ("strings", "load", "lines")]


def _as_text_too(schema: Any) -> None:
    """Let numbers and truth values in as text, and text in as a number or truth value."""
    number = r"^\s*[+-]?([0-9][0-9_]*\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*$"
    also: dict[str, Schema] = {
        "number": {"type": ["number", "string"], "pattern": number},
        "integer": {"type": ["integer", "string"], "pattern": r"^\s*[+-]?[0-9][0-9_]*(\.0*)?\s*$"},
        "boolean": {"type": ["boolean", "string"]},
        "string": {"type": ["string", "number", "boolean"]},
    }
    stack = [schema]
    while stack:
        current = stack.pop()
        if isinstance(current, dict):
            kind = current.get("type")
            if isinstance(kind, str) and kind in also:
                current.update(also[kind])
            stack.extend(value for key, value in current.items() if key not in ("enum", "default"))
        elif isinstance(current, list):
            stack.extend(current)
