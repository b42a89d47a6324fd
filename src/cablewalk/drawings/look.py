"""How every state is drawn: one table, read as CSS classes and as DOT attributes.

A state is told by its text tag first, by line and weight second, by colour last. The hues are
those of Okabe and Ito, "Color Universal Design" (2008), chosen to be told apart by colour-blind
eyes; the pale fills are the same hues mixed with white.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

INK: Final = "#262626"
SOFT: Final = "#666666"
FAINT: Final = "#b4b4b4"
PAPER: Final = "#ffffff"
ORANGE: Final = "#E69F00"
GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"
DARK_VERMILION: Final = "#a84300"
"""For words: the hue, dark enough to be read at 7 pt (WCAG 2.2, 1.4.3: 4.5 to 1)."""

DASHES: Final = {
    "solid": "none",
    "dashed": "5,2",
    "dotted": "1,5",
    "dash-dot": "8,3,1,3",
    "short": "2.5,2.5",
    "long": "11,3.5",
}
"""Kinds of lines to their dashes in SVG and PDF; the first three are Graphviz's own."""
_IN_DOT: Final = {"dash-dot": "dashed", "short": "dashed", "long": "dashed"}
"""What Graphviz has no style for, to the nearest that it has (PNG): line weight tells them."""


@dataclass(frozen=True, slots=True)
class Look:
    """One way to be drawn. What is None is left as a look before it in the list has it.

    ``pen_pt``: line width. ``mark``: the text tag, empty where the look has none of its own.
    """

    mark: str = ""
    line: str | None = None
    pen_pt: float | None = None
    ink: str | None = None
    fill: str | None = None
    text: str | None = None
    meaning: str = ""


def _half(mark: str, line: str, pen: float, ink: str, fill: str, meaning: str) -> Look:
    return Look(mark, line, pen, ink, fill, INK, meaning)


def _cable(mark: str, line: str, pen: float, ink: str, meaning: str) -> Look:
    return Look(mark, line, pen, ink, meaning=meaning)


