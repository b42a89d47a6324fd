"""A sheet as CSV that no spreadsheet takes for a formula.

Form: RFC 4180 (fields with commas or quotes stand in quotes, quotes doubled, lines end in CR LF),
after one line of column names. A cell that begins with ``=``, ``+``, ``-``, ``@``, tab or
carriage return, after blanks or quotes too, gets a leading apostrophe, as OWASP ASVS 5.0
requirement 1.2.10 and CWE-1236 ask: a spreadsheet would run it. Whoever reads the file with a
program takes that apostrophe off again. Control characters and line breaks are written as escapes.
"""

from __future__ import annotations

import csv
import io
from typing import Final

from cablewalk.sheets.cell import inert
from cablewalk.sheets.sheet import Sheet

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the begin of a formula; some fold full-width forms."""


def comma_cell(text: str) -> str:
    """Return the value of a CSV field, before quoting."""
    risky = text.startswith(FORMULA) or text.lstrip(" \"'\n\x00").startswith(FORMULA)
    return f"'{inert(text)}" if risky else inert(text)


def comma_text(sheet: Sheet) -> str:
    """Return a sheet as CSV: all columns, uncut."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    for row in (sheet.columns, *sheet.rows):
        writer.writerow([comma_cell(cell) for cell in row])
    return buffer.getvalue()
