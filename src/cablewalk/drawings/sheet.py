"""The sheet: page, title, the map, what stands beside it, and the legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from cablewalk.drawings.beside import Line
from cablewalk.drawings.columns import Columns, Room
from cablewalk.drawings.cutting import counted, cut
from cablewalk.drawings.label import plain
from cablewalk.drawings.legend import RING_PT, height_of, set_legend
from cablewalk.drawings.metrics import width_pt, wrapped
from cablewalk.drawings.plate import (
    FONT_PT,
    LINE_PT,
    MARGIN_PT,
    Cell,
    Dress,
    Key,
    Page,
    Plate,
    Stroke,
    Wear,
)
from cablewalk.drawings.sizes import GAP, HINTED, NAMES

TITLE_PT: Final = 12.0
SUB_PT: Final = 8.0
HEAD_ROOM: Final = 39.0
HINTED_LINE: Final = 1.07
LONG_PT: Final = 200.0
"""By how much a line of words may be wider in a PNG (measured): one in a cell wider than
``LONG_PT``."""
SIDE_PT: Final = 162.0
"""Width of what stands beside, where it has a strip of its own."""
NOTCH_WIDTH_PT: Final = 140.0
NOTCH_HEIGHT_PT: Final = 190.0
SIDE_ROW_PT: Final = LINE_PT + 0.4
ZOOMS: Final = (1.7, 1.5, 1.3, 1.15, 1.0)
"""By how much a page may enlarge a small map, largest first."""
_WRAPPED: Final = frozenset({"carry", *NAMES})
"""Kinds of cells whose one line of words may run over several rows."""
PAIR_HEAD_PT: Final = 30.0
"""For the title of two maps and one line beneath it."""
NAME_ROOM_PT: Final = 7.0
"""For the name over each of two maps."""
HALVES_GAP_PT: Final = 18.0
"""Between two maps side by side, for the line that parts them."""


@dataclass(slots=True)
class Sheet:
    """A plate with its room for the map and for the lines beside it."""

    plate: Plate
    beside: Room


def sheet_of(page: Page, columns: Columns, marks: int, zoom: float = 1.0) -> Sheet | None:
    """Set a map out on a page with room beside; a map too large makes the canvas larger.

    Args:
        page: the paper.
        columns: the map, not set out yet.
        marks: entries the legend needs room for.
        zoom: by how much the page enlarges the canvas.

    Returns:
        None where ``zoom`` is more than 1 and too much for the page.
    """
    width, height = page.width_pt / zoom, page.height_pt / zoom
    need_w = columns.least_width + 2 * MARGIN_PT
    foot = height_of(marks, width)
    need_h = columns.least_height + 2 * MARGIN_PT + HEAD_ROOM + foot
    grow = max(1.0, need_w / width, need_h / height)
    room = _room(width * grow, height * grow, foot)
    beside = columns.notch(room, NOTCH_WIDTH_PT, NOTCH_HEIGHT_PT)
    notch = beside
    if beside is None:
        grow = max(1.0, (need_w + SIDE_PT + GAP) / width, need_h / height)
        room = _room(width * grow, height * grow, foot)
        beside = Room(room.right - SIDE_PT, room.top, room.right, room.bottom)
        room.right -= SIDE_PT + 2 * GAP
    if zoom > 1 and grow > 1:
        return None
    plate = Plate(page, width * grow, height * grow)
    _head(plate)
    columns.set_out(room, notch)
    _halos(plate, columns)
    for cell in columns.cells.values():
        plate.add(cell)
    plate.strokes.update(columns.strokes)
    _side(plate, beside)
    set_legend(plate, marks)
    return Sheet(plate, beside)


def _room(width: float, height: float, foot: float) -> Room:
    return Room(MARGIN_PT, MARGIN_PT + HEAD_ROOM, width - MARGIN_PT, height - MARGIN_PT - foot)


def _head(plate: Plate) -> None:
    whole = plate.width, plate.height
    plate.add(Cell(("page",), "box", whole[0] / 2, whole[1] / 2, *whole))
    inner = plate.width - 2 * MARGIN_PT
    x, y = plate.width / 2, MARGIN_PT
    plate.add(Cell(("title",), "plain", x, y + 7, inner, 15, 1, TITLE_PT, True, True))
    for n in range(2):
        cell = Cell(("subtitle", n), "plain", x, y + 20 + n * 10, inner, 10.5, 1, SUB_PT, left=True)
        plate.add(cell)


def pair_of(
    page: Page, maps: Sequence[Columns], names: Sequence[str], marks: int, zoom: float = 1.0
) -> Plate | None:
    """Set maps side by side on one page, each under its name; keys begin with the name.

    None where ``zoom`` is more than 1 and too much for the page.
    """
    width, height = page.width_pt / zoom, page.height_pt / zoom
    foot = height_of(marks, width)
    need_w = (
        max(m.least_width for m in maps) * len(maps)
        + 2 * MARGIN_PT
        + HALVES_GAP_PT * (len(maps) - 1)
    )
    head = PAIR_HEAD_PT + NAME_ROOM_PT
    need_h = max(m.least_height for m in maps) + 2 * MARGIN_PT + head + foot
    grow = max(1.0, need_w / width, need_h / height)
    if zoom > 1 and grow > 1:
        return None
    plate = Plate(page, width * grow, height * grow)
    _head(plate)
    room = _room(plate.width, plate.height, foot)
    room.top += PAIR_HEAD_PT - HEAD_ROOM
    each = (room.right - room.left - HALVES_GAP_PT * (len(maps) - 1)) / len(maps)
    for n, (columns, name) in enumerate(zip(maps, names, strict=True)):
        left = room.left + n * (each + HALVES_GAP_PT)
        if n:
            middle, tall = (room.top + room.bottom) / 2, room.bottom - room.top
            plate.add(Cell(("divider", n), "box", left - HALVES_GAP_PT / 2, middle, 2.6, tall))
        cell = Cell(
            (name, "name"), "plain", left + each / 2, room.top + 1.5, each, 12, 1, 9, True, True
        )
        plate.add(cell)
        columns.set_out(Room(left, room.top + NAME_ROOM_PT, left + each, room.bottom), None)
        ordered = sorted(columns.cells.values(), key=lambda c: c.key[0] not in ("place", "panel"))
        for each_cell in ordered:
            plate.add(replace(each_cell, key=(name, *each_cell.key)))
        for stroke in columns.strokes.values():
            ends = (name, *stroke.tail), (name, *stroke.head)
            plate.strokes[name, *stroke.key] = Stroke((name, *stroke.key), *ends, stroke.points)
    set_legend(plate, marks)
    return plate


def named(dress: Dress, name: str) -> Dress:
    """Return a dress for one of several maps on a plate."""
    found: Dress = {(name, *key): wear for key, wear in dress.items()}
    found[name, "name"] = Wear(("words",), (name.upper(),))
    return found


def _halos(plate: Plate, columns: Columns) -> None:
    """Put a halo behind each thing that can change; frames of places and panels go first."""
    for key in list(columns.cells):
        if key[0] in ("place", "panel"):
            plate.add(columns.cells.pop(key))
    for key, cell in columns.cells.items():
        if key[0] in ("half", "hub", "chip"):
            size = cell.w + 2 * RING_PT, cell.h + 2 * RING_PT
            plate.add(Cell(("halo", *key), "pill", cell.x, cell.y, *size))


def _side(plate: Plate, room: Room) -> None:
    count = int((room.bottom - room.top) // SIDE_ROW_PT)
    plate.side_rows = count
    plate.side_widths = {n: room.right - room.left - 4 * n for n in (0, 1, 3)}
    for n in range(count):
        y = room.top + (n + 0.5) * SIDE_ROW_PT
        for indent in (0, 1, 3):
            left = room.left + 4 * indent
            width = room.right - left
            for bold in (False, True) if indent == 0 else (False,):
                key: Key = ("side", n, indent, int(bold))
                plate.add(
                    Cell(
                        key,
                        "plain",
                        left + width / 2,
                        y,
                        width,
                        SIDE_ROW_PT,
                        1,
                        bold=bold,
                        left=True,
                    )
                )


def side_dress(plate: Plate, lines: Sequence[Line]) -> Dress:
    """Return the lines beside as they stand on the plate; what does not fit is counted."""
    rows: list[Line] = []
    widths = plate.side_widths
    for line in lines:
        if line.bold and rows:
            rows.append(_BLANK)
        rows += _wrapped_line(line, (widths[line.indent] - 1) / HINTED_LINE)
    count = plate.side_rows
    if len(rows) > count:
        rows = [row for row in rows if row.text.strip()]
    if len(rows) > count:
        rows = [*rows[: count - 1], Line(f"… and {len(rows) - count + 1} lines more", "soft")]
    return {
        ("side", n, line.indent, int(line.bold)): _line_wear(line)
        for n, line in enumerate(rows)
        if line is not _BLANK and line.text.strip()
    }


_BLANK: Final = Line(" ")


@lru_cache(maxsize=2048)
def _wrapped_line(line: Line, room: float) -> tuple[Line, ...]:
    """Return a line as lines no wider than a room."""
    texts = wrapped(plain(line.text, 300) or " ", room, FONT_PT, line.bold)
    return tuple(line._replace(text=text) for text in texts)


@lru_cache(maxsize=2048)
def _line_wear(line: Line) -> Wear:
    """Return what a line beside wears: the same object where asked again."""
    return Wear((line.look,), (line.text,))


def cut_short(plate: Plate, dress: Dress) -> bool:
    """Return whether a title or what stands beside would be cut on a plate."""
    heads = (k for k in dress if k[0] in ("title", "subtitle") and k in plate.cells)
    fit = fitted(plate, {k: dress[k] for k in heads})
    return any(fit[k].lines != dress[k].lines for k in fit) or any(
        wear.lines[0].endswith("lines more") for key, wear in dress.items() if key[0] == "side"
    )


def title_dress(title: str, subtitles: Sequence[Line]) -> Dress:
    """Return title and up to two lines beneath it."""
    found: Dress = {("page",): Wear(("page",)), ("title",): Wear(("words",), (plain(title, 300),))}
    for n, line in enumerate(subtitles[:2]):
        found["subtitle", n] = Wear((line.look,), (plain(line.text, 500) or " ",))
    return found


def fitted(plate: Plate, dress: Dress) -> Dress:
    """Return a dress whose lines are cut to the cells they stand in."""
    found: Dress = {}
    for key, wear in dress.items():
        cell = plate.cells.get(key)
        if cell is not None and wear.lines and key[0] != "side":  # those were wrapped to fit
            room = (cell.w - 0.5) / (HINTED_LINE if cell.w > LONG_PT else HINTED)
            if not _fits(wear.lines, room, cell):
                if "carry" in key:
                    wear = counted(wear, room, cell.rows)
                wear = cut(
                    wear, room, cell.rows, cell.size_pt, cell.bold, not _WRAPPED.isdisjoint(key)
                )
        found[key] = wear
    return found


def _fits(lines: Sequence[str], room: float, cell: Cell) -> bool:
    """Return whether lines need no cutting, as most do not: the cells were made for them."""
    if len(lines) > cell.rows:
        return False
    for line in lines:  # noqa: SIM110 - asked for every cell of every picture
        if width_pt(line, cell.size_pt, cell.bold) > room:
            return False
    return True
