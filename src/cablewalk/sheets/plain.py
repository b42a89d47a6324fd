"""A sheet as aligned plain text."""

from __future__ import annotations

from typing import Final

from cablewalk.sheets.cell import clipped, inert, width, wrapped
from cablewalk.sheets.sheet import Cells, Sheet

WIDTH: Final = 120
"""Columns a line has at most."""
LINES: Final = 6
"""Lines a cell is wrapped to at most; what is longer ends in an ellipsis."""
_GAP: Final = 2
_INDENT: Final = 2
_LEAST: Final = 4
"""Columns that no column is made narrower than, unless all it holds is narrower."""


def plain_text(sheet: Sheet, limit: int = WIDTH) -> str:
    """Return a sheet in lines of at most ``limit`` columns.

    Cells too long for their column are wrapped, and clipped with an ellipsis after ``LINES``
    lines. The leading ``groups`` columns stand as headings over the rows. All rows of a sheet
    share the same columns; empty columns are left out.
    """
    lines = wrapped(inert(sheet.title), limit, LINES)
    lines.append("=" * width(lines[0]))
    for note in sheet.notes:
        lines.extend(wrapped(inert(note), limit, LINES))
    if not sheet.rows:
        return "\n".join([*lines, "", inert(sheet.empty)]) + "\n"
    indent = " " * (_INDENT * sheet.groups)
    rows = [tuple(inert(cell) for cell in row[sheet.groups :]) for row in sheet.rows]
    every = range(len(sheet.heads))
    shown = [n for n in every if any(row[n] for row in rows)] or list(every)
    heads = tuple(sheet.heads[n] for n in shown)
    cells = [tuple(row[n] for n in shown) for row in rows]
    wide = widths([heads, *cells], limit - len(indent))
    if not sheet.groups:
        lines.extend(["", *_row(heads, wide, ""), _rule(wide, "")])
    above: Cells = ("\0",)
    for row, cell in zip(sheet.rows, cells, strict=True):
        key = row[: sheet.groups]
        if key != above[: sheet.groups]:
            if key[:1] != above[:1]:
                lines.extend(_none(sheet, key[0] if key else None, above[0]))
            lines.extend(_headings(sheet, key, above, limit))
            if key[:1] != above[:1]:
                lines.extend([*_row(heads, wide, indent), _rule(wide, indent)])
            above = key or ("",)
        lines.extend(_row(cell, wide, indent))
    lines.extend(_none(sheet, None, above[0]))
    return "\n".join(lines) + "\n"


def _none(sheet: Sheet, heading: str | None, above: str) -> list[str]:
    """Return a line for each section without a row that stands between two headings."""
    return [
        line
        for section in sheet.empty_before(heading, above)
        for line in ("", f"{inert(section)}: none")
    ]


def _headings(sheet: Sheet, key: Cells, above: Cells, limit: int) -> list[str]:
    """Return the headings from the first that differs from those above."""
    first = next(n for n in range(len(key)) if key[: n + 1] != above[: n + 1])
    lines = [""] if first == 0 else []
    for n in range(first, len(key)):
        space = " " * (_INDENT * n)
        lines.append(space + clipped(inert(key[n]), limit - len(space)))
        if n == 0 and key[0] in sheet.captions:
            caption = wrapped(sheet.captions[key[0]], limit - _INDENT, LINES)
            lines.extend(" " * _INDENT + line for line in caption)
    return lines


def _row(cells: Cells, wide: list[int], indent: str) -> list[str]:
    """Return the lines of one row."""
    columns = [wrapped(cell, w, LINES) for cell, w in zip(cells, wide, strict=True)]
    lines = []
    for n in range(max(map(len, columns))):
        parts = [column[n] if n < len(column) else "" for column in columns]
        padded = (p + " " * (w - width(p)) for p, w in zip(parts, wide, strict=True))
        lines.append((indent + (" " * _GAP).join(padded)).rstrip())
    return lines


def _rule(wide: list[int], indent: str) -> str:
    return indent + (" " * _GAP).join("-" * w for w in wide)


def widths(rows: list[Cells], limit: int) -> list[int]:
    """Return how wide each column is, so that all fit beside each other into ``limit`` columns.

    Columns are as wide as they need to be where that fits; else the widest give way, down to
    their longest word while any other still can.
    """
    columns = list(zip(*rows, strict=True))
    wide = [max(map(width, column)) for column in columns]
    words = [max(width(w) for cell in column for w in cell.split(" ")) for column in columns]
    room = limit - _GAP * (len(wide) - 1)
    for least in (words, [min(w, _LEAST) for w in wide]):
        while sum(wide) > room:
            free = [n for n in range(len(wide)) if wide[n] > least[n]]
            if not free:
                break
            wide[max(free, key=lambda n: wide[n])] -= 1
    return [max(w, 2) for w in wide]  # a wide character fits
