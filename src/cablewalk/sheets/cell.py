"""The text of one cell: made harmless, measured, cut and wrapped."""

from __future__ import annotations

import unicodedata
from typing import Final

ELLIPSIS: Final = "…"


def inert(text: str) -> str:
    """Return ``text`` in one line, with all that has no shape of its own written as an escape.

    Line breaks, control and escape characters, bidirectional and zero-width marks, lone
    surrogates and unassigned characters become ``\\n``, ``\\x1b``, ``\\u202e`` …; letters of any
    script stay.
    """
    if text.isprintable():
        return text
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text
    )


def width(text: str) -> int:
    """Return how many columns of a terminal ``text`` takes.

    Combining marks take none, wide and full-width characters two (Unicode Standard Annex 11).
    """
    if text.isascii():
        return len(text)
    return sum(_columns(c) for c in text)


def _columns(character: str) -> int:
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def cut(text: str, limit: int) -> str:
    """Return as much of the beginning of ``text`` as fits into ``limit`` columns."""
    if width(text) <= limit:
        return text
    used = 0
    for n, character in enumerate(text):
        used += _columns(character)
        if used > limit:
            return text[:n]
    return text


def clipped(text: str, limit: int) -> str:
    """Return ``text``, ended by an ellipsis where it is wider than ``limit`` columns."""
    if width(text) <= limit:
        return text
    return cut(text, limit - 1).rstrip() + ELLIPSIS


def wrapped(text: str, limit: int, lines: int) -> list[str]:
    """Return ``text`` in lines of at most ``limit`` columns.

    Broken at blanks, and within a word only where the word alone is too wide. More than ``lines``
    lines are cut, the last of them ended by an ellipsis. An empty text is one empty line.

    Args:
        text: one line, as :func:`inert` gives it.
        limit: at least 2, so that any character fits.
        lines: at least 1.
    """
    found: list[str] = []
    line = ""
    for word in text.split(" "):
        if width(word) <= limit:
            joined = f"{line} {word}" if line else word
            if width(joined) <= limit:
                line = joined
                continue
        if line:
            found.append(line)
        while width(word) > limit:
            head = cut(word, limit)
            found.append(head)
            word = word[len(head) :]
        line = word
        if len(found) > lines:
            break
    found.append(line)
    if len(found) > lines:
        last = cut(found[lines - 1], limit - 1).rstrip()
        found[lines - 1 :] = [last + ELLIPSIS]
    return found
