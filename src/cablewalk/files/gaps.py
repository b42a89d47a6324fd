"""By how much, or in what, a value misses what the model asks for."""

from __future__ import annotations

import re
from math import ceil, floor, isfinite
from typing import Any

from pydantic_core import ErrorDetails

from cablewalk.files.wording import clipped

_LIMITS = {
    "greater_than": ("gt", "below"),
    "greater_than_equal": ("ge", "below"),
    "less_than": ("lt", "above"),
    "less_than_equal": ("le", "above"),
}
_NUMBER_FIRST = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*([^\s\d.,:-].*)", re.DOTALL)
_DECIMAL_COMMA = re.compile(r"\s*([-+]?\d+),(\d+)\s*")
_CLASS = re.compile(r"\[([^\]]+)\]")
_DIGITS = 40
"""A longer text is compared with no number."""


def gap(detail: ErrorDetails) -> str:
    """Return the difference between what is written and what is asked for, or an empty text.

    Empty where found and expected say it all: a text that is none of the allowed words, a list
    where keys are wanted.
    """
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind in _LIMITS:
        key, side = _LIMITS[kind]
        return _beyond(value, float(context[key]), side)
    if kind in ("int_parsing", "int_from_float"):
        number = _number(value)
        if number is not None and number != floor(number):
            return f"it lies between {floor(number)} and {ceil(number)}"
        return _behind(value)
    if kind == "float_parsing":
        return _behind(value)
    if kind == "string_too_long":
        return f"{len(str(value).strip()) - context['max_length']:,} too many"
    if kind == "string_pattern_mismatch":
        return _misfit(str(value).strip(), str(context["pattern"]))
    return ""


def remedy(expected: str, value: Any) -> str:
    """Return the way out for a value that has to be another: what was meant, where that shows."""
    number = _number(value)
    if expected.startswith(("a number", "a whole number")) and isinstance(value, str):
        comma, first = _DECIMAL_COMMA.fullmatch(value), _NUMBER_FIRST.fullmatch(value)
        if number is not None and number < 0:
            return "take the minus away, or correct the value"
        if comma and len(value) <= _DIGITS:
            return f"write {comma[1]}.{comma[2]} with a point, or {comma[1]}{comma[2]}"
        if number is None and first and len(first[1]) <= _DIGITS:
            return f"write {first[1]} alone, without a unit or a remark"
    return "shorten it" if expected.endswith("characters") else "correct the value"


def _number(value: Any) -> float | None:
    """Return an ordinary number, or None where a value is none."""
    try:
        number = float(value) if len(str(value)) <= _DIGITS else None
    except (TypeError, ValueError):
        return None
    return number if number is not None and isfinite(number) else None


def _beyond(value: Any, limit: float, side: str) -> str:
    """Return by how much a number is beyond a limit."""
    number = _number(value)
    if number is None:
        return ""
    if number == limit:
        return f"{limit:g} itself is not allowed"
    return f"{abs(number - limit):,.10g} {side} that"


def _behind(value: Any) -> str:
    """Return what stands behind a number that should stand alone."""
    first = _NUMBER_FIRST.fullmatch(str(value))
    if first:
        return f"'{clipped(first[2].strip(), 20)}' stands behind the number"
    if _DECIMAL_COMMA.fullmatch(str(value)):
        return "a comma stands where a number has its point"
    return ""


def _misfit(text: str, pattern: str) -> str:
    """Return which characters keep a text from being an id, a name or a reference."""
    classes = _CLASS.findall(pattern)
    if "A-Z" not in pattern:
        return ""
    is_reference = "\\." in pattern
    if is_reference and text.count(".") != 1:
        return "there is no '.' in it" if "." not in text else "there are several '.' in it"
    strange = re.sub(f"[{'.' if is_reference else ''}{classes[-1]}]", "", text)
    if not strange:
        return f"it begins with '{clipped(text[:1])}'" if text[:1] in ("_", "-", ".", "+") else ""
    quoted = [f"'{clipped(c)}'" for c in dict.fromkeys(strange)]
    more = " …" if len(quoted) > 5 else ""
    return f"{', '.join(quoted[:5])}{more} cannot stand in it"