LOOKS: Final[dict[str, Look]] = {
    # ---- the sheet and what stands still; a plain line
    "line": Look("", "solid", 1.0, "#4a4a4a"),
    "page": Look("", "solid", 0, PAPER, PAPER),
    "place": Look("", "solid", 0.6, "#c9c9c9", "#f6f6f4"),
    "panel": Look("", "solid", 0.5, "#bdbdbd", PAPER),
    "panel-absent": Look("ABSENT", "dotted", 1.0, SOFT, "#f6f6f4", meaning="not there yet"),
    "panel-removed": Look("REMOVED", "dashed", 1.0, SOFT, "#f6f6f4", meaning="taken out"),
    "words": Look(text=INK),
    "soft": Look(text=SOFT),
    "loud": Look(text=DARK_VERMILION),
    "good": Look(text="#00664a"),
    # ---- halves, fixed and free
    "mated": _half("MATED", "solid", 0.8, "#8a8a8a", PAPER, "lock verified"),
    "comes-off": _half("MATED✕", "dashed", 1.4, VERMILION, "#fbe5d8", "comes off"),
    "goes-on": _half("MATED✚", "solid", 1.9, BLUE, "#dcecf6", "new mate"),
    "back": _half("MATED↺", "solid", 1.1, BLUE, "#eef4f8", "off, back as before"),
    "unverified": _half("LOCK?", "dashed", 2.2, ORANGE, "#fdf0d3", "lock unverified"),
    "part-engaged": _half("PART", "dotted", 2.4, ORANGE, "#fdf0d3", "part engaged"),
    "capped": _half("CAPPED", "solid", 0.4, INK, "#e3e3e3", "cap on"),
    "cap-comes-off": _half("CAP✕", "dashed", 1.0, VERMILION, "#e3e3e3", "wired cap comes off"),
    "cap-goes-on": _half("CAP✚", "solid", 1.6, BLUE, "#e3e3e3", "wired cap put on"),
    "cap-back": _half("CAP↺", "solid", 0.6, BLUE, "#e3e3e3", "off, back as before"),
    "bare": _half("BARE", "dotted", 1.5, VERMILION, PAPER, "open to touch"),
    "parked": _half("PARKED", "solid", 1.3, GREEN, "#def1eb", "on a dummy"),
    "park-comes-off": _half("PARKED✕", "dashed", 1.7, VERMILION, "#def1eb", "off its dummy"),
    "park-back": _half("PARKED↺", "solid", 0.7, GREEN, "#def1eb", "off, on it again"),
    # ---- legs: the line from the cable's tag to the half at its end
    "routed": _cable("LAID", "solid", 1.0, "#4a4a4a", "on its path"),
    "packed": _cable("IN", "dotted", 0.5, SOFT, "a bag"),
    "in-hand": _cable("HELD", "short", 1.3, ORANGE, "by a worker"),
    "loose": _cable("LOOSE", "dotted", 2.4, VERMILION, "let go"),
    "restrained": _cable("CLIPPED", "long", 0.5, INK, "for now"),
    "stowed": _cable("STOWED", "dotted", 1.2, GREEN, "for later"),
    "pulled-aside": _cable("ASIDE", "dashed", 2.3, ORANGE, "off its path"),
    "hard-wired": _cable("WIRED", "solid", 1.4, "#4a4a4a", "to a unit"),
    # ---- cables: the tag; and a line that wants care
    "cable": Look("", "solid", 0.8, "#4a4a4a", PAPER, INK, "stays as it is"),
    "cable-old": Look("✕", "dashed", 1.4, VERMILION, "#fbe5d8", INK, "is taken off"),
    "cable-new": Look("✚", "solid", 1.9, BLUE, BLUE, PAPER, "is put on"),
    "cable-moved": Look("↔", "solid", 1.4, INK, "#e9e9e9", INK, "is moved"),
    "cable-back": Look("↺", "solid", 1.1, INK, "#f2f2f2", INK, "comes off, goes back"),
    "cable-next": Look("⇢", "dashed", 0.8, BLUE, "#eef4f8", INK, "will go on"),
    "line-weak": Look("", "dotted", 1.6, ORANGE, meaning="a pair that is not surely joined"),
    # ---- small tags: switches, covers, bags and people
    "on": Look("ON", "solid", 1.2, INK, INK, PAPER, "closed"),
    "off": Look("OFF", "solid", 0.5, INK, PAPER, INK, "open"),
    "blocked": Look("BLOCKED", "dashed", 1.0, INK, PAPER, INK, "open, close blocked"),
    "tripped": Look("TRIPPED", "dotted", 1.5, VERMILION, PAPER, INK, "opened by itself"),
    "unknown": Look("ON OR OFF?", "dotted", 0.9, ORANGE, PAPER, INK, "not seen"),
    "fastened": Look("SHUT", "solid", 0.7, SOFT, "#ececec", INK, "and fastened"),
    "part-fastened": Look("PART", "dashed", 0.7, ORANGE, "#ececec", INK, "some fastened"),
    "released": Look("LOOSE", "dotted", 1.0, ORANGE, "#ececec", INK, "shut, none fastened"),
    "open": Look("OPEN", "dashed", 1.3, INK, PAPER, INK, "swung open"),
    "removed": Look("OFF", "dotted", 1.4, INK, PAPER, INK, "taken off"),
    "bag": Look("BAG", "solid", 0.6, INK, "#e9dcc3", INK, "bag"),
    "person": Look("EV", "solid", 1.3, INK, "#cfe6f5", INK, "worker outside"),
    "vehicle": Look("VEH", "dashed", 1.1, INK, "#cfe6f5", INK, "arm or vehicle"),
    "loose-cap": Look("CAP", "dashed", 0.9, INK, "#f3d9e6", INK, "cap, off its half"),
    "rest": Look("", "dashed", 0.5, SOFT, PAPER, SOFT, "folded: not near the work"),
    # ---- what a step changes
    "halo": Look("", "solid", 1.1, INK, YELLOW, meaning="changed now"),
    # ---- laid over others
    "line-off": Look(line="dash-dot", ink=VERMILION, pen_pt=1.8),
    "line-old": Look(line="dashed", ink=VERMILION, pen_pt=0.9),
    "line-new": Look(ink=BLUE, pen_pt=1.9),
    "quiet": Look(pen_pt=0.4, ink=FAINT, text="#4d4d4d"),
    "ghost": Look(pen_pt=0.4, ink=FAINT, fill="#fafafa", text="#666666"),
}
"""Name of a look to the look; of several worn at once, the later in this table lies on top.

The name is the CSS class too, with ``l-`` before it.
"""

