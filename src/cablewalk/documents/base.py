"""What every document model shares: strictness, identifiers, short text forms."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    model_validator,
)

from cablewalk.units import parse_clock

FORMAT_VERSION = 1
STRUCTURE = "structure"
SHELL = "shell"


class Strict(BaseModel):
    """A frozen model that forbids unknown keys and accepts only finite numbers."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        str_strip_whitespace=True,
    )

    @model_validator(mode="before")
    @classmethod
    def _empty_is_absent(cls, value: Any) -> Any:
        """Let a key with nothing after it count as not written, if it is a key at all.

        In ``{label: at the ship, in the water}`` a comma makes a key of the words after it.
        """
        if isinstance(value, dict) and None in value.values():
            known = cls.model_fields
            return {k: entry for k, entry in value.items() if entry is not None or k not in known}
        return value


Id = Annotated[
    str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]*$", max_length=64, min_length=1)
]
"""An identifier: letters, digits, ``_`` and ``-``; unique over the whole document."""

Name = Annotated[
    str, StringConstraints(pattern=r"^[A-Za-z0-9+][A-Za-z0-9_+-]*$", max_length=32, min_length=1)
]
"""A contact or terminal name within its half or unit."""

Ref = Annotated[
    str,
    StringConstraints(
        pattern=r"^(structure|[A-Za-z0-9][A-Za-z0-9_-]*\.[A-Za-z0-9+][A-Za-z0-9_+-]*)$",
        max_length=100,
    ),
]
"""``item.contact`` or ``unit.terminal``, or the word ``structure``."""

Label = Annotated[str, StringConstraints(max_length=200)]
"""Text as marked on the hardware, or where to look for it."""

Words = Annotated[str, StringConstraints(max_length=4000)]
"""Running text for people."""


def as_list(value: Any) -> Any:
    """Let a single item, or nothing, stand for a list."""
    if value is None:
        return ()
    if isinstance(value, str | dict):
        return (value,)
    return value


def as_mapping(value: Any) -> Any:
    """Let a list of ids, or nothing, stand for a mapping of ids to empty values."""
    if value is None:
        return {}
    if isinstance(value, list | tuple) and all(isinstance(v, str) for v in value):
        if len(set(value)) != len(value):
            raise ValueError("an id stands twice in this list")
        return dict.fromkeys(value)
    return value


def as_words(value: Any) -> Any:
    """Let a blank-separated text stand for a list of words."""
    if value is None:
        return ()
    if isinstance(value, str):
        return tuple(value.split())
    return value


def _check_clock(text: str) -> str:
    parse_clock(text)
    return text


Ids = Annotated[tuple[Id, ...], BeforeValidator(as_list)]
Refs = Annotated[tuple[Ref, ...], BeforeValidator(as_words)]
Texts = Annotated[tuple[Words, ...], BeforeValidator(as_list)]
ClockText = Annotated[str, AfterValidator(_check_clock)]
"""A time as ``H:MM``, may be negative."""

Positive = Annotated[float, Field(gt=0, le=1_000_000)]
NotNegative = Annotated[float, Field(ge=0, le=1_000_000)]
Minutes = Annotated[float, Field(ge=0, le=1_000_000)]


class Marked(Strict):
    """Something a worker can see: its label as marked, and where to look for it."""

    label: Label = ""
    where: Label = ""
