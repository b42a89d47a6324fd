"""How wide a text is in the shipped font, read from the font's own tables.

Nothing is asked of Graphviz, so that a picture's positions follow from the documents alone.
"""

from __future__ import annotations

from functools import cache, lru_cache

from cablewalk.drawings.fontfile import font_file


class _Widths(dict[str, float]):
    """Character to width in ems; one the font lacks is as wide as the font's first glyph."""

    lacking: float = 0.0

    def __missing__(self, char: str) -> float:
        return self.lacking


@cache
def _widths(bold: bool) -> _Widths:
    """Return how wide each character is, in ems."""
    font = font_file(bold)
    found = _Widths((char, font.advance(g) / font.per_em) for char, g in font.glyphs.items())
    found.lacking = font.advance(0) / font.per_em
    return found


@lru_cache(maxsize=16384)
def width_pt(text: str, size_pt: float, bold: bool = False) -> float:
    """Return how wide a line of text is, in points, without kerning."""
    return size_pt * sum(map(_widths(bold).__getitem__, text))


@lru_cache(maxsize=4096)
def clipped(text: str, room_pt: float, size_pt: float, bold: bool = False) -> str:
    """Return ``text``, cut with an ellipsis where it is wider than ``room_pt``."""
    if width_pt(text, size_pt, bold) <= room_pt:
        return text
    room_pt -= width_pt("…", size_pt, bold)
    for length, char in enumerate(text):
        room_pt -= width_pt(char, size_pt, bold)
        if room_pt < 0:
            text = text[:length]
            break
    return text.rstrip() + "…"


def wrapped(text: str, room_pt: float, size_pt: float, bold: bool = False) -> list[str]:
    """Return ``text`` as lines no wider than ``room_pt``, broken at blanks; at least one line."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and width_pt(longer, size_pt, bold) > room_pt:
            lines.append(line)
            line = word
        else:
            line = longer
    return [clipped(each, room_pt, size_pt, bold) for each in (*lines, line)]
