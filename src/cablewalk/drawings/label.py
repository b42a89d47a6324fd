"""Text made safe to stand in a DOT label, whatever it is."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final

import graphviz

ELLIPSIS: Final = "…"

# Controls, format marks (bidi, zero width), surrogates, private use, unassigned: none has a
# shape of its own, and some make an SVG ill-formed or turn the line round.
_SHAPELESS = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


def plain(text: str, limit: int) -> str:
    """Return ``text`` as one line of at most ``limit`` visible characters.

    Runs of white space become one blank; characters without a shape are left out; what is too
    long ends in an ellipsis, which counts.

    Raises:
        ValueError: ``limit`` is less than 1.
    """
    if limit < 1:
        raise ValueError(f"a label of at most {limit} characters cannot be written")
    if not text.isprintable():
        text = "".join(c for c in text if c.isspace() or unicodedata.category(c) not in _SHAPELESS)
    line = " ".join(text.split())
    if len(line) > limit:
        line = line[: limit - 1].rstrip() + ELLIPSIS
    return line


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