_RANK: Final = {name: n for n, name in enumerate(LOOKS)}


def worn(names: Iterable[str]) -> Look:
    """Return looks laid over one another as their classes are in CSS: the table's order counts."""
    whole = Look()
    for name in sorted(names, key=_RANK.__getitem__):
        top = LOOKS[name]
        whole = Look(
            *(
                getattr(whole, part) if getattr(top, part) in (None, "") else getattr(top, part)
                for part in ("mark", "line", "pen_pt", "ink", "fill", "text", "meaning")
            )
        )
    return whole


def dot_line(look: Look) -> str:
    """Return the DOT style of a look's line."""
    line = look.line or "solid"
    return _IN_DOT.get(line, line)


def node_attributes(names: Iterable[str], shape: str) -> dict[str, str]:
    """Return the DOT attributes of a node that wears these looks.

    ``shape`` is ``box``, ``pill`` (rounded), ``tag`` (cut corners) or ``plain`` (text only).
    """
    look = worn(names)
    attributes = {"fontcolor": look.text or INK}
    if shape == "plain":
        return attributes
    line = dot_line(look)
    style = ["filled", line]
    if shape == "pill":
        style.append("rounded")
    if not look.pen_pt:
        style.remove(line)
    attributes["style"] = ",".join(style)
    attributes["color"] = look.ink or INK
    attributes["fillcolor"] = look.fill or PAPER
    attributes["penwidth"] = f"{look.pen_pt or 0:g}"
    return attributes


def edge_attributes(names: Iterable[str]) -> dict[str, str]:
    """Return the DOT attributes of an edge that wears these looks."""
    look = worn(names)
    return {
        "style": dot_line(look),
        "color": look.ink or INK,
        "penwidth": f"{1 if look.pen_pt is None else look.pen_pt:g}",
    }


@cache
def css_classes(names: tuple[str, ...]) -> str:
    """Return the value of an SVG element's ``class`` that wears these looks."""
    return " ".join(f"l-{name}" for name in names)


def stylesheet() -> str:
    """Return the style block that gives each class its look; later classes lie on top."""
    rules = [
        "text{font-family:'DejaVu Sans',Verdana,sans-serif}",
        ".bold text{font-weight:bold}",
        ".away{display:none}",
    ]
    for name, look in LOOKS.items():
        shape = []
        if look.ink is not None:
            shape.append(f"stroke:{look.ink}")
        if look.pen_pt is not None:
            shape.append(f"stroke-width:{look.pen_pt:g}")
        if look.line is not None:
            shape.append(f"stroke-dasharray:{DASHES[look.line]}")
        here = f".l-{name}"
        if shape:
            rules.append(f"{here} path,{here} polygon{{{';'.join(shape)}}}")
        if look.fill is not None:
            rules.append(f"{here}.node path,{here}.node polygon{{fill:{look.fill}}}")
        if look.text is not None:
            rules.append(f"{here} text{{fill:{look.text}}}")
    return "\n".join(rules)
