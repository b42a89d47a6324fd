"""What every document model shares: strictness, identifiers, short text forms.

Every command builds all these models as it starts, so what is spared here is spared each time.
Annotations of this room stand as they are, not as text (no ``from __future__``), which would be
compiled once more for each field; a model is built only as a document is validated; bounds and
readers are told to pydantic outright, which else works them out anew for each field.
"""

from collections import Counter
from collections.abc import Iterable
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, model_validator
from pydantic_core.core_schema import (
    CoreSchema,
    float_schema,
    int_schema,
    no_info_before_validator_function,
    str_schema,
)

from cablewalk.units import parse_clock

FORMAT_VERSION = 1
STRUCTURE = "structure"
SHELL = "shell"


_SCHEMAS: Final[dict[Any, Any]] = {float: float_schema, int: int_schema, str: str_schema}


class Bounded:
    """Bounds of a number or a text, by the names pydantic has for them."""

    def __init__(self, **bounds: float | str) -> None:
        self.bounds = bounds

    def __get_pydantic_core_schema__(self, kind: Any, _handler: Any) -> CoreSchema:
        schema: CoreSchema = _SCHEMAS[kind](**self.bounds)
        return schema


class Reader(BeforeValidator):
    """A function of the value alone that reads the short forms of a field."""

    def __get_pydantic_core_schema__(self, source_type: Any, handler: Any) -> CoreSchema:
        return no_info_before_validator_function(self.func, handler(source_type))  # type: ignore[arg-type]


class Told(ValueError):
    """What a model's own check refuses, in the four parts of a message.

    A plain ``ValueError`` does where one sentence, what is expected, tells all of it.
    """

    def __init__(self, found: str, expected: str, difference: str = "", way_out: str = "") -> None:
        super().__init__(f"{found}; expected: {expected}")
        self.found = found
        self.expected = expected
        self.difference = difference
        self.way_out = way_out


def twice(names: Iterable[str]) -> list[str]:
    """Return the names that stand more than once, each once, in order."""
    return [name for name, count in Counter(names).items() if count > 1]


class Strict(BaseModel):
    """A frozen model that forbids unknown keys and accepts only finite numbers."""

    model_config = ConfigDict(
        defer_build=True,
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
            known = cls.__pydantic_fields__  # what ``model_fields`` gives, without its look-ups
            given = value.copy()
            for key, entry in value.items():
                if entry is None and key in known:
                    del given[key]
            return given
        return value


Id = Annotated[str, Bounded(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]*$", max_length=64, min_length=1)]
"""An identifier: letters, digits, ``_`` and ``-``; unique over the whole document."""

Name = Annotated[
    str, Bounded(pattern=r"^[A-Za-z0-9+][A-Za-z0-9_+-]*$", max_length=32, min_length=1)
]
"""A contact or terminal name within its half or unit."""

Ref = Annotated[
    str,
    Bounded(
        pattern=r"^(structure|[A-Za-z0-9][A-Za-z0-9_-]*\.[A-Za-z0-9+][A-Za-z0-9_+-]*)$",
        max_length=100,
    ),
]
"""``item.contact`` or ``unit.terminal``, or the word ``structure``."""

Label = Annotated[str, Bounded(max_length=200)]
"""Text as marked on the hardware, or where to look for it."""

Words = Annotated[str, Bounded(max_length=4000)]
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
            raise Told(
                f"{', '.join(twice(value))} stands twice in this list",
                "each id once",
                way_out="take one out, or give it its own id",
            )
        return dict.fromkeys(value)
    return value


def as_words(value: Any) -> Any:
    """Let a blank-separated text stand for a list of words."""
    if value is None:
        return ()
    if isinstance(value, str):
        return tuple(value.split())
    return value


def as_numbers(value: Any) -> Any:
    """Let one number, or a blank-separated text of several, stand for a list of them."""
    return (value,) if isinstance(value, int | float) else as_words(value)


def _check_clock(text: str) -> str:
    parse_clock(text)
    return text


Ids = Annotated[tuple[Id, ...], Reader(as_list)]
Refs = Annotated[tuple[Ref, ...], Reader(as_words)]
Texts = Annotated[tuple[Words, ...], Reader(as_list)]
ClockText = Annotated[str, AfterValidator(_check_clock)]
"""A time as ``H:MM``, may be negative."""

Positive = Annotated[float, Bounded(gt=0, le=1_000_000)]
NotNegative = Annotated[float, Bounded(ge=0, le=1_000_000)]
Minutes = Annotated[float, Bounded(ge=0, le=1_000_000)]


class Marked(Strict):
    """Something a worker can see: its label as marked, and where to look for it."""

    label: Label = ""
    where: Label = ""
