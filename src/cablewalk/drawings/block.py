"""A place set out by itself: its panels with their halves, and the small tags beneath."""

from __future__ import annotations

from typing import Final

from cablewalk.drawings.cast import home
from cablewalk.drawings.order import LEFT, RIGHT, twins
from cablewalk.drawings.plate import FONT_PT, LINE_PT, Cell, Key
from cablewalk.drawings.sizes import CHIP_LIMIT_PT, GAP, HEAD_PT, PAD, ROW_GAP, Sizes, row_height
from cablewalk.replay.wiring import NONE

NAME_PT: Final = 11.8
"""From a panel's edge to its first half: its name, clear of the ring around a half."""


def place_block(sizes: Sizes, place: int) -> tuple[float, list[Cell]]:
    """Return a place's height and its cells, set out from its upper left corner."""
    wiring = sizes.cast.wiring
    column = sizes.order.column_of[place]
    width = sizes.column_width(column)
    sides = sizes.sides(column)
    frame = Cell(("place", place), "box")
    cells = [frame]
    y = PAD - 1
    rows = sizes.name_rows(("place-name", place), width - 2 * PAD)
    cells.append(_text(("place-name", place), PAD, y, width - 2 * PAD, rows, bold=True))
    y += 0.5 + 10 * rows
    halves = [h for h in sizes.cast.halves if home(wiring, h) == place]
    for panel in dict.fromkeys(wiring.items[h].owner for h in halves):
        own = [h for h in halves if wiring.items[h].owner == panel]
        y = _panel(sizes, cells, panel, own, sides, y, width)
    y = _chips(sizes, cells, place, y, width)
    if place in sizes.cast.folded and not sizes.terse:
        cells.append(box(("fold", place), "box", PAD, y, width - 2 * PAD, 1))
        y += row_height(1) + ROW_GAP
    frame.w, frame.h = width, y + PAD - 1
    frame.x, frame.y = width / 2, frame.h / 2
    return frame.h, cells


def _chips(sizes: Sizes, cells: list[Cell], place: int, y: float, width: float) -> float:
    """Set out the small tags of a place: what is fixed there, then what comes and goes."""
    chips = sizes.cast.chips.get(place, ())
    kinds = sizes.cast.wiring.items
    fixed = [c for c in chips if kinds[c].kind in ("switch", "cover")]
    inner = width - 2 * PAD
    height = row_height(1) - 0.6
    for group in (fixed, [c for c in chips if c not in fixed]):
        if not group:
            continue
        needed = sizes.widest([("chip", place, c) for c in group]) + 4
        across = max(1, int((inner + 2) // (min(needed, CHIP_LIMIT_PT) + 2)))
        across = min(across, len(group))
        each = (inner + 2) / across - 2
        for n, item in enumerate(group):
            x = PAD + (n % across) * (each + 2)
            top = y + n // across * (height + ROW_GAP)
            key: Key = ("chip", place, item)
            shape = "box" if kinds[item].kind == "bag" else "pill"
            cells.append(Cell(key, shape, x + each / 2, top + height / 2, each, height))
        y += -(-len(group) // across) * (height + ROW_GAP) + 1
    return y


def _panel(
    sizes: Sizes,
    cells: list[Cell],
    panel: int,
    halves: list[int],
    sides: list[str],
    y: float,
    width: float,
) -> float:
    frame = Cell(("panel", panel), "box")
    cells.append(frame)
    named = sizes.name_rows(("panel-name", panel), width - 4 * PAD)
    cells.append(_text(("panel-name", panel), PAD * 2, y + 0.2, width - 4 * PAD, named))
    top, y = y, y + NAME_PT + LINE_PT * (named - 1)
    rows = max(sizes.tall.get(("half", h), 1) for h in halves)
    left, right = _faces(sizes, halves, sides)
    each = sizes.half_width if len(sides) > 1 else width - 4 * PAD
    for n in range(max(len(left), len(right))):
        for column, face in enumerate((left, right) if len(sides) > 1 else (left or right,)):
            if n < len(face) and face[n] != NONE:
                x = 2 * PAD + column * (each + GAP)
                cells.append(box(("half", face[n]), "box", x, y, each, rows))
        y += row_height(rows) + ROW_GAP
    frame.w, frame.h = width - 2 * PAD, y - top + 1.2
    frame.x, frame.y = width / 2, top + frame.h / 2
    return y + 1.2 + GAP / 2


def _faces(sizes: Sizes, halves: list[int], sides: list[str]) -> tuple[list[int], list[int]]:
    """Return the halves of a panel's two faces, the two of a feed-through side by side."""
    side = sizes.order.side_of
    left = [h for h in halves if side[h] == LEFT]
    right = [h for h in halves if side[h] == RIGHT]
    if len(sides) < 2:
        return left, right
    twin = twins(sizes.cast)
    face = [twin.get(h, NONE) if twin.get(h, NONE) in right else NONE for h in left]
    rest = [h for h in right if h not in face]
    for n, half in enumerate(face):
        if half == NONE and rest:
            face[n] = rest.pop(0)
    return left, face + rest


def box(key: Key, shape: str, x: float, y: float, width: float, rows: int) -> Cell:
    """Return a cell of so many lines, by its upper left corner."""
    height = row_height(rows)
    return Cell(key, shape, x + width / 2, y + height / 2, width, height, rows)


def _text(key: Key, x: float, y: float, width: float, rows: int, bold: bool = False) -> Cell:
    """Return a cell of words, flush left, by its upper left corner."""
    size, height = (HEAD_PT, 10.0 * rows) if bold else (FONT_PT, 10 + LINE_PT * (rows - 1))
    return Cell(key, "plain", x + width / 2, y + height / 2, width, height, rows, size, bold, True)
