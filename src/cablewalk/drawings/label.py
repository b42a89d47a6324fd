"""Text made safe to stand in a DOT label, whatever it is."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final

import graphviz

from cablewalk.sheets.cell import inert

ELLIPSIS: Final = "…"

_BLANK: Final = frozenset("\t\n\v\f\r\x85\u2028\u2029")


def plain(text: str, limit: int) -> str:
    """Return ``text`` as one line of at most ``limit`` visible characters.

    Runs of white space become one blank; what is too long ends in an ellipsis, which counts.
    Characters without a shape (controls, bidi and zero-width marks, surrogates) are written as
    in tables, ``\\x07`` or ``\\u202e``: left out, two texts that differ would look alike, and left
    in, some make an SVG ill-formed or turn the line round.

    Raises:
        ValueError: ``limit`` is less than 1.
    """
    if limit < 1:
        raise ValueError(f"a label of at most {limit} characters cannot be written")
    if not text.isprintable():
        text = "".join(" " if _is_blank(c) else inert(c) for c in text)
    line = " ".join(text.split())
    if len(line) > limit:
        line = line[: limit - 1].rstrip() + ELLIPSIS
    return line


def _is_blank(character: str) -> bool:
    return character in _BLANK or unicodedata.category(character) == "Zs"


def label(text: str, limit: int = 80) -> str:
    """Return ``text`` as a label that Graphviz shows letter for letter.

    The result goes to the ``graphviz`` package as a label (never into DOT text by hand: that
    package adds the quotes). Backslashes, entities and ``<…>`` lose their meaning.

    Args:
        text: any string.
        limit: how many characters may show, at least 1.
    """
    return stacked((text,), limit)


def stacked(texts: Iterable[str], limit: int = 80) -> str:
    """Return several texts as one label of as many lines, each made safe and clipped alone."""
    lines = (plain(t, limit).replace("&", "&amp;").replace("\\", "\\\\") for t in texts)
    # A subclass of str: only so marked does the package not take "<…>" for HTML.
    inert: str = graphviz.nohtml("\\n".join(lines))
    return inert
