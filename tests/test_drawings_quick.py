"""Pictures after the first are made from what is known; they are those made from nothing."""

from __future__ import annotations

import random
import re
import struct
import zlib
from pathlib import Path

import pytest
from test_cases import CASES, _case
from test_drawings_pictures import HOSTILE, album, demo, hostile_account

from cablewalk.drawings import engine
from cablewalk.drawings.embed import Embedded
from cablewalk.drawings.engine import draw_pinned
from cablewalk.drawings.fontfile import FontFile, font_file
from cablewalk.drawings.label import plain
from cablewalk.drawings.palette import set_right
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES, Dress, Wear, turn_between, turned
from cablewalk.drawings.redress import step_dresses
from cablewalk.timeline.account import Account, account

STREAM = re.compile(rb"<< /Length (\d+) /Filter /FlateDecode[^>]*>>\nstream\n")


def streams(pdf: bytes) -> list[bytes]:
    """Return every stream of a PDF of ours, unpacked."""
    return [zlib.decompress(pdf[m.end() : m.end() + int(m[1])]) for m in STREAM.finditer(pdf)]


def texts(pdf: bytes) -> list[str]:
    """Return the lines a PDF of ours shows, read back through its character maps."""
    content, _, regular, _, bold = streams(pdf)
    maps = []
    for table in (regular, bold):
        pairs = re.findall(rb"^<(\w{4})> <(\w+)>$", table, re.MULTILINE)
        maps.append({g: bytes.fromhex(c.decode()).decode("utf-16-be") for g, c in pairs})
    found = []
    for face, shown in re.findall(rb"/F([01]) [\d.]+ Tf [^<]*<(\w*)> Tj", content):
        glyphs = re.findall(rb"\w{4}", shown)
        found.append("".join(maps[int(face)][glyph] for glyph in glyphs))
    return found


def check_dresses(told: Account) -> None:
    book = Album(told, PAGES["a4"])
    dresses, turns = step_dresses(book.wardrobe, book.every)
    for moment, dress in zip(book.every, dresses, strict=True):
        assert dress == book.wardrobe.dress(moment, "step")
    worn: dict[tuple[str | int, ...], Wear] = {}
    for turn, dress in zip(turns, dresses, strict=True):
        worn = turned(worn, turn)
        assert worn == dress


def test_steps_are_dressed_as_from_nothing() -> None:
    check_dresses(demo(1, 2, 3))


@pytest.mark.parametrize("path", CASES[::4], ids=lambda p: p.stem)
def test_steps_of_cases_are_dressed_as_from_nothing(path: Path) -> None:
    case = _case(path)
    told = account(case.baseline, case.procedures)
    if not told.trace.unusable:
        check_dresses(told)


@pytest.mark.parametrize("fmt", ["svg", "pdf"])
def test_the_order_in_which_steps_are_drawn_does_not_matter(fmt: engine.Format) -> None:
    numbers = [n for n, m in enumerate(album().every) if m.step is not None]
    straight, shuffled = Album(demo(1, 2, 3), PAGES["a4"]), Album(demo(1, 2, 3), PAGES["a4"])
    pictures = {n: straight.step(n).drawn("svg") for n in numbers}
    random.Random(3).shuffle(numbers)
    made = {n: shuffled.step(n) for n in numbers}  # made, then drawn in yet another order
    for n in sorted(numbers[::7]):
        drawn = made[n].drawn(fmt)
        if fmt == "svg":
            assert drawn == pictures[n]
        else:
            assert " ".join(made[n].title.split()) in texts(drawn)
    assert shuffled.before().drawn("svg") == straight.before().drawn("svg")


def test_a_turn_by_hand() -> None:
    one, two = Wear(("a",)), Wear(("b",))
    before: Dress = {("x",): one, ("y",): one}
    after: Dress = {("x",): one, ("z",): two}
    assert turn_between(before, after) == ({("z",): two}, (("y",),))
    assert turned(before, turn_between(before, after)) == after


def test_pdf_says_what_the_dress_says() -> None:
    picture = album().step(33)
    pdf = picture.drawn("pdf")
    order = [*picture.plate.cells]
    expected = [
        line
        for key in order
        for line in (picture.dress[key].lines if key in picture.dress else ())
        if line.strip()
    ]
    assert sorted(texts(pdf)) == sorted(expected)
    wide, high = map(float, re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)[0])
    assert (wide, high) == pytest.approx((PAGES["a4"].width_pt, PAGES["a4"].height_pt), abs=0.01)
    assert plain(picture.title, 400).encode("utf-16-be").hex().encode() in pdf


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_labels_are_letters_in_pdf(text: str) -> None:
    pdf = Album(hostile_account(text), PAGES["a4"]).step(1).drawn("pdf")
    assert any(f"“{text}”" in line for line in texts(pdf))


