"""How wide a text is in the shipped font, read from the font's own tables.

Nothing is asked of Graphviz, so that a picture's positions follow from the documents alone.
Source of the tables' form: the OpenType specification, tables cmap (format 4), hhea, hmtx, head.
"""

from __future__ import annotations

import struct
from functools import cache, lru_cache
from typing import Final

from cablewalk.drawings.fonts import FONT_DIR

REGULAR: Final = "DejaVuSans.ttf"
BOLD: Final = "DejaVuSans-Bold.ttf"


@cache
def _advances(file: str) -> tuple[dict[int, float], float]:
    """Return character to width in ems, and the width of a character the font lacks."""
    raw = (FONT_DIR / file).read_bytes()
    tables = {}
    for n in range(struct.unpack_from(">H", raw, 4)[0]):
        tag, _sum, start, length = struct.unpack_from(">4sLLL", raw, 12 + 16 * n)
        tables[tag.decode("ascii")] = raw[start : start + length]
    (per_em,) = struct.unpack_from(">H", tables["head"], 18)
    (count,) = struct.unpack_from(">H", tables["hhea"], 34)
    widths = [struct.unpack_from(">H", tables["hmtx"], 4 * n)[0] / per_em for n in range(count)]

    def width(glyph: int) -> float:
        return float(widths[min(glyph, count - 1)])

    return {code: width(glyph) for code, glyph in _glyphs(tables["cmap"]).items()}, width(0)


def _glyphs(cmap: bytes) -> dict[int, int]:
    """Return character to glyph, from the table's subtable of format 4."""
    for n in range(struct.unpack_from(">H", cmap, 2)[0]):
        at = struct.unpack_from(">L", cmap, 8 + 8 * n)[0]
        if struct.unpack_from(">H", cmap, at)[0] == 4:
            break
    else:  # pragma: no cover - the shipped fonts have one
        raise ValueError("the font has no character table of format 4")
    double = struct.unpack_from(">H", cmap, at + 6)[0]
    found = {}
    for n in range(0, double, 2):
        end = struct.unpack_from(">H", cmap, at + 14 + n)[0]
        start, delta, offset = (
            struct.unpack_from(">H", cmap, at + 16 + double * (k + 1) + n)[0] for k in range(3)
        )
        for code in range(start, min(end, 0xFFFE) + 1):
            glyph = code
            if offset:
                here = at + 16 + double * 3 + n + offset + 2 * (code - start)
                glyph = struct.unpack_from(">H", cmap, here)[0]
            if glyph or not offset:
                found[code] = (glyph + delta) & 0xFFFF
    return found


def width_pt(text: str, size_pt: float, bold: bool = False) -> float:
    """Return how wide a line of text is, in points, without kerning."""
    widths, missing = _advances(BOLD if bold else REGULAR)
    return size_pt * sum(widths.get(ord(c), missing) for c in text)


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
