"""What pydantic refuses, told to a planner: found, expected, way out."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from cablewalk.documents.base import Told
from cablewalk.files.gaps import gap, remedy
from cablewalk.files.shorts import PATTERNS, forms, keys_of, model_at, noun, owners
from cablewalk.files.wording import clipped, entries, shown, spoken
from cablewalk.findings import Address, Finding, Path, Severity

_NUMBERS = {
    "greater_than": ("gt", "greater than"),
    "greater_than_equal": ("ge", "of at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "of at most"),
}
_EXPECTED = {
    "float_parsing": "a number",
    "float_type": "a number",
    "int_parsing": "a whole number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_parsing": "true or false",
    "bool_type": "true or false",
    "string_type": "text",
    "dict_type": "a group of keys ('key: value')",
    "tuple_type": "a list",
    "finite_number": "an ordinary number",
    "int_parsing_size": "a number of ordinary size",
}
_TAGS = ("dict[", "tuple[", "literal[", "function-")
_BAD_VALUE = {"finite_number", "int_parsing_size"}


def findings_of(
    error: ValidationError, model: type[BaseModel], data: Any, document: int
) -> list[Finding]:
    """Return one finding an error, in the order of the document's fields.

    Where a value may take one of several forms, pydantic tells what is wrong with each: only
    what concerns the form that was written is kept.
    """
    chosen: dict[Path, list[tuple[ErrorDetails, bool]]] = {}
    order: list[tuple[Path, list[tuple[ErrorDetails, bool]]]] = []
    for detail in error.errors(include_url=False):
        loc = detail["loc"]
        at = _union_tag(loc)
        if at is None:
            order.append((loc, [(detail, True)]))
            continue
        if loc[:at] not in chosen:
            chosen[loc[:at]] = []
            order.append((loc[:at], chosen[loc[:at]]))
        chosen[loc[:at]].append((detail, _fits(str(loc[at]), _value_at(data, loc[:at]))))
    found: list[Finding] = []
    for loc, details in order:
        fitting = [detail for detail, fits in details if fits]
        if fitting:
            found.extend(_finding(detail, model, data, document) for detail in fitting)
        else:
            found.append(_no_form(loc, [detail for detail, _ in details], data, document))
    return found


def _union_tag(loc: Path) -> int | None:
    """Return where in a location pydantic's name of a form stands, if it does.

    No key of a document can hold '[' except '[key]'; an unconstrained key such as a tool's
    label can, but nothing below it is a union.
    """
    for i, step in enumerate(loc):
        if step in ("constrained-str", "str"):
            return i
        if isinstance(step, str) and step.endswith("]") and step.startswith(_TAGS):
            return i
    return None


def _fits(tag: str, value: Any) -> bool:
    """Return whether the form named by a tag is the one that was written."""
    if tag.startswith("dict["):
        return isinstance(value, dict)
    if tag.startswith("tuple["):
        return isinstance(value, list | tuple)
    # A word that is none of the allowed ones may be meant for any form: tell them all.
    return isinstance(value, str) and not tag.startswith("literal[")


def _value_at(data: Any, path: Path) -> Any:
    """Return what is written at a path, or None; steps a short form stands for are skipped."""
    for step in path:
        if isinstance(data, dict):
            data = data.get(step, data)
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
    return data


def _step_of(data: Any, path: Path) -> str | None:
    """Return the id of the step of a procedure that a path lies in."""
    for i, key in enumerate(path[:-1]):
        if key == "steps" and isinstance(path[i + 1], int):
            step = _value_at(data, path[: i + 2])
            name = step.get("id") if isinstance(step, dict) else None
            return clipped(name) if isinstance(name, str) else None
    return None


def _build(
    rule: str,
    path: Path,
    data: Any,
    document: int,
    found: str,
    expected: str,
    way_out: str,
    difference: str = "",
) -> Finding:
    return Finding(
        rule,
        Severity.ERROR,
        Address(document, path),
        found,
        expected=expected,
        difference=difference,
        way_out=way_out,
        step=_step_of(data, path),
    )


def _no_form(loc: Path, details: list[ErrorDetails], data: Any, document: int) -> Finding:
    """Return one finding for a value that has none of the forms it may take."""
    wanted = dict.fromkeys(_expected(detail) for detail in details)
    written = _value_at(data, loc)
    return _build(
        "wrong-type", loc, data, document,
        f"{spoken(loc)} is {shown(written)}", " or ".join(wanted), "write it in one of these forms",
    )  # fmt: skip


def _expected(detail: ErrorDetails) -> str:
    """Return in words what the model asks for at one error."""
    kind, context = detail["type"], detail.get("ctx", {})
    if kind in _EXPECTED:
        return _EXPECTED[kind]
    if kind in _NUMBERS:
        key, words = _NUMBERS[kind]
        limit = context[key]
        return (
            f"a number {words} {limit:g}"
            if isinstance(limit, float)
            else (f"a number {words} {limit}")
        )
    if kind == "string_pattern_mismatch":
        return PATTERNS.get(context["pattern"], f"text of the form {context['pattern']}")
    if kind == "literal_error":
        return str(context["expected"])
    if kind == "string_too_long":
        return f"at most {context['max_length']} characters"
    if kind == "string_too_short":
        return "some text"
    if kind in ("too_long", "too_short"):
        limit = context.get("max_length", context.get("min_length"))
        return f"{'at most' if kind == 'too_long' else 'at least'} {entries(limit or 0)}"
    return clipped(detail["msg"], 200)


def _finding(detail: ErrorDetails, model: type[BaseModel], data: Any, document: int) -> Finding:
    """Return the finding for one error."""
    kind, path = detail["type"], detail["loc"]
    if kind == "extra_forbidden":
        return _unknown_key(path, model, data, document)
    tag = _union_tag(path)
    spot = path if tag is None else path[:tag] + path[tag + 1 :]
    if kind == "missing":
        return _missing(spot, model, detail, data, document)
    value = detail["input"]
    is_key = spot[-1:] == ("[key]",)
    if is_key:
        spot = spot[:-1]
        found = f"the key {shown(value)} stands in {spoken(spot[:-1])}"
    else:
        found = f"{spoken(spot)} is {shown(value)}"
    if kind in ("value_error", "assertion_error"):
        return _told_by_model(spot, model, detail, data, document)
    if kind in ("model_type", "model_attributes_type"):
        expected = forms(model_at(model, path))
        several = " or " in expected
        way_out = "write it in one of these forms" if several else "write its keys below it"
        return _build("wrong-type", spot, data, document, found, expected, way_out)
    expected = _expected(detail)
    bad_value = kind in _BAD_VALUE or kind not in _EXPECTED
    if value is None:
        way_out = "fill in the value, or leave the key out"
    elif kind == "literal_error":
        choices = [c.strip().strip("'") for c in expected.replace(" or ", ", ").split(",")]
        near = get_close_matches(str(value), choices, 1)
        way_out = f"did you mean '{near[0]}'?" if near else "write one of these"
        if spot == ("cablewalk",):
            expected = "1 (the version of the file format)"
            way_out = "write 'cablewalk: 1', or use a newer cablewalk"
    elif expected in ("a list", _EXPECTED["dict_type"]):
        way_out = f"write {expected} here"
    else:
        way_out = "rename the key" if is_key else remedy(expected, value)
    rule = "bad-value" if bad_value else "wrong-type"
    return _build(rule, spot, data, document, found, expected, way_out, gap(detail))


def _unknown_key(path: Path, model: type[BaseModel], data: Any, document: int) -> Finding:
    """Return the finding for a key the model does not have, with the nearest that it has."""
    owner = model_at(model, path[:-1])
    keys = keys_of(owner)
    key = str(path[-1])
    near = get_close_matches(key[:100], keys, 1, cutoff=0.6)
    listed = ", ".join(keys) if len(keys) <= 14 else f"{', '.join(keys[:14])} …"
    what = "the file" if owner is model else noun(owner)
    others = [] if near else owners(model).get(key, [])
    elsewhere = f"it is a key of {' and of '.join(others[:3])}" if others else ""
    return _build(
        "unknown-key", path, data, document,
        f"the key '{clipped(key)}' in {spoken(path[:-1])} is not known",
        f"the keys of {'a ' + model.__name__.lower() if owner is model else what}: {listed}",
        f"did you mean '{near[0]}'?"
        if near
        else f"remove it, or move it to {' or '.join(others[:3])}"
        if others
        else "remove it, or check where it belongs",
        elsewhere,
    )  # fmt: skip


def _missing(
    path: Path, model: type[BaseModel], detail: ErrorDetails, data: Any, document: int
) -> Finding:
    """Return the finding for a key, or an entry of a list of fixed length, that is not there."""
    key, owner = path[-1], path[:-1]
    if isinstance(key, int):
        return _build(
            "wrong-type", owner, data, document,
            f"{spoken(owner)} has {entries(len(detail['input']))}",
            f"at least {entries(key + 1)}", "add what is missing",
            f"{key + 1 - len(detail['input'])} too few",
        )  # fmt: skip
    start = "begin the file with 'cablewalk: 1'"
    written = _value_at(data, owner)
    has = [clipped(str(k), 40) for k in written] if isinstance(written, dict) else []
    return _build(
        "missing-key", path, data, document,
        f"{spoken(owner)} has no key '{key}'",
        forms(model_at(model, owner)),
        start if path == ("cablewalk",) else f"add '{key}: …'",
        f"it has {', '.join(has[:8])}{' …' if len(has) > 8 else ''}" if has else "",
    )  # fmt: skip


def _told_by_model(
    path: Path, model: type[BaseModel], detail: ErrorDetails, data: Any, document: int
) -> Finding:
    """Return the finding for what a model's own check refuses, in that check's words."""
    reason = detail.get("ctx", {}).get("error")
    if isinstance(reason, Told):
        value = detail["input"]
        written = f" is {shown(value)}" if isinstance(value, str) else ""
        return _build(
            "bad-value", path, data, document,
            clipped(f"{spoken(path)}{written}: {reason.found}", 300),
            clipped(reason.expected, 300),
            clipped(reason.way_out, 200),
            clipped(reason.difference, 300),
        )  # fmt: skip
    sentence = str(reason) if reason is not None else detail["msg"]
    if sentence.endswith("is not a time of the form H:MM"):
        sentence = "a time of the form H:MM"
    # The checks of the short forms repeat the text, which is already told as found.
    sentence = sentence.removeprefix(f"{detail['input']!r}: ")
    return _build(
        "bad-value", path, data, document,
        f"{spoken(path)} is {shown(detail['input'])}",
        clipped(sentence, 300),
        "correct this entry, or see 'cablewalk schema' for all its forms",
    )  # fmt: skip
