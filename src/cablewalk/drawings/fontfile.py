"""The shipped font's own file: which glyph a character has, how wide it is, and a part of it.

Source of the tables' form: the OpenType specification, tables cmap (format 4), glyf, head, hhea,
hmtx, loca, maxp, and "Organization of an OpenType Font" for the directory and its checksums.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

from cablewalk.drawings.fonts import FONT_DIR

REGULAR: Final = "DejaVuSans.ttf"
BOLD: Final = "DejaVuSans-Bold.ttf"

_KEPT: Final = ("cvt ", "fpgm", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "prep")
"""Tables that draw glyphs by number; the rest serves text, which a PDF has in its own way."""
# Flags of a composite glyph's parts.
_WORDS, _SCALE, _MORE, _XY_SCALE, _TWO_BY_TWO = 0x1, 0x8, 0x20, 0x40, 0x80


@dataclass(frozen=True, slots=True)
class FontFile:
    """A TrueType font: its tables by tag, and what is read from them."""

    tables: dict[str, bytes]
    per_em: int
    glyphs: dict[str, int]
    """Character to the number of its glyph; 0 is the glyph of what the font lacks."""
    advances: tuple[int, ...]
    """How wide each glyph is, of ``per_em`` an em; the last stands for all after it."""

    def advance(self, glyph: int) -> int:
        """Return how wide a glyph is, of ``per_em`` an em."""
        return self.advances[min(glyph, len(self.advances) - 1)]

    def spans(self) -> tuple[int, ...]:
        """Return where each glyph begins in the table of outlines, and where the last ends."""
        (long,) = struct.unpack_from(">H", self.tables["head"], 50)
        loca = self.tables["loca"]
        if long:
            return struct.unpack(f">{len(loca) // 4}L", loca)
        return tuple(2 * n for n in struct.unpack(f">{len(loca) // 2}H", loca))

    def subset(self, glyphs: Iterable[int]) -> bytes:
        """Return a font file with the outlines of some glyphs only; their numbers stay."""
        spans, outlines = self.spans(), self.tables["glyf"]
        wanted: dict[int, bytes] = {}
        waiting = {0, *glyphs}
        while waiting:
            glyph = waiting.pop()
            wanted[glyph] = outlines[spans[glyph] : spans[glyph + 1]]
            waiting |= _parts(wanted[glyph]) - wanted.keys()
        loca, glyf = [], bytearray()
        metrics = bytearray(len(self.tables["hmtx"]))
        for glyph in range(len(spans) - 1):
            loca.append(len(glyf))
            if glyph in wanted:
                glyf += wanted[glyph] + bytes(-len(wanted[glyph]) % 4)
                if glyph < len(self.advances):
                    at = slice(4 * glyph, 4 * glyph + 4)
                    metrics[at] = self.tables["hmtx"][at]
        head = bytearray(self.tables["head"])
        struct.pack_into(">H", head, 50, 1)
        return _file(
            self.tables
            | {
                "head": bytes(head),
                "glyf": bytes(glyf),
                "hmtx": bytes(metrics),
                "loca": struct.pack(f">{len(loca) + 1}L", *loca, len(glyf)),
            }
        )


def _parts(outline: bytes) -> set[int]:
    """Return the glyphs that a composite glyph is made of; none for a simple one."""
    found: set[int] = set()
    if len(outline) < 10 or struct.unpack_from(">h", outline)[0] >= 0:
        return found
    at, flags = 10, _MORE
    while flags & _MORE:
        flags, glyph = struct.unpack_from(">HH", outline, at)
        found.add(glyph)
        at += 8 if flags & _WORDS else 6
        at += 2 if flags & _SCALE else 4 if flags & _XY_SCALE else 8 if flags & _TWO_BY_TWO else 0
    return found


def _file(tables: dict[str, bytes]) -> bytes:
    """Return the tables that draw glyphs as a font file."""
    kept = [(tag, tables[tag]) for tag in _KEPT if tag in tables]
    power = len(kept).bit_length() - 1
    head = struct.pack(
        ">LHHHH", 0x10000, len(kept), 16 << power, power, 16 * len(kept) - (16 << power)
    )
    at = len(head) + 16 * len(kept)
    body = b""
    for tag, content in kept:
        padded = content + bytes(-len(content) % 4)
        total = sum(struct.unpack(f">{len(padded) // 4}L", padded)) & 0xFFFFFFFF
        head += struct.pack(">4sLLL", tag.encode("ascii"), total, at + len(body), len(content))
        body += padded
    return head + body


@cache
def font_file(bold: bool = False) -> FontFile:
    """Return the shipped font, regular or bold."""
    raw = (FONT_DIR / (BOLD if bold else REGULAR)).read_bytes()
    tables = {}
    for n in range(struct.unpack_from(">H", raw, 4)[0]):
        tag, _sum, start, length = struct.unpack_from(">4sLLL", raw, 12 + 16 * n)
        tables[tag.decode("ascii")] = raw[start : start + length]
    (per_em,) = struct.unpack_from(">H", tables["head"], 18)
    (count,) = struct.unpack_from(">H", tables["hhea"], 34)
    advances = struct.unpack_from(">" + "Hh" * count, tables["hmtx"])[::2]
    return FontFile(tables, per_em, _glyphs(tables["cmap"]), advances)


def _glyphs(cmap: bytes) -> dict[str, int]:
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
                found[chr(code)] = (glyph + delta) & 0xFFFF
    return found
