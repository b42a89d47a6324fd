"""The parts a picture is made of: widths of text, setting things in a line."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cablewalk.drawings.engine import layout
from cablewalk.drawings.fonts import FONT
from cablewalk.drawings.metrics import clipped, width_pt, wrapped
from cablewalk.drawings.pack import packed, stacked_height

KERNING_AND_HINTING = 0.04
"""By how much Graphviz's own width may differ: it kerns, and rounds to whole pixels."""


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["TP1-J1 MATED✚", "STOWED prow", "heater power", "µΩ äö Жщ"])
def test_against_graphviz_widths(text: str, bold: bool) -> None:
    family = f"{FONT} Bold" if bold else FONT
    dot = f'digraph {{ n0 [label="{text}" shape=box margin=0 width=0 height=0 fontsize=70'
    seen = layout(f'{dot} fontname="{family}"] }}').nodes["n0"].width_pt
    assert width_pt(text, 70, bold) == pytest.approx(seen, rel=KERNING_AND_HINTING)


@given(st.text(max_size=60), st.floats(8, 200))
def test_clipped_text_fits(text: str, room: float) -> None:
    short = clipped(text, room, 7.0)
    assert short == text or short.endswith("…")
    assert width_pt(short, 7.0) <= room + 1e-9 or short == "…"


@given(st.text(max_size=120), st.floats(20, 200))
def test_wrapped_text_keeps_its_words(text: str, room: float) -> None:
    lines = wrapped(text, room, 7.0)
    assert lines
    if not any(line.endswith("…") for line in lines):
        assert " ".join(lines).split() == text.split()


def test_packing_by_hand() -> None:
    # Two things of size 2 that both want 5, a gap of 1: they share the shift.
    assert packed([5, 5], [2, 2], 1, 0, 20) == [3.5, 6.5]
    # One alone stays where it would be; at the edge it is pushed in.
    assert packed([5], [2], 1, 0, 20) == [5]
    assert packed([0], [2], 1, 0, 20) == [1]
    assert packed([30], [2], 1, 0, 20) == [19]
    assert packed([], [], 1, 0, 20) == []


@given(
    st.lists(st.tuples(st.floats(0, 500), st.floats(1, 40)), max_size=25),
    st.floats(0, 5),
)
def test_packed_things_never_overlap(things: list[tuple[float, float]], gap: float) -> None:
    wants = sorted(want for want, _ in things)
    sizes = [size for _, size in things]
    centres = packed(wants, sizes, gap, 0, 600)
    edges = [(c - s / 2, c + s / 2) for c, s in zip(centres, sizes, strict=True)]
    for (_, end), (start, _) in itertools.pairwise(edges):
        assert start - end >= gap - 1e-6
    if edges:
        assert edges[0][0] >= -1e-6
        if stacked_height(sizes, gap) <= 600:
            assert edges[-1][1] <= 600 + 1e-6
