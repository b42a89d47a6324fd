"""States are told apart without colour, and SVG and DOT show the same look."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from cablewalk.drawings.look import (
    DASHES,
    LOOKS,
    Look,
    css_classes,
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
    "unverified",
    "part-engaged",
    "capped",
    "cap-comes-off",
    "cap-goes-on",
    "bare",
    "parked",
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
CABLES = ("cable", "cable-old", "cable-moved", "cable-new")
OVERLAYS = ("quiet", "ghost", "line-old", "line-new")
WORN_TOGETHER = [
    ("mated", "quiet"),
    ("capped", "ghost"),
    ("bare", "ghost"),
    ("cable-new", "ghost"),
    ("cable-old", "ghost"),
    ("line", "line-new"),
    ("line", "line-old"),
    ("line", "comes-off"),
    ("routed", "line-old"),
    ("routed", "line-new"),
]


def without_colour(look: Look) -> tuple[str | None, float | None]:
    """Return what of a look a black-and-white print keeps besides its tag."""
    return look.line, look.pen_pt


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
        assert whole.line in dot["style"].split(",")
        assert edge_attributes(looks)["style"] == whole.line


def test_what_lies_over_others_comes_last() -> None:
    assert list(LOOKS)[-len(OVERLAYS) :] == ["line-old", "line-new", "quiet", "ghost"]
    assert worn(("ghost", "bare")) == worn(("bare", "ghost"))
