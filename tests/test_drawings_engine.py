"""Pictures are drawn with nothing but what pip brings, and labels show what was written."""

from __future__ import annotations

import os
import re
import struct
import subprocess
import sys
import unicodedata
import zlib
from pathlib import Path
from xml.etree import ElementTree

import graphviz
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cablewalk.drawings.engine import (
    DrawingFailed,
    Format,
    GraphvizWarning,
    NoGraphviz,
    draw,
    layout,
)
from cablewalk.drawings.fonts import FONT, FONT_DIR
from cablewalk.drawings.label import label, plain, stacked

MAGIC: dict[Format, bytes] = {
    "svg": b"<?xml",
    # PNG specification (ISO/IEC 15948), 5.2 PNG signature.
    "png": b"\x89PNG\r\n\x1a\n",
    # ISO 32000-1, 7.5.2 File header.
    "pdf": b"%PDF-",
}


def dot_of(text: str, **attributes: str) -> str:
    """Return DOT of one node with a label and nothing else to see."""
    graph = graphviz.Digraph(node_attr={"shape": "plaintext", "fontname": FONT} | attributes)
    graph.node("n0", label=text)
    source: str = graph.source
    return source


def texts_of(svg: bytes) -> list[str]:
    """Return the texts that an SVG shows, with its no-break spaces as blanks."""
    root = ElementTree.fromstring(svg)
    found = root.iter("{http://www.w3.org/2000/svg}text")
    return ["".join(element.itertext()).replace("\xa0", " ") for element in found]


