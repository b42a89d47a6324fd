"""A sheet as Markdown tables, for GitHub Flavored Markdown 0.29.

Every cell shows letter for letter what was written: nothing in it is taken for markup, a link, or
the end of the cell. Escapes: CommonMark 0.30, section 2.4; pipes: GFM 0.29, section 4.10.
"""

from __future__ import annotations

import re
from typing import Final

from cablewalk.sheets.cell import inert
from cablewalk.sheets.sheet import Sheet

_ENTITIES: Final = {"&": "&amp;", "<": "&lt;", ">": "&gt;", "|": "&#124;", "\\": "&#92;"}
"""What some readers of tables get wrong when it is escaped with a backslash."""
_MARKUP: Final = re.compile(r"[&<>|\\]|[`*\[\]~!$#]|(?<![A-Za-z0-9])_|_(?![A-Za-z0-9])")
_LINKS: Final = re.compile(r"(?i)(?<=www)\.|:(?=//)|@")


def markdown_cell(text: str) -> str:
    """Return a text that a Markdown table shows letter for letter."""

    def escaped(found: re.Match[str]) -> str:
        character = found.group()
        return _ENTITIES.get(character, f"\\{character}")

    safe = _MARKUP.sub(escaped, inert(text))
    return _LINKS.sub(lambda found: f"&#{ord(found.group())};", safe)


def markdown_text(sheet: Sheet) -> str:
    """Return a sheet as headings and tables, one table for each heading of the first level."""
    level = min(1, sheet.groups)
    parts = [f"## {markdown_cell(sheet.title)}"]
    parts.extend(markdown_cell(note) for note in sheet.notes)
    if not sheet.rows:
        parts.append(f"*{markdown_cell(sheet.empty)}*")
    above = None
    for key, rows in sheet.blocks(level):
        if key:
            parts.extend(_none(sheet, key[0], above))
            above = key[0]
            parts.append(f"### {markdown_cell(key[0])}")
            if key[0] in sheet.captions:
                parts.append(markdown_cell(sheet.captions[key[0]]))
        heads = sheet.columns[level:]
        table = [_line(heads), "|" + " --- |" * len(heads)]
        table.extend(_line(row[level:]) for row in rows)
        parts.append("\n".join(table))
    if sheet.rows:
        parts.extend(_none(sheet, None, above))
    return "\n\n".join(parts) + "\n"


def _none(sheet: Sheet, heading: str | None, above: str | None) -> list[str]:
    """Return a heading and a word for each section without a row between two headings."""
    return [
        part
        for section in sheet.empty_before(heading, above)
        for part in (f"### {markdown_cell(section)}", "none")
    ]


def _line(cells: tuple[str, ...]) -> str:
    return "| " + " | ".join(markdown_cell(cell) for cell in cells) + " |"
