"""The axes of a temperature plot: everything lies within its frame, whatever the range."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Tree
from itertools import pairwise
from pathlib import Path

from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from test_demos import OUTPOST, files

from cablewalk.cli import commands
from cablewalk.drawings.metrics import width_pt
from cablewalk.drawings.plot import HEAD, LEFT, PLOT, RIGHT, WIDE, zone_plot
from cablewalk.drawings.plot_axis import CUT, Rows, TimeAxis, degrees_of
from cablewalk.reports.base import Pet
from cablewalk.reports.heading import PhaseRow
from cablewalk.reports.thermal import PointRow, ZoneRow

SVG = "{http://www.w3.org/2000/svg}"
CELSIUS = st.floats(-200, 200, allow_nan=False).map(lambda c: round(c, 2))


def phase(start: float, end: float) -> PhaseRow:
    pet = Pet.model_construct(pet="0:00", phase_number=1, phase="work", phase_title="")
    return PhaseRow.model_construct(
        number=1, procedure="work", start_min=start, end_min=end, zero_min=start, start_pet=pet
    )


def zone(curve: list[float], low: float | None) -> ZoneRow:
    points = tuple(
        PointRow.model_construct(at_min=60.0 * n, estimated_c=c) for n, c in enumerate(curve)
    )
    return ZoneRow.model_construct(
        zone="Z", label="", curve=points, losses=(), measured=(), limit_low_c=low,
        limit_high_c=None, lowest_c=min(curve),
    )  # fmt: skip


@given(st.lists(CELSIUS, min_size=1, max_size=6))
def test_the_range_holds_its_values_and_ends_on_grid_lines(values: list[float]) -> None:
    degrees = degrees_of(values)
    lines = degrees.lines
    assert degrees.low < min(values)
    assert degrees.high > max(values)
    assert 2 <= len(lines) <= 9
    assert abs(lines[0] - degrees.low) < 1e-6
    assert abs(lines[-1] - degrees.high) < 1e-6
    for one, other in pairwise(lines):
        assert abs(other - one - degrees.step) < 1e-6
    assert not [f"{line:g}" for line in lines if "e" in f"{line:g}" or f"{line:g}" == "-0"]


@given(st.lists(CELSIUS, min_size=2, max_size=6), st.none() | CELSIUS)
def test_grid_lines_and_labels_lie_within_the_frame(curve: list[float], low: float | None) -> None:
    """None runs through the title above or the clock beneath."""
    plot = zone_plot(zone(curve, low), [phase(0, 60.0 * (len(curve) - 1))])
    root = Tree.fromstring(plot)
    top, base = HEAD + 8, HEAD + 8 + PLOT
    grid = [float(n.get("y1", "nan")) for n in root.iter(f"{SVG}line") if n.get("stroke") == "#ddd"]
    assert min(grid) >= top - 0.06
    assert max(grid) <= base + 0.06
    labels = [
        float(node.get("y", "nan"))
        for node in root.iter(f"{SVG}text")
        if node.get("text-anchor") == "end" and re.fullmatch(r"-?[\d.]+", node.text or "")
    ]
    assert len(labels) == len(grid)
    assert all(top - 0.06 <= y - 4 <= base + 0.06 for y in labels)


@given(st.lists(st.tuples(st.floats(10, 500), st.floats(0, 1)), min_size=1, max_size=4))
def test_labels_stay_within_their_piece_of_time_where_it_has_room(
    pieces: list[tuple[float, float]],
) -> None:
    """Each piece of time has one label somewhere in it, over no break where it fits the piece."""
    spans, marks, at = [], [], 0.0
    for long, share in pieces:
        spans.append((at, at + long))
        marks.append(at + long * share)
        at += long + 1000
    axis = TimeAxis(spans, LEFT, WIDE - RIGHT)
    text = "by estimate 7:06"
    half = width_pt(text, 10) / 2 + 3
    rows = Rows(LEFT, WIDE - RIGHT, 10)
    for mark in marks:
        piece = axis.piece(mark)
        assert piece is not None
        middle, _ = rows.place(axis.x(mark), text, piece)
        if piece[1] - piece[0] >= 2 * half:
            assert piece[0] <= middle - half + 1e-9
            assert middle + half <= piece[1] + 1e-9
        else:
            assert middle - half + 1e-9 >= LEFT
            assert middle + half <= WIDE - RIGHT + 1e-9
    assert all(abs(right - left - CUT) < 1e-6 for left, right in axis.cuts)


def demo_plots(folder: Path) -> dict[str, str]:
    """Return the plot of each zone of the demo's three outings."""
    done = CliRunner().invoke(commands, ["zones", *files(OUTPOST), "--plot", str(folder)])
    assert done.exit_code == 0, done.stderr
    return {file.stem: file.read_text(encoding="utf-8") for file in folder.glob("*.svg")}


def test_no_label_of_the_demo_lies_over_a_break(tmp_path: Path) -> None:
    """*by estimate 11:19* of Z-VALVE stands in a short stretch, made wide enough for it."""
    plots = demo_plots(tmp_path)
    told = []
    for plot in plots.values():
        root = Tree.fromstring(plot)
        rects = [n for n in root.iter(f"{SVG}rect") if n.get("height") == f"{PLOT + 3}"]
        cuts = [(float(n.get("x", "nan")), float(n.get("width", "nan"))) for n in rects]
        for node in root.iter(f"{SVG}text"):
            text, x = node.text or "", float(node.get("x", "nan"))
            if not text.startswith("by "):
                continue
            told.append(text)
            half = width_pt(text, 10) / 2
            assert all(x + half <= left or x - half >= left + wide for left, wide in cuts), text
    assert "by estimate 11:19" in told


def test_two_plots_in_one_page_share_no_name(tmp_path: Path) -> None:
    plots = demo_plots(tmp_path / "one")
    names = [set(re.findall(r' id="([^"]*)"', plot)) for plot in plots.values()]
    assert all(names)
    assert sum(map(len, names)) == len(set().union(*names))
    for plot, own in zip(plots.values(), names, strict=True):
        assert set(re.findall(r"url\(#([^)]*)\)", plot)) <= own
    assert plots == demo_plots(tmp_path / "other")