def test_letters_that_need_shaping_are_left_to_graphviz() -> None:
    book = Album(hostile_account("שלום"), PAGES["a4"])
    assert b"cairo" in book.step(1).drawn("pdf")
    assert b"cairo" not in album().step(1).drawn("pdf")


def test_outlines_in_pdf_stay_where_they_are() -> None:
    """What lies on a page is the same path in every step, but for what is shown or hidden."""
    drawn = [streams(album().step(n).drawn("pdf"))[0] for n in (3, 20, 40)]
    paths = [set(re.findall(rb"(-?[\d.]+ -?[\d.]+ m [^bfSn]*)", content)) for content in drawn]
    assert len(paths[0] & paths[1] & paths[2]) > 0.8 * max(map(len, paths))


def test_cross_references_lead_to_their_objects() -> None:
    """ISO 32000-1, 7.5.4: each entry of 20 bytes is the offset of ``n 0 obj``."""
    pdf = album().before().drawn("pdf")
    at = int(pdf.split(b"startxref\n")[1].split()[0])
    assert pdf[at:].startswith(b"xref\n0 ")
    rows = pdf[at:].split(b"trailer")[0].splitlines()[3:]
    for number, row in enumerate(rows, 1):
        assert pdf[int(row[:10]) :].startswith(b"%d 0 obj\n" % number)
    assert len(rows) == 15


@pytest.mark.parametrize("bold", [False, True])
def test_a_subset_draws_its_glyphs_and_no_other(bold: bool) -> None:
    font = font_file(bold)
    wanted = {font.glyphs[c] for c in "Aé✕"}
    part = font.subset(wanted)
    tables = {}
    for n in range(struct.unpack_from(">H", part, 4)[0]):
        tag, total, start, length = struct.unpack_from(">4sLLL", part, 12 + 16 * n)
        content = part[start : start + length]
        tables[tag.decode()] = content
        padded = content + bytes(-length % 4)
        assert sum(struct.unpack(f">{len(padded) // 4}L", padded)) & 0xFFFFFFFF == total
    again = FontFile(tables, font.per_em, {}, font.advances)
    old, new = font.spans(), again.spans()
    for glyph in wanted:
        outline = font.tables["glyf"][old[glyph] : old[glyph + 1]]
        assert outline
        assert tables["glyf"][new[glyph] : new[glyph + 1]].startswith(outline)
    # é is made of e and an accent; 0 is what the font lacks.
    drawn = {n for n in range(len(new) - 1) if new[n] < new[n + 1]}
    assert wanted < drawn
    assert font.glyphs["e"] in drawn
    assert len(drawn) <= len(wanted) + 3
    assert len(part) < 60_000


def test_a_face_grows_and_is_kept() -> None:
    face = Embedded(False)
    first = face.objects("AB", 5)
    assert face.objects("BA", 5) is first
    assert face.objects("ABC", 5) is not first
    assert face.objects("A", 5) == face.objects("ABC", 5)
    assert face.shown("é") == f"<{font_file().glyphs['é']:04X}>"
    assert face.shown("\U0001f6f0") == "<0000>"


def test_where_gd_is_not_there_the_png_is_drawn_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dot = 'digraph { n0 [label="x" pos="20,20" shape=box] }'
    quick = draw_pinned(dot, "png")
    monkeypatch.setattr(engine, "PALETTE_PNG", "png:cairo:none")
    slow = draw_pinned(dot, "png")
    # PNG specification, 11.2.2: byte 25 is the colour type; 3 has a palette, 6 is RGBA.
    assert (quick[25], slow[25]) == (3, 6)
    assert quick[16:24] == slow[16:24]


def test_paper_is_white_in_a_png() -> None:
    """PNG specification, 11.2.3: the palette's entries are red, green and blue."""
    png = album().after().drawn("png")
    at = png.index(b"PLTE")
    (length,) = struct.unpack_from(">L", png, at - 4)
    entries = {png[n : n + 3] for n in range(at + 4, at + 4 + length, 3)}
    assert {b"\xff\xff\xff", bytes.fromhex("0072B2"), bytes.fromhex("D55E00")} <= entries
    end = at + 4 + length
    assert struct.unpack_from(">L", png, end)[0] == zlib.crc32(png[at:end])


def test_a_palette_by_hand() -> None:
    chunk = b"PLTE" + bytes([252, 254, 252, 10, 20, 30])
    png = b"\x89PNG\r\n\x1a\n" + struct.pack(">L", 6) + chunk + b"crc!" + b"rest"
    right = set_right(png, ((255, 255, 255), (0, 0, 0)))
    assert right[16:22] == bytes([255, 255, 255, 10, 20, 30])
    assert right[:8] == png[:8]
    assert right.endswith(b"rest")
    without = png.replace(b"PLTE", b"IDAT")
    assert set_right(without, ((255, 255, 255),)) == without
