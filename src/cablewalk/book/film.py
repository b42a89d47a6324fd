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
from cablewalk.drawings.pictures import Album, Picture
from cablewalk.drawings.plate import Dress, Key, Plate, Wear, turn_between
from cablewalk.drawings.sheet import fitted
from cablewalk.drawings.svg import Piece, Template, template_of
from cablewalk.sheets.cell import inert

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
    shown = frozenset(k for k in set[Key]().union(*whole) if k[0] not in _FRAME)
    template = album.template[0] if album.template else template_of(album.plate, shown)
    pieces = [piece for piece in template.pieces if piece.key in shown]
    box = box_of(album.plate, shown)
    first = fitted(album.plate, whole[0])
    film = Film(_first(template, pieces, first, box), box[2], box[3])
    _unroll(film, album.plate, pieces, whole)
    worn = {look for wear in film.wears for look in wear[0].split()}
    film.looks = [look for look in LOOKS if look in worn]
    return film


def _unroll(film: Film, plate: Plate, pieces: Sequence[Piece], whole: Sequence[Dress]) -> None:
    spots = {piece.key: n for n, piece in enumerate(pieces)}
    number: dict[Wear, int] = {_HIDDEN: 0}
    film.wears.append(["away", "", ""])
    now: list[Wear] = [_HIDDEN] * len(pieces)
    before: Dress = {}
    for dress in whole:
        new, gone = turn_between(before, dress)
        turned = {spots[key]: _HIDDEN for key in gone if key in spots}
        fresh = {key: wear for key, wear in new.items() if key in spots}
        turned |= {spots[key]: wear for key, wear in fitted(plate, fresh).items()}
        frame: list[int] = []
        for n, wear in sorted(turned.items()):
            if wear == now[n]:
                continue
            now[n] = wear
            if wear not in number:
                number[wear] = len(film.wears)
                tells = wear.tells or " ".join(wear.lines)
                texts = [plain(t, _TEXT_LIMIT) for t in (tells, *wear.lines)]
                film.wears.append([" ".join(wear.looks), *texts])
            frame += [n, number[wear]]
        film.frames.append(frame)
        before = dress


def box_of(plate: Plate, shown: frozenset[Key]) -> tuple[float, float, float, float]:
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


def pair_still(picture: Picture) -> tuple[str, list[str]]:
    """Return before and after side by side as an element of a page, and the looks worn in it.

    Only the maps: the page itself has the title, their names and the key. No ids, no styles, no
    fixed size.

    Raises:
        NoGraphviz, DrawingFailed: as :func:`cablewalk.drawings.engine.draw` does.
    """
    dress = {
        key: wear
        for key, wear in picture.dress.items()
        if key[0] in ("before", "after", "divider") and key[-1] != "name"
    }
    maps = frozenset(key for key in dress if key[0] != "divider")
    left, top, width, height = box_of(picture.plate, maps)
    view = f"{left:.1f} {top:.1f} {width:.1f} {height:.1f}"
    template = template_of(picture.plate, dress)
    body = "".join(
        re.sub(r'^<g id="[a-z0-9]+"', "<g", piece.dressed(dress[piece.key]), count=1)
        for piece in template.pieces
        if piece.key in dress
    )
    worn = {look for wear in dress.values() for look in wear.looks}
    title = escape(inert(picture.title))
    svg = (
        f'<svg class="still" viewBox="{view}" role="img" aria-label="{title}" '
        f'focusable="false">{_group(template)}{body}</g></svg>'
    )
    return svg, [look for look in LOOKS if look in worn]
