"""The key to the picture: a sample of every look that is worn in it, with its meaning."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from cablewalk.drawings.look import LOOKS

_LINES: Final = frozenset(
    {
        "routed", "packed", "in-hand", "loose", "restrained", "stowed", "pulled-aside",
        "hard-wired", "line-weak",
    }
)  # fmt: skip
"""Looks of lines; the others are of boxes."""


class Sample(NamedTuple):
    """One entry of the key."""

    look: str
    mark: str
    meaning: str
    is_line: bool


def samples(looks: Iterable[str]) -> list[Sample]:
    """Return the entries for looks that have a meaning, boxes before lines."""
    found = [
        Sample(name, LOOKS[name].mark, LOOKS[name].meaning, name in _LINES)
        for name in looks
        if LOOKS[name].meaning
    ]
    return sorted(found, key=lambda sample: sample.is_line)
