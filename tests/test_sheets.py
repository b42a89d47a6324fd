"""Sheets in text, CSV and Markdown: whatever stands in a cell stays inert and legible.

Authorities: RFC 4180 (CSV); OWASP ASVS 5.0 requirement 1.2.10 and CWE-1236 (formulas in CSV);
GitHub Flavored Markdown 0.29, section 4.10, example 200 (pipes); Unicode Annex 11 (width).
"""

from __future__ import annotations

import csv
import html
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cablewalk.sheets.cell import clipped, inert, width, wrapped
from cablewalk.sheets.comma import comma_cell, comma_text
from cablewalk.sheets.markdown import markdown_cell, markdown_text
from cablewalk.sheets.plain import WIDTH, plain_text, widths
from cablewalk.sheets.sheet import Sheet

HOSTILE = [
    "=cmd|' /C calc'!A0",
    "+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    " =1",
    "\uff1d1",
    "<b>bold</b>",
    "ends in a backslash\\",
    "two\nlines\r\nthree",
    "\x1b[31mred\x1b[0m\x07",
    "nul\x00",
    "right\u202eto left\u2066",
    "zero\u200bwidth",
    "lone \ud800",
    "a|b",
    "a\\|b",
    "`code` *x* _y_ __z__ [t](http://x.invalid) ~~s~~ #1 &amp; $x$",
    "www.x.invalid a@x.invalid",
    'quotes "and", commas',
    "宽 wide ü é",
    "",
    "x" * 1_000_000,
]
LETTERS = st.text(st.characters(codec=None), max_size=30) | st.sampled_from(HOSTILE[:-1])


def sheet(*rows: tuple[str, ...], groups: int = 0) -> Sheet:
    columns = tuple(f"c{n}" for n in range(len(rows[0]) if rows else 2))
    return Sheet("s", "A sheet", columns, rows, groups)


# -- cells ----------------------------------------------------------------------------


@given(LETTERS)
def test_inert_text_is_printable(text: str) -> None:
    assert inert(text).isprintable()
    assert inert(inert(text)) == inert(text)


def test_letters_of_any_script_stay() -> None:
    assert inert("Größe 宽 ועוד") == "Größe 宽 ועוד"
    assert inert("a\nb\u202ec\x1b") == "a\\nb\\u202ec\\x1b"


def test_width() -> None:
    # Annex 11: U+5BBD is W; U+0301 (category Mn) takes no column of its own.
    assert [width(t) for t in ("", "abc", "宽", "e\u0301")] == [0, 3, 2, 1]


@given(LETTERS.map(inert), st.integers(2, 30), st.integers(1, 5))
def test_wrapped_lines_fit_and_lose_nothing_unless_clipped(text: str, limit: int, n: int) -> None:
    lines = wrapped(text, limit, n)
    assert 1 <= len(lines) <= n
    assert all(width(line) <= limit for line in lines)
    if not lines[-1].endswith("…"):
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_wrapping_keeps_words_whole() -> None:
    assert wrapped("along trunk-gallery, tied TG-1", 14, 6) == [
        "along",
        "trunk-gallery,",
        "tied TG-1",
    ]
    assert wrapped("abcdefgh ij", 5, 6) == ["abcde", "fgh", "ij"]
    assert wrapped("one two three", 5, 2) == ["one", "two…"]
    assert clipped("abcdef", 4) == "abc…"


# -- CSV ------------------------------------------------------------------------------


@pytest.mark.parametrize("text", HOSTILE[:-1])  # the last is longer than csv's reader takes
def test_no_cell_of_a_csv_is_a_formula(text: str) -> None:
    for cell in csv_cells(comma_text(sheet((text, "b")))):
        assert not cell.lstrip().startswith(("=", "+", "-", "@", "\t", "\r", "\uff1d"))
        assert cell.isprintable()


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\tx", "\rx", " =1", "'=1"])
def test_a_formula_gets_an_apostrophe(text: str) -> None:
    assert comma_cell(text) == f"'{inert(text)}"


