"""A plate drawn once as SVG, then dressed anew for each picture without asking Graphviz again."""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final
from xml.sax.saxutils import escape

from cablewalk.drawings.dot import dot_of, names
from cablewalk.drawings.engine import draw_pinned
from cablewalk.drawings.label import plain
from cablewalk.drawings.look import css_classes, stylesheet
from cablewalk.drawings.plate import MOST_KEPT, Dress, Key, Plate, Since, Wear, turn_between

_ELEMENT: Final = re.compile(
    r'<!-- [^\n]*? -->\n<g id="[a-z0-9]+" class="(?:node|edge)[^"]*">\n.*?</g>\n', re.DOTALL
)
_OWN: Final = re.compile(
    r'<g id="([a-z0-9]+)" class="((?:node|edge)[^"]*)">\n<title>([^<]*)</title>'
)
_TEXT: Final = re.compile(r"(<text [^>]*>)[^<]*(</text>)")


@dataclass(slots=True)
class Piece:
    """One element of the drawing."""

    key: Key
    form: str
    """The element with ``%s`` for its classes, its title and each of its lines."""
    rows: int

    def dressed(self, wear: Wear) -> str:
        """Return the element with a dress's classes, title and lines."""
        lines = wear.lines
        told = _inert(wear.tells or " ".join(lines))
        shown = [_inert(line) or " " for line in lines[: self.rows]]
        blank = [" "] * (self.rows - len(shown))
        return self.form % (css_classes(wear.looks), told, *shown, *blank)


@dataclass(slots=True)
class Template:
    """The one laid-out SVG, cut where each picture differs."""

    head: str
    pieces: list[Piece]
    tail: str
    _spots: dict[Key, int] = field(init=False)
    """Key to the number of its piece."""
    _worn: Dress = field(default_factory=dict)
    _texts: list[bytes] = field(init=False)
    """Each piece as it stands in the picture last filled; empty where it is hidden."""
    _kept: dict[tuple[int, Wear], bytes] = field(default_factory=dict)
    """What each piece has ever been: most looks come again."""
    _heads: tuple[bytes, ...] = field(init=False)
    """The head before and after the picture's title."""

    def __post_init__(self) -> None:
        self._spots = {piece.key: n for n, piece in enumerate(self.pieces)}
        self._texts = [b""] * len(self.pieces)
        self._heads = tuple(part.encode() for part in self.head.split("cablewalk</title>", 1))

    def filled(self, dress: Dress, title: str, since: Since | None = None) -> bytes:
        """Return the SVG of one picture: the pieces the dress shows, with its classes and words.

        From one picture to the next most things stay as they are: a piece that wears the very
        object it wore is not written again. ``since`` tells how the dress came about, where that
        is known; it helps only after the picture it tells of.
        """
        texts, spots = self._texts, self._spots
        known = since is not None and since[0] is self._worn
        turn = since[1] if since is not None and known else turn_between(self._worn, dress)
        for key in turn.gone:
            if key in spots:
                texts[spots[key]] = b""
        for key, wear in turn.new.items():
            if key in spots:
                n = spots[key]
                text = self._kept.get((n, wear))
                if text is None:
                    text = self._kept[n, wear] = self.pieces[n].dressed(wear).encode()
                texts[n] = text
        if len(self._kept) > MOST_KEPT:
            self._kept.clear()
        self._worn = dress
        before, after = self._heads
        named = _inert(title).encode() + b"</title>"
        return b"".join((before, named, after, *texts, self.tail.encode()))


@lru_cache(maxsize=4096)
def _inert(text: str) -> str:
    return escape(plain(text, 400))


def template_of(plate: Plate, only: Container[Key] | None = None) -> Template:
    """Draw a plate once, everything shown, and return it cut into pieces.

    Args:
        plate: the plate.
        only: leave out what is not among these; strokes whose ends are not are left out too.

    Raises:
        NoGraphviz, DrawingFailed: as :func:`cablewalk.drawings.engine.draw` does.
    """
    everything: Dress = {}
    for key, cell in plate.cells.items():
        # Short stand-ins: Graphviz warns of a text wider than its node.
        lines = tuple("x" if cell.w > 12 else " " for _ in range(cell.rows))
        everything[key] = Wear(("mated",), lines)
    for key in plate.strokes:
        everything[key] = Wear(("line",))
    if only is not None:
        # The page stays: by what is on it Graphviz decides how large the whole is.
        everything = {k: w for k, w in everything.items() if k in only or k == ("page",)}
    base = draw_pinned(dot_of(plate, everything), "svg").decode("utf-8")
    nodes, edges = names(plate)
    key_of = {name: key for key, name in nodes.items()} | {n: k for k, n in edges.items()}
    found = list(_ELEMENT.finditer(base))
    head, tail = base[: found[0].start()], base[found[-1].end() :]
    cut = head.index("<g id=")
    style = f"<style>\n{stylesheet()}\n</style>\n"
    # Where the drawing was made says nothing to its reader.
    head = re.sub(
        r"<!-- Generated by graphviz.*?-->\n", "", head[:cut] + style + head[cut:], flags=re.DOTALL
    )
    return Template(head, [_piece(m[0], key_of, plate) for m in found], tail)


def _piece(text: str, key_of: dict[str, Key], plate: Plate) -> Piece:
    own = _OWN.search(text)
    assert own is not None, "an element of Graphviz's SVG has id, class and title"
    name = own[1] if own[1] in key_of else own[3]
    kind = own[2].split()[0]
    key = key_of[name]
    cell = plate.cells.get(key)
    bold = " bold" if cell is not None and cell.bold else ""
    rest = text[own.end() :]
    if key[0] == "key-end":
        rest = _TEXT.sub("", rest)
    rest = rest.replace("%", "%%")
    form = f'<g id="{name}" class="{kind} %s{bold}"><title>%s</title>'
    return Piece(key, form + _TEXT.sub(r"\1%s\2", rest), len(_TEXT.findall(rest)))
