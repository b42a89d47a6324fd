"""A plate drawn once, printed anew as PDF for each picture without asking Graphviz again.

The outlines are those that Graphviz drew into the SVG; the looks are those of the one table.
Source: ISO 32000-1 (PDF 1.7), 7.5 File Structure, 8.4 Graphics State, 8.5 Path Construction and
Painting, 9.4 Text Objects.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from cablewalk.drawings.embed import Embedded, stream
from cablewalk.drawings.label import plain
from cablewalk.drawings.look import DASHES, edge_attributes, node_attributes, worn
from cablewalk.drawings.metrics import width_pt
from cablewalk.drawings.plate import MOST_KEPT, Dress, Key, Plate, Wear
from cablewalk.drawings.svg import Template

_POLYGON: Final = re.compile(r'<polygon [^>]*points="([^"]*)"')
_PATH: Final = re.compile(r'<path [^>]*d="M([^"]*)"')
_TEXT: Final = re.compile(
    r'<text [^>]*text-anchor="(\w+)" x="([-\d.]+)" y="([-\d.]+)"[^>]*font-size="([\d.]+)"'
)
_SHAPED: Final = frozenset({"R", "AL", "AN"})
"""Bidirectional classes of letters that join or run from the right (Unicode, UAX 9)."""
_FIRST_FACE: Final = 5
"""Number of the first object of the regular face; each face has five."""


class Line(NamedTuple):
    """Where one line of a label stands: anchor ``start`` or ``middle``, baseline, size."""

    anchor: str
    x: float
    y: float
    size_pt: float


@dataclass(frozen=True, slots=True)
class Shape:
    """What one cell or stroke looks like, without its looks."""

    key: Key
    outline: str
    """Path operators, empty for a cell that is text only."""
    lines: tuple[Line, ...]
    bold: bool


class Print(NamedTuple):
    """Operators of one shape as it is worn, and the characters it shows."""

    content: str
    chars: frozenset[str]
    bold: bool


@dataclass(slots=True)
class Press:
    """Prints pictures of one plate."""

    plate: Plate
    shapes: list[Shape]
    _faces: tuple[Embedded, Embedded] = field(
        default_factory=lambda: (Embedded(False), Embedded(True))
    )
    _kept: dict[tuple[Key, Wear], Print] = field(default_factory=dict)

    def printed(self, dress: Dress, title: str) -> bytes | None:
        """Return the PDF of one picture; None where a text needs shaping, as Arabic does."""
        if len(self._kept) > MOST_KEPT:
            self._kept.clear()
        prints = []
        for shape in self.shapes:
            wear = dress.get(shape.key)
            if wear is not None:
                done = self._kept.get((shape.key, wear))
                if done is None:
                    done = self._kept[shape.key, wear] = self._print(shape, wear)
                prints.append(done)
        chars = [
            frozenset[str]().union(*(p.chars for p in prints if p.bold is b)) for b in (False, True)
        ]
        if any(map(_needs_shaping, chars[0] | chars[1])):
            return None
        scale = self.plate.scale
        body = "\n".join((f"{scale:.6f} 0 0 {-scale:.6f} 0 0 cm", *(p.content for p in prints)))
        wide, high = self.plate.width * scale, self.plate.height * scale
        second = _FIRST_FACE + 5
        objects = [
            b"<< /Type /Catalog /Pages 2 0 R >>",
            b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {wide:.2f} {high:.2f}] /Contents 4 0 R "
            f"/Resources << /Font << /F0 {_FIRST_FACE} 0 R /F1 {second} 0 R >> >> >>".encode(),
            stream(body.encode("ascii")),
            *self._faces[0].objects(chars[0], _FIRST_FACE),
            *self._faces[1].objects(chars[1], second),
            b"<< /Title <FEFF" + plain(title, 400).encode("utf-16-be").hex().encode() + b"> >>",
        ]
        return _file(objects)

    def _print(self, shape: Shape, wear: Wear) -> Print:
        is_edge = shape.key in self.plate.strokes
        kind = "" if is_edge else self.plate.cells[shape.key].shape
        given = edge_attributes(wear.looks) if is_edge else node_attributes(wear.looks, kind)
        parts = [_painted(shape.outline, given, _dash(wear), not is_edge)] if shape.outline else []
        shown: set[str] = set()
        for at, text in zip(shape.lines, wear.lines, strict=False):
            text = plain(text, 400)
            if text:
                shown |= set(text)
                parts.append(self._line(at, text, shape.bold, given["fontcolor"]))
        return Print("\n".join(parts), frozenset(shown), shape.bold)

    def _line(self, at: Line, text: str, bold: bool, colour: str) -> str:
        x = at.x
        if at.anchor == "middle":
            x -= width_pt(text, at.size_pt, bold) / 2
        return (
            f"BT {_colour(colour)} rg /F{int(bold)} {at.size_pt:g} Tf 1 0 0 -1 {x:.2f} {at.y:g} Tm "
            f"{self._faces[bold].shown(text)} Tj ET"
        )


def press_of(plate: Plate, template: Template) -> Press:
    """Return the press of a plate that was drawn as SVG."""
    shapes = []
    for piece in template.pieces:
        text = piece.form
        outline = [_polygon(found) for found in _POLYGON.findall(text)]
        outline += [_curve(found) for found in _PATH.findall(text)]
        lines = tuple(Line(a, float(x), float(y), float(s)) for a, x, y, s in _TEXT.findall(text))
        cell = plate.cells.get(piece.key)
        bold = cell is not None and cell.bold
        shapes.append(Shape(piece.key, "\n".join(outline), lines, bold))
    return Press(plate, shapes)


def _polygon(points: str) -> str:
    pairs = [pair.replace(",", " ") for pair in points.split()]
    return f"{pairs[0]} m " + " ".join(f"{pair} l" for pair in pairs[1:-1]) + " h"


def _curve(path: str) -> str:
    """Return a path of cubic curves, as Graphviz writes all that is not straight."""
    numbers = re.findall(r"-?[\d.]+", path)
    start, rest = numbers[:2], numbers[2:]
    curves = [" ".join(rest[n : n + 6]) + " c" for n in range(0, len(rest), 6)]
    return f"{' '.join(start)} m " + " ".join(curves)


def _dash(wear: Wear) -> str | None:
    """Return the dashes of an outline, as :data:`DASHES` has them; None where there is no line."""
    look = worn(wear.looks)
    return None if look.pen_pt == 0 else DASHES[look.line or "solid"]


def _painted(outline: str, given: dict[str, str], dash: str | None, fills: bool) -> str:
    """Return an outline filled and stroked as its DOT attributes say, with these dashes."""
    state = []
    if fills:
        state.append(f"{_colour(given['fillcolor'])} rg")
    if dash is not None:
        pattern = "" if dash == "none" else dash.replace(",", " ")
        state.append(f"{_colour(given['color'])} RG {given['penwidth']} w [{pattern}] 0 d")
    paint = {(True, True): "b", (True, False): "f", (False, True): "S"}.get(
        (fills, dash is not None), "n"
    )
    return f"{' '.join(state)} {outline} {paint}"


def _colour(name: str) -> str:
    """Return ``#rrggbb`` as three numbers from 0 to 1."""
    return " ".join(f"{int(name[n : n + 2], 16) / 255:.3f}" for n in (1, 3, 5))


def _needs_shaping(char: str) -> bool:
    return (
        unicodedata.bidirectional(char) in _SHAPED
        or bool(unicodedata.combining(char))
        or unicodedata.category(char) in ("Mc", "Mn")
    )


def _file(objects: Sequence[bytes]) -> bytes:
    """Return numbered objects as a file; the first is the catalogue, the last the information."""
    out = [b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"]
    at, spots = len(out[0]), []
    for number, content in enumerate(objects, 1):
        spots.append(at)
        out.append(b"%d 0 obj\n%b\nendobj\n" % (number, content))
        at += len(out[-1])
    table = b"".join(b"%010d 00000 n \n" % spot for spot in spots)
    count = len(objects) + 1
    out.append(b"xref\n0 %d\n0000000000 65535 f \n%b" % (count, table))
    out.append(
        b"trailer\n<< /Size %d /Root 1 0 R /Info %d 0 R >>\nstartxref\n%d\n%%%%EOF\n"
        % (count, count - 1, at)
    )
    return b"".join(out)
