"""States are told apart without colour, and SVG and DOT show the same look."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from cablewalk.drawings.look import (
    DASHES,
    LOOKS,
    PAPER,
    Look,
    css_classes,
    dot_line,
    edge_attributes,
    node_attributes,
    stylesheet,
    worn,
)
from cablewalk.machines.tables import TABLES

HALVES = (
    "mated",
    "comes-off",
    "goes-on",
    "back",
    "unverified",
    "part-engaged",
    "capped",
    "cap-comes-off",
    "cap-goes-on",
    "cap-back",
    "bare",
    "parked",
    "park-comes-off",
    "park-back",
)
LEGS = (
    "routed",
    "packed",
    "in-hand",
    "loose",
    "restrained",
    "stowed",
    "pulled-aside",
    "hard-wired",
)
SWITCHES = ("on", "off", "blocked", "tripped", "unknown")
COVERS = ("fastened", "part-fastened", "released", "open", "removed")
MOVABLES = ("bag", "person", "vehicle", "loose-cap")
CABLES = ("cable", "cable-old", "cable-moved", "cable-back", "cable-next", "cable-new")
OVERLAYS = ("quiet", "ghost", "line-old", "line-new")
WORN_TOGETHER = [
    ("mated", "quiet"),
    ("capped", "ghost"),
    ("bare", "ghost"),
    ("cable-new", "ghost"),
    ("cable-old", "ghost"),
    ("line", "line-new"),
    ("line", "line-old"),
    ("line", "line-off"),
    ("routed", "line-old"),
    ("routed", "line-new"),
]


def without_colour(look: Look) -> tuple[str | None, float | None]:
    """Return what of a look a black-and-white print keeps besides its tag."""
    return look.line, look.pen_pt


# Lines that one picture may show together, with the words of the legend beside each.
LINES = (*LEGS, "line-off", "line-old", "line-new", "line-weak")


@pytest.mark.parametrize("dpi", ["vector", "raster"])
def test_lines_of_a_legend_differ_without_colour(dpi: str) -> None:
    """SVG and PDF have dashes of their own; in a PNG weight must tell what Graphviz cannot."""
    for a, b in combinations(LINES, 2):
        one, other = LOOKS[a], LOOKS[b]
        kinds = (one.line or "solid", other.line or "solid")
        if dpi == "raster":
            kinds = (dot_line(one), dot_line(other))
        apart = abs((one.pen_pt or 1) - (other.pen_pt or 1)) >= 0.3
        assert kinds[0] != kinds[1] or apart, (a, b)
    dashes = [DASHES[LOOKS[n].line or "solid"] for n in ("line-off", "line-old")]
    dashes += [DASHES[LOOKS[n].line or "solid"] for n in ("in-hand", "restrained")]
    assert len(set(dashes)) == len(dashes)


def luminance(colour: str) -> float:
    """Return relative luminance. Source: W3C, WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_all_words_can_be_read() -> None:
    """At least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3), on each ground they stand on."""
    seen = 0
    for names in [*((n,) for n in LOOKS), *WORN_TOGETHER]:
        look = worn(names)
        if look.text is None:
            continue
        bare = look.fill is None
        grounds = (PAPER, LOOKS["place"].fill, LOOKS["panel"].fill) if bare else (look.fill,)
        for ground in grounds:
            light, dark = sorted((luminance(look.text), luminance(str(ground))), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (names, ground)
            seen += 1
    assert seen > 40


@pytest.mark.parametrize("kind", [HALVES, LEGS, SWITCHES, COVERS, CABLES, MOVABLES])
def test_states_of_a_kind_differ_without_colour(kind: tuple[str, ...]) -> None:
    for a, b in combinations(kind, 2):
        assert LOOKS[a].mark != LOOKS[b].mark, (a, b)
        assert without_colour(LOOKS[a]) != without_colour(LOOKS[b]), (a, b)


@pytest.mark.parametrize("kind", ["half", "leg", "switch", "cover"])
def test_every_state_of_the_machine_has_a_look_with_a_tag(kind: str) -> None:
    for state in TABLES[kind].states:
        assert LOOKS[state.replace("_", "-")].mark


def cascade(classes: str, node: bool) -> dict[str, str]:
    """Return what a reader of the style block makes of a shape with these classes.

    Source: W3C, "CSS Cascading and Inheritance Level 3", order of appearance: of rules that
    weigh the same, the last wins. All rules here weigh the same but those for a node's fill,
    which compete only among themselves.
    """
    found: dict[str, str] = {}
    for selector, body in re.findall(r"^(\.[^{]+)\{([^}]*)\}$", stylesheet(), re.MULTILINE):
        first = selector.split(",")[0]
        match = re.fullmatch(r"\.(l-[a-z-]+)(\.node)? (path|text)", first)
        if match is None or match[1] not in classes.split() or (match[2] and not node):
            continue
        for entry in body.split(";"):
            name, value = entry.split(":")
            found[f"text {name}" if match[3] == "text" else name] = value
    return found


@pytest.mark.parametrize("looks", [*((n,) for n in LOOKS), *WORN_TOGETHER], ids="+".join)
def test_svg_and_dot_show_the_same(looks: tuple[str, ...]) -> None:
    css = cascade(css_classes(looks), node=True)
    whole = worn(looks)
    dot = node_attributes(looks, "box")
    if whole.fill is not None:
        assert css["fill"] == dot["fillcolor"]
    if whole.text is not None:
        assert css["text fill"] == dot["fontcolor"]
    if whole.pen_pt is not None:
        assert css["stroke-width"] == dot["penwidth"] == edge_attributes(looks)["penwidth"]
    if whole.ink is not None:
        assert css["stroke"] == dot["color"] == edge_attributes(looks)["color"]
    if whole.line is not None and whole.pen_pt:
        assert css["stroke-dasharray"] == DASHES[whole.line]
        # Graphviz has two broken styles; of the others DOT has the nearest.
        in_dot = whole.line if whole.line in ("solid", "dashed", "dotted") else "dashed"
        assert in_dot in dot["style"].split(",")
        assert edge_attributes(looks)["style"] == in_dot


def test_what_lies_over_others_comes_last() -> None:
    assert list(LOOKS)[-len(OVERLAYS) :] == ["line-old", "line-new", "quiet", "ghost"]
    assert worn(("ghost", "bare")) == worn(("bare", "ghost"))