@pytest.mark.parametrize("text", ["", "J1", "a=b", "1-2", "'quoted'", "a@b"])
def test_other_cells_stay_as_they_are(text: str) -> None:
    assert comma_cell(text) == text


@given(st.lists(st.tuples(LETTERS, LETTERS), min_size=1, max_size=4))
def test_csv_reads_back(rows: list[tuple[str, str]]) -> None:
    text = comma_text(sheet(*rows))
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert read == [["c0", "c1"], *([comma_cell(cell) for cell in row] for row in rows)]
    assert text.endswith("\r\n")  # RFC 4180, section 2.1
    assert text.count("\n") == len(rows) + 1


def csv_cells(text: str) -> list[str]:
    return [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]


# -- Markdown -------------------------------------------------------------------------


def shown(cell: str) -> str:
    """Return what a reader of CommonMark shows: backslash escapes and entities resolved."""
    return html.unescape(re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", cell))


@given(LETTERS)
def test_markdown_shows_what_was_written(text: str) -> None:
    assert shown(markdown_cell(text)) == inert(text)


@given(LETTERS)
def test_no_markdown_cell_has_a_live_mark(text: str) -> None:
    cell = markdown_cell(text)
    bare = re.sub(r"\\[!-/:-@\[-`{-~]|&[a-z]+;|&#\d+;", "", cell)
    assert not re.search(r"[|<>&\\`*\[\]~!$@]|://|www\.", bare)
    assert "|" not in cell


def test_markdown_keeps_ids_legible() -> None:
    assert markdown_cell("part_engaged TP1-J1.3") == "part_engaged TP1-J1.3"
    assert markdown_cell("a|b\\") == "a&#124;b&#92;"
    assert markdown_cell("_x_ *y*") == "\\_x\\_ \\*y\\*"


def test_markdown_table() -> None:
    text = markdown_text(sheet(("yard", "a|b", ""), ("yard", "c", "d"), groups=1))
    assert text == (
        "## A sheet\n\n### yard\n\n| c1 | c2 |\n| --- | --- |\n| a&#124;b |  |\n| c | d |\n"
    )


# -- plain text -----------------------------------------------------------------------


@given(st.lists(st.tuples(LETTERS, LETTERS, LETTERS), max_size=4), st.integers(0, 2))
def test_plain_text_fits_and_is_inert(rows: list[tuple[str, str, str]], groups: int) -> None:
    table = Sheet("s", "T", ("a", "b", "c"), tuple(sorted(rows)), groups)
    text = plain_text(table)
    for line in text.split("\n"):
        assert width(line) <= WIDTH
        assert line.isprintable()


def test_a_million_letters_are_clipped() -> None:
    text = plain_text(sheet(("x" * 1_000_000, "b")))
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "…" in text
    assert len(text) < 2000


def test_plain_text_aligned_and_grouped() -> None:
    rows = (("shed", "wall", "J1", ""), ("shed", "wall", "J2", "x"), ("yard", "box", "J3", "宽"))
    table = Sheet("s", "T", ("place", "on", "half", "to"), rows, 2, {"shed": "Where it is."})
    assert plain_text(table) == (
        "T\n=\n"
        "\nshed\n  Where it is.\n  wall\n    half  to\n    ----  --\n    J1\n    J2    x\n"
        "\nyard\n  box\n    half  to\n    ----  --\n    J3    宽\n"
    )


def test_an_empty_sheet_says_so() -> None:
    table = Sheet("s", "T", ("a",), (), empty="There is none.")
    assert plain_text(table) == "T\n=\n\nThere is none.\n"
    assert "*There is none.*" in markdown_text(table)
    assert comma_text(table) == "a\r\n"


def test_the_widest_column_gives_way_first() -> None:
    assert widths([("aa", "b " * 50)], 40) == [2, 36]
    assert widths([("short", "a longer text here")], 100) == [5, 18]


def test_a_row_has_a_cell_a_column() -> None:
    with pytest.raises(ValueError, match="a row has 1 cells"):
        Sheet("s", "T", ("a", "b"), (("x",),))
