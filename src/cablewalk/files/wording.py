"""Text from a file made harmless before it stands in a message."""

from __future__ import annotations

from typing import Any

from cablewalk.sheets.cell import inert as inert

CLIP = 60
"""Characters of a user's text that a message repeats."""


def clipped(text: str, limit: int = CLIP) -> str:
    """Return ``text`` harmless, and cut after ``limit`` characters with the full count told."""
    if len(text) <= limit:
        return inert(text)
    return f"{inert(text[:limit])}… ({len(text)} characters)"


def shown(value: Any) -> str:
    """Return what is written in a file as a few words for a message."""
    if value is None or value == "":
        return "nothing"
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list | tuple):
        return f"a list with {entries(len(value))}"
    return f"'{clipped(str(value))}'"


def entries(count: int) -> str:
    """Return a count of entries with its noun."""
    return "1 entry" if count == 1 else f"{count} entries"


def spoken(path: tuple[str | int, ...]) -> str:
    """Return a path as ``places/BENCH/halves``; list positions count from 1 as ``#1``."""
    if not path:
        return "the file"
    steps = [f"#{step + 1}" if isinstance(step, int) else clipped(step, 40) for step in path]
    return "/".join(steps)
