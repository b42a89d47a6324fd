"""A font inside a PDF: only the glyphs that are shown, and which characters they are.

Source: ISO 32000-1 (PDF 1.7), 9.7 Composite Fonts, 9.8 Font Descriptors, 9.9 Embedded Font
Programs, 9.10.3 ToUnicode CMaps.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from cablewalk.drawings.fontfile import FontFile, font_file

_SYMBOLIC: Final = 4
"""Flag of a font whose glyphs are named by number (ISO 32000-1, table 123)."""
_CMAP_BLOCK: Final = 100
"""Entries one block of a character map may hold (ISO 32000-1, 9.10.3 and Adobe TN 5014)."""


def stream(content: bytes, extra: str = "") -> bytes:
    """Return a stream object, compressed."""
    packed = zlib.compress(content, 6)
    head = f"<< /Length {len(packed)} /Filter /FlateDecode{extra} >>\nstream\n"
    return head.encode("ascii") + packed + b"\nendstream"


@dataclass(slots=True)
class Embedded:
    """One face in a PDF; it grows by what is shown, so that most pictures share its bytes."""

    bold: bool
    _chars: set[str] = field(default_factory=set)
    _objects: list[bytes] = field(default_factory=list)
    _first: int = 0

    @property
    def font(self) -> FontFile:
        """The face's own file."""
        return font_file(self.bold)

    def shown(self, text: str) -> str:
        """Return a text as the string operand that shows it."""
        glyphs = self.font.glyphs
        return "<" + "".join([f"{glyphs.get(c, 0):04X}" for c in text]) + ">"

    def objects(self, chars: Iterable[str], first: int) -> list[bytes]:
        """Return five objects numbered from ``first``, the first of them the font itself."""
        new = set(chars) - self._chars
        if new or first != self._first:
            self._chars |= new
            self._first = first
            self._objects = self._made(first)
        return self._objects

    def _made(self, first: int) -> list[bytes]:
        font = self.font
        of = {font.glyphs.get(char, 0): char for char in sorted(self._chars)}
        name = "CWALKA+DejaVuSans" + ("-Bold" if self.bold else "")
        per_em = font.per_em
        box = (n * 1000 // per_em for n in struct.unpack_from(">4h", font.tables["head"], 36))
        rise, fall = (n * 1000 // per_em for n in struct.unpack_from(">2h", font.tables["hhea"], 4))
        widths = " ".join(f"{g} [{font.advance(g) * 1000 / per_em:.1f}]" for g in sorted(of))
        bounds = " ".join(map(str, box))
        program = font.subset(of)
        parts = (
            f"<< /Type /Font /Subtype /Type0 /BaseFont /{name} /Encoding /Identity-H "
            f"/DescendantFonts [{first + 1} 0 R] /ToUnicode {first + 4} 0 R >>",
            f"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /{name} /CIDSystemInfo "
            "<< /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> /CIDToGIDMap /Identity "
            f"/FontDescriptor {first + 2} 0 R /W [{widths}] >>",
            f"<< /Type /FontDescriptor /FontName /{name} /Flags {_SYMBOLIC} /FontBBox [{bounds}] "
            f"/ItalicAngle 0 /Ascent {rise} /Descent {fall} /CapHeight {rise} /StemV 80 "
            f"/FontFile2 {first + 3} 0 R >>",
        )
        return [
            *(part.encode("ascii") for part in parts),
            stream(program, f" /Length1 {len(program)}"),
            stream(_to_unicode(of).encode("ascii")),
        ]


def _to_unicode(of: dict[int, str]) -> str:
    """Return the map by which a reader finds and copies the text."""
    lines = [f"<{glyph:04X}> <{char.encode('utf-16-be').hex()}>" for glyph, char in of.items()]
    blocks = [lines[n : n + _CMAP_BLOCK] for n in range(0, len(lines), _CMAP_BLOCK)]
    body = "\n".join(
        "\n".join((f"{len(block)} beginbfchar", *block, "endbfchar")) for block in blocks
    )
    return (
        "/CIDInit /ProcSet findresource begin 12 dict begin begincmap\n"
        "/CMapName /cablewalk def /CMapType 2 def\n"
        "1 begincodespacerange <0000> <FFFF> endcodespacerange\n"
        f"{body}\nendcmap CMapName currentdict /CMap defineresource pop end end\n"
    )