def ink_columns(png: bytes) -> list[int]:
    """Return the numbers of the pixel columns of a PNG that hold anything but white.

    Reads 8-bit RGB or RGBA without interlace (PNG specification, ISO/IEC 15948, 9 Filtering).
    """
    width, height, depth, colour, _, _, interlace = struct.unpack(">IIBBBBB", png[16:29])
    assert (depth, interlace) == (8, 0)
    size = {2: 3, 6: 4}[colour]
    packed, at = b"", 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        if png[at + 4 : at + 8] == b"IDAT":
            packed += png[at + 8 : at + 8 + length]
        at += length + 12
    raw = zlib.decompress(packed)
    columns: set[int] = set()
    row = bytearray(width * size)
    for y in range(height):
        kind, *line = raw[y * (width * size + 1) : (y + 1) * (width * size + 1)]
        above, row = row, bytearray(width * size)
        for i, value in enumerate(line):
            left = row[i - size] if i >= size else 0
            corner = above[i - size] if i >= size else 0
            up = above[i]
            guess = left + up - corner
            paeth = min((left, up, corner), key=lambda c: abs(guess - c))
            row[i] = (value + (0, left, up, (left + up) // 2, paeth)[kind]) % 256
        columns |= {x for x in range(width) if row[x * size : x * size + 3] != b"\xff\xff\xff"}
    return sorted(columns)


def in_bare_process(code: str, home: Path, **environment: str) -> bytes:
    """Return what a new process prints that has no PATH, no home and no fonts of its own."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={
            "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
            "SYSTEMROOT": os.environ.get("SYSTEMROOT", ""),
            "PATH": "",
            "HOME": str(home),
            "FONTCONFIG_FILE": str(home / "none.conf"),
            "FONTCONFIG_PATH": str(home),
        }
        | environment,
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b""), done.stderr.decode()
    return done.stdout


def bare_draw(dot: str, fmt: Format, home: Path, **environment: str) -> bytes:
    """Return a picture drawn in a process of :func:`in_bare_process`."""
    code = (
        "import sys; from cablewalk.drawings.engine import draw; "
        f"sys.stdout.buffer.write(draw({dot!r}, {fmt!r}))"
    )
    return in_bare_process(code, home, **environment)


@pytest.mark.parametrize("fmt", MAGIC)
def test_draws_without_a_dot_program(fmt: Format, tmp_path: Path) -> None:
    assert bare_draw(dot_of("J1"), fmt, tmp_path).startswith(MAGIC[fmt])


def test_png_has_glyphs_where_the_machine_has_no_fonts(tmp_path: Path) -> None:
    columns = {text: ink_columns(bare_draw(dot_of(text), "png", tmp_path)) for text in "Wi"}
    width = {text: found[-1] - found[0] + 1 for text, found in columns.items()}
    # A missing glyph is a box, as wide for every letter (seen: 13 pixels each). DejaVu Sans
    # advances 2025 units for W and 569 for i, of 2048 an em (hmtx table of the font file).
    assert width["W"] > 3 * width["i"]
    assert ink_columns(bare_draw(dot_of(""), "png", tmp_path)) == []


@pytest.mark.parametrize("family", [FONT, "Times-Roman", "No Such Family"])
def test_machine_and_family_do_not_move_the_layout(family: str, tmp_path: Path) -> None:
    dot = dot_of("Wide Label 12", fontname=family)
    bare = bare_draw(dot, "svg", tmp_path)
    assert draw(dot, "svg") == bare
    assert layout(dot).width_pt == layout(dot_of("Wide Label 12")).width_pt


def test_bold_is_another_face() -> None:
    dot = dot_of("Wide Label 12", fontname=f"{FONT} Bold")
    assert layout(dot).width_pt > layout(dot_of("Wide Label 12")).width_pt


def test_the_font_directory_stays_as_installed(tmp_path: Path) -> None:
    bare_draw(dot_of("J1"), "png", tmp_path)
    # Fontconfig would leave a .uuid here.
    files = {"DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "LICENSE_DEJAVU"}
    assert {p.name for p in FONT_DIR.iterdir()} == files


def test_fonts_come_with_their_licence() -> None:
    licence = (FONT_DIR / "LICENSE_DEJAVU").read_text(encoding="utf-8")
    assert "Permission is hereby granted, free of charge" in licence


def test_dpi_is_pixels_an_inch() -> None:
    dot = 'digraph { graph [pad=0] n0 [label="" shape=box fixedsize=true width=2 height=1] }'

    for dpi in (100, 300):
        (width_px,) = struct.unpack(">I", draw(dot, "png", dpi)[16:20])
        # Two inches, and an outline of one point.
        assert width_px == pytest.approx(2 * dpi, abs=dpi * 2 / 72)


def test_the_environment_stays_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FONTCONFIG_PATH", "/elsewhere")
    monkeypatch.delenv("FONTCONFIG_FILE", raising=False)
    draw(dot_of("J1"), "svg")
    assert os.environ["FONTCONFIG_PATH"] == "/elsewhere"
    assert "FONTCONFIG_FILE" not in os.environ


def test_a_warning_is_told_and_not_printed(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.warns(GraphvizWarning, match="unknown shape nonsense"):
        assert draw('digraph { n0 [label="" shape=nonsense] }', "svg")
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("dot", "said"),
    [
        ("digraph {", "syntax error"),
        ("", "Invalid Input"),
        ("digraph { n0 [label=<<b>x>] }", "mismatched tag"),
        ('digraph { n0 [label="\ud800"] }', "surrogates not allowed"),
    ],
)
def test_what_is_not_dot_is_refused(dot: str, said: str, capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(DrawingFailed, match=said):
        draw(dot, "svg")
    assert capfd.readouterr() == ("", "")


def test_over_a_thousand_nodes_says_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    dot = "digraph { node [label=x]" + "".join(f" n{i}" for i in range(1001)) + " }"
    assert len(layout(dot).nodes) == 1001
    assert capfd.readouterr() == ("", "")


def test_draws_with_standard_error_closed(tmp_path: Path) -> None:
    code = (
        "import os, sys; from cablewalk.drawings.engine import draw; os.close(2); "
        f"sys.stdout.buffer.write(draw({dot_of('J1')!r}, 'svg'))"
    )
    assert texts_of(in_bare_process(code, tmp_path)) == ["J1"]


def test_layout_by_hand() -> None:
    found = layout(
        "digraph { ranksep=1 margin=0 node [label=x shape=box fixedsize=true width=1 height=0.5]"
        ' n0 -> "J1 \\"p2\\"" }'
    )
    # One node over the other, an inch between them: 0.5 + 1 + 0.5 inches high, 1 inch wide.
    assert (found.width_pt, found.height_pt) == (72, 144)
    assert found.nodes == {"n0": (36, 126, 72, 36), 'J1 "p2"': (36, 18, 72, 36)}


def test_layout_of_nothing() -> None:
    assert layout("digraph { }").nodes == {}


class TestWithoutPygraphviz:
    @pytest.fixture(autouse=True)
    def no_library(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "pygraphviz", None)

    def test_nor_dot_is_said(
        self, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], tmp_path: Path
    ) -> None:
        monkeypatch.setenv("PATH", str(tmp_path))
        for fmt in MAGIC:
            with pytest.raises(NoGraphviz, match=r"pip install pygraphviz.*package 'graphviz'"):
                draw(dot_of("J1"), fmt)
        assert capfd.readouterr() == ("", "")
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.skipif(sys.platform == "win32", reason="the stand-in is a shell script")
    @pytest.mark.parametrize(("code", "fails"), [(0, False), (1, True)])
    def test_a_program_dot_is_called(
        self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, code: int, fails: bool
    ) -> None:
        # A stand-in for dot: what is checked is the call, not the picture.
        stand_in = tmp_path / "dot"
        stand_in.write_text(
            '#!/bin/sh\necho "$@"; /bin/cat; echo "$FONTCONFIG_FILE"\n'
            f"echo 'Warning: so so' >&2; exit {code}\n"
        )
        stand_in.chmod(0o755)
        monkeypatch.setenv("PATH", str(tmp_path))
        if fails:
            with pytest.raises(DrawingFailed, match="so so"):
                draw("digraph { }", "png", 96)
            return
        with pytest.warns(GraphvizWarning, match="so so"):
            picture = draw("digraph { }", "png", 96).decode()
        args, read, fonts = re.split("digraph { }|\n", picture.replace("digraph { }", "\n", 1))[:3]
        assert (args, read) == ("-Tpng -Gdpi=96", "")
        assert FONT in Path(fonts).read_text(encoding="utf-8")


HOSTILE = [
    "<b>bold</b>",
    "<",
    "<<>>",
    "J1:p2",
    'say "P1"',
    "\\",
    "ends in \\",
    'ends in \\"',
    "\\N \\G \\n \\l \\\\",
    "&amp; &#60; &lt;",
    "a]; n9 [label=x",
    "/* not a comment */ // # x",
    "node",
    "12",
    "%s {0} $x `x`",
    "]]> <!-- -->",
    "Ärger 接続 ✓",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_label_shows_letter_for_letter(text: str) -> None:
    svg = draw(dot_of(label(text)), "svg")
    assert texts_of(svg) == [text]
    assert b'id="node2"' not in svg


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\x00b\x1b[31mc\x07", r"a\x00b\x1b[31mc\x07"),
        ("right\u202eto left\u2066\u200f", r"right\u202eto left\u2066\u200f"),
        ("\ud800half\udfff", r"\ud800half\udfff"),
        ("\ufeffmark\ufffe\uffff\ue000", r"\ufeffmark\ufffe\uffff\ue000"),
        ("  two\r\nlines\tand\u2028more\xa0 ", "two lines and more"),
        ("a \x00 b", r"a \x00 b"),
        ("", ""),
        ("\x00", r"\x00"),
    ],
)
def test_what_has_no_shape_is_written_as_an_escape(text: str, shown: str) -> None:
    assert plain(text, 80) == shown
    assert texts_of(draw(dot_of(label(text)), "svg")) == ([shown] if shown else [])


@pytest.mark.parametrize(
    ("text", "limit", "shown"),
    [
        ("abcdef", 6, "abcdef"),
        ("abcdef", 5, "abcd…"),
        ("abc def", 5, "abc…"),
        ("ab", 1, "…"),
        ("&&&&&&", 3, "&&…"),
        ("\\" * 9, 3, "\\\\…"),
        ("x" * 1_000_000, 4, "xxx…"),
    ],
)
def test_a_long_label_is_clipped(text: str, limit: int, shown: str) -> None:
    assert texts_of(draw(dot_of(label(text, limit)), "svg")) == [shown]


def test_no_room_for_a_label_is_an_error() -> None:
    with pytest.raises(ValueError, match="at most 0 characters"):
        label("x", 0)


def test_stacked_labels_are_lines() -> None:
    svg = draw(dot_of(stacked(["<b>", "J1\nP1", "c\\n"])), "svg")
    assert texts_of(svg) == ["<b>", "J1 P1", "c\\n"]


@given(st.text(st.characters(exclude_categories=[]), max_size=40), st.integers(1, 30))
def test_any_label_shows_as_plain_text(text: str, limit: int) -> None:
    shown = plain(text, limit)
    assert len(shown) <= limit
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
    # XML readers may fold blanks of other widths that the text holds; their place is what counts.
    drawn = " ".join(texts_of(draw(dot_of(label(text, limit)), "svg")))
    assert drawn.split() == shown.split()
