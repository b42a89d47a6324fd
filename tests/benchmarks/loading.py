"""Loading: a file to plain data with its lines known, and plain data to the models."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import yaml
from pydantic import BaseModel
from pydantic_core import SchemaValidator

from cablewalk.documents.baseline import Baseline
from cablewalk.files.nodes import gc_paused, parse
from cablewalk.files.place import Source, digest
from cablewalk.files.write import baseline_text

from .generate import documents, models
from .measure import Row, in_turn

HALVES = 800
_WRAPPERS = ("function-before", "function-after", "function-wrap")


def core_schema(model: type[BaseModel]) -> Any:
    """Return a model's core schema, built now if it has not been used yet."""
    model.model_rebuild()
    return model.__pydantic_core_schema__


def without_functions(schema: Any) -> Any:
    """Return a core schema without the functions around its parts: what is pydantic's own."""
    if isinstance(schema, list | tuple):
        return type(schema)(without_functions(part) for part in schema)
    if not isinstance(schema, dict):
        return schema
    if schema.get("type") in _WRAPPERS:
        bare = without_functions(schema["schema"])
        return {**bare, "ref": schema["ref"]} if "ref" in schema else bare
    return {key: without_functions(part) for key, part in schema.items()}


def load_rows(repeats: int) -> Iterator[Row]:
    """Yield the rows of reading and of validating."""
    baseline, _ = models(HALVES)
    raw = baseline_text(baseline).encode()
    path = ("harnesses", "WA7")

    def reading() -> Source:
        parsed = parse(raw, 0)
        assert parsed.data is not None
        return Source("b.yaml", digest(raw), parsed.text, parsed.lines, True)

    def asking() -> None:
        assert reading().line(path) is not None

    def plainly() -> object:
        return yaml.load(raw, Loader=yaml.CSafeLoader)

    with_lines, asked, theirs = in_turn(repeats, reading, asking, plainly)
    size = f"{len(raw) // 1024} KiB"
    yield Row(
        f"loading with line numbers, {size}", with_lines,
        "yaml.load with the C safe loader", theirs, at_most=1.0,
    )  # fmt: skip
    yield Row(
        "the same, and the first line asked for", asked,
        "yaml.load with the C safe loader", theirs,
    )  # fmt: skip
    yield from _validation_rows(repeats)


def _validation_rows(repeats: int) -> Iterator[Row]:
    """The same data, in the long form: pydantic's own cannot read the short forms."""
    short = documents(HALVES)[0]
    long = json.loads(Baseline.model_validate(short).model_dump_json())
    long["cablewalk"] = "1"
    own = SchemaValidator(without_functions(core_schema(Baseline)))
    checked = own.validate_python(long)
    assert checked.harnesses.keys() == long["harnesses"].keys()

    def validating() -> object:
        with gc_paused():
            return Baseline.model_validate(long)

    def owning() -> object:
        with gc_paused():
            return own.validate_python(long)

    def as_written() -> object:
        with gc_paused():
            return Baseline.model_validate(short)

    ours, theirs, written = in_turn(repeats, validating, owning, as_written)
    yield Row(
        "validation, the long form", ours,
        "pydantic's own: the schema without our functions", theirs, at_most=1.5,
    )  # fmt: skip
    yield Row(
        "the same hardware, in the short forms", written,
        "pydantic's own on the long form", theirs,
    )  # fmt: skip
