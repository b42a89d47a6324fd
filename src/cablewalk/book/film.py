"""The film: one picture laid out once, and what each frame of it wears otherwise than the last."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Final

from cablewalk.drawings.label import plain
from cablewalk.drawings.look import LOOKS
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import Dress, Key, Plate, Wear
from cablewalk.drawings.sheet import fitted
from cablewalk.drawings.svg import Piece, Template, template_of

_FRAME: Final = frozenset(
    {"page", "title", "subtitle", "side", "key", "key-words", "key-end", "name"}
)
"""What is set around the map on paper; in a book the page itself says it."""
_MARGIN_PT: Final = 6.0
_HIDDEN: Final = Wear(("away",))
_TEXT_LIMIT: Final = 400


@dataclass(slots=True)
class Film:
    """The frames of a replay: before, one a step, after."""

    svg: str
    """The first frame as an ``svg`` element."""
    width_pt: float
    height_pt: float
    wears: list[list[str]] = field(default_factory=list)
    """Looks, title and lines of each way a piece is ever dressed; 0 is hidden."""
    frames: list[list[int]] = field(default_factory=list)
    """A frame: piece, wear, piece, wear … for all that differs from the frame before."""
    looks: list[str] = field(default_factory=list)
    """Every look that is ever worn, in the order of the table of looks."""

    @property
    def data(self) -> str:
        """Return the frames as JSON that can stand in a ``script`` element."""
        text = json.dumps(
            {"wears": self.wears, "frames": self.frames},
            ensure_ascii=False,
            separators=(",", ":"),
        )
        # "</script>" and "<!--" would end or disturb the element they stand in.
        return text.replace("<", "\\u003c")


def film_of(album: Album, steps: Sequence[Dress]) -> Film:
    """Return the film of an album: how it is now, then ``steps``, then how it is left.

    The time grows with what changes: a piece that wears what it wore is not looked at again.

    Raises:
        NoGraphviz, DrawingFailed: as :func:`cablewalk.drawings.engine.draw` does.
    """
    whole = [
        album.wardrobe.dress(album.every[0], "before"),
        *steps,
        album.wardrobe.dress(album.last, "after"),
    ]
    dresses = [_map_only(fitted(album.plate, dress)) for dress in whole]
    shown = frozenset(key for dress in dresses for key in dress)
    template = album.template[0] if album.template else template_of(album.plate)
    pieces = [piece for piece in template.pieces if piece.key in shown]
    box = _box(album.plate, shown)
    film = Film(_first(template, pieces, dresses[0], box), box[2], box[3])
    _unroll(film, pieces, dresses)
    worn = {look for dress in dresses for wear in dress.values() for look in wear.looks}
    film.looks = [look for look in LOOKS if look in worn]
    return film


def _map_only(dress: Dress) -> Dress:
    return {key: wear for key, wear in dress.items() if key[0] not in _FRAME}


def _unroll(film: Film, pieces: Sequence[Piece], dresses: Sequence[Dress]) -> None:
    number: dict[Wear, int] = {_HIDDEN: 0}
    film.wears.append(["away", "", ""])
    now: list[Wear] = [_HIDDEN] * len(pieces)
    for dress in dresses:
        frame: list[int] = []
        for n, piece in enumerate(pieces):
            wear = dress.get(piece.key, _HIDDEN)
            if wear is now[n] or wear == now[n]:
                continue
            now[n] = wear
            if wear not in number:
                number[wear] = len(film.wears)
                tells = wear.tells or " ".join(wear.lines)
                texts = [plain(t, _TEXT_LIMIT) for t in (tells, *wear.lines)]
                film.wears.append([" ".join(wear.looks), *texts])
            frame += [n, number[wear]]
        film.frames.append(frame)


def _box(plate: Plate, shown: frozenset[Key]) -> tuple[float, float, float, float]:
    """Return left, top, width and height of the map, in points of the drawn picture."""
    cells = [cell for key, cell in plate.cells.items() if key in shown]
    left = min((c.left_x for c in cells), default=0.0) - _MARGIN_PT
    top = min((c.top for c in cells), default=0.0) - _MARGIN_PT
    right = max((c.right_x for c in cells), default=1.0) + _MARGIN_PT
    bottom = max((c.bottom for c in cells), default=1.0) + _MARGIN_PT
    scale = plate.scale
    return left * scale, top * scale, (right - left) * scale, (bottom - top) * scale


def _first(
    template: Template,
    pieces: Sequence[Piece],
    dress: Dress,
    box: tuple[float, float, float, float],
) -> str:
    view = " ".join(f"{number:.1f}" for number in box)
    body = "".join(_worn(pieces, dress))
    return (
        f'<svg class="map" viewBox="{view}" role="img" aria-labelledby="film-title" '
        f'focusable="false"><title id="film-title">Configuration</title>'
        f"{_group(template)}{body}</g></svg>"
    )


def _group(template: Template) -> str:
    """Return the opening tag of the group that turns Graphviz's points into the picture's."""
    found = re.search(r'<g id="graph0"[^>]*?(transform="[^"]*")', template.head)
    return f"<g {found[1]}>" if found else "<g>"


def _worn(pieces: Sequence[Piece], dress: Dress) -> Iterator[str]:
    for n, piece in enumerate(pieces):
        text = piece.dressed(dress.get(piece.key, _HIDDEN))
        yield re.sub(r'^<g id="[a-z0-9]+"', f'<g data-n="{n}"', text, count=1)


def still(svg: bytes, label: str) -> str:
    """Return a finished picture as an element of a page, without ids, styles or fixed size."""
    text = svg.decode("utf-8")
    text = text[text.index("<svg") :]
    text = re.sub(r"<style>.*?</style>\n?", "", text, count=1, flags=re.DOTALL)
    text = re.sub(r'<svg width="[^"]*" height="[^"]*"', "<svg", text, count=1)
    text = re.sub(r'<g id="[a-z0-9]+"', "<g", text)
    return text.replace("<svg", f'<svg class="still" role="img" aria-label="{escape(label)}"', 1)
