"""Words and lines of a plot as SVG, and names that are a picture's own."""

from __future__ import annotations

from hashlib import sha256
from html import escape
from typing import Final

from cablewalk.files.wording import inert

OWN: Final = "\x00"
"""Stands for the name of the picture, in ids and in rules of style. No text shows it: each is
written without characters that have no shape."""


def owned(svg: str, word: str) -> str:
    """Return a picture with its own name for :data:`OWN`, so that two can stand in one page.

    The name tells what is in the picture: the same one has the same name.
    """
    return svg.replace(OWN, f"{word}-{sha256(svg.encode()).hexdigest()[:10]}")


def safe(text: str) -> str:
    """Return a text of any origin as it may stand between tags."""
    return escape(inert(text))


def svg_text(
    x: float, y: float, text: str, size: int = 12, bold: bool = False, anchor: str = "start"
) -> str:
    """Return one line of a text of any origin, its baseline at ``y``; units are px."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}"{weight}>'
        f"{safe(text)}</text>"
    )


def svg_line(x1: float, y1: float, x2: float, y2: float, style: str) -> str:
    """Return a straight line; ``style`` is written by the program, never by a user."""
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {style}/>'
