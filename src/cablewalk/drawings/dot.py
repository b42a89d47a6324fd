"""A dressed plate as DOT, everything pinned: Graphviz draws it and moves nothing."""

from __future__ import annotations

from typing import Final

import graphviz

from cablewalk.drawings.fonts import FONT
from cablewalk.drawings.label import label
from cablewalk.drawings.look import INK, PAPER, css_classes, edge_attributes, node_attributes
from cablewalk.drawings.plate import FONT_PT, Cell, Dress, Key, Plate, Stroke, Wear

_SHAPES: Final = {"box": "box", "pill": "box", "tag": "box", "plain": "plaintext"}
_COMMON: Final = {
    "fixedsize": "true",
    "fontname": FONT,
    "margin": "0",
    "fontsize": f"{FONT_PT:g}",
    "fontcolor": INK,
    "fillcolor": PAPER,
    "shape": "box",
}
"""What most nodes have; said once, for the text is read again for every picture."""
INCH_PT: Final = 72
LONGEST: Final = 400
"""Characters of one line of a label; lines are cut to their room before."""


def names(plate: Plate) -> tuple[dict[Key, str], dict[Key, str]]:
    """Return the DOT ids of cells (``n0`` …) and of strokes (``e0`` …), the same in all steps."""
    nodes = {key: f"n{n}" for n, key in enumerate(plate.cells)}
    return nodes, {key: f"e{n}" for n, key in enumerate(plate.strokes)}


Lines = dict[tuple[Key, Wear], str]
"""A cell or stroke as it is worn, to its line of DOT."""


def dot_of(plate: Plate, dress: Dress, kept: Lines | None = None) -> str:
    """Return the DOT text of one picture; what the dress leaves out is not in it.

    ``kept`` is filled with the lines, and read instead of writing one twice.
    """
    kept = {} if kept is None else kept
    graph = graphviz.Digraph(
        name="cablewalk",
        graph_attr={
            "outputorder": "nodesfirst",
            "pad": "0",
            "margin": "0",
            "bb": f"0,0,{plate.width:.2f},{plate.height:.2f}",
            "size": f"{plate.page.width_pt / INCH_PT:.4f},{plate.page.height_pt / INCH_PT:.4f}!",
        },
        node_attr=_COMMON,
        edge_attr={"dir": "none"},
    )
    nodes, edges = names(plate)
    for key, cell in plate.cells.items():
        wear = dress.get(key)
        if wear is not None:
            if (key, wear) not in kept:
                kept[key, wear] = f"\t{nodes[key]} {_quoted(_node(plate, cell, wear))}\n"
            graph.body.append(kept[key, wear])
    for key, stroke in plate.strokes.items():
        wear = dress.get(key)
        if wear is not None and stroke.tail in dress and stroke.head in dress:
            if (key, wear) not in kept:
                ends = f"{nodes[stroke.tail]} -> {nodes[stroke.head]}"
                given = _edge(plate, stroke, wear) | {"id": edges[key]}
                kept[key, wear] = f"\t{ends} {_quoted(given)}\n"
            graph.body.append(kept[key, wear])
    return str(graph.source)


def _quoted(attributes: dict[str, str]) -> str:
    """Return attributes as DOT, all in quotes: so no text is HTML, and a ``"`` ends none.

    Backslashes stand doubled in the labels already. Done here for it is done for every thing
    that changes in a step, and takes the package some 50 µs each.
    """
    given = (f'{name}="' + value.replace('"', '\\"') + '"' for name, value in attributes.items())
    return f"[{' '.join(given)}]"


def _node(plate: Plate, cell: Cell, wear: Wear) -> dict[str, str]:
    end = "\\l" if cell.left else "\\n"
    lines = [*wear.lines, *[""] * cell.rows][: cell.rows]
    # A label with an empty line makes pygraphviz 2.0.4 crash: a blank instead.
    text = end.join(label(line, LONGEST) or " " for line in lines)
    attributes = {
        "label": text + end if cell.left else text,
        "shape": _SHAPES[cell.shape],
        "class": css_classes(wear.looks) + (" bold" if cell.bold else ""),
        "pos": _point(plate, cell.x, cell.y),
        "width": f"{cell.w / INCH_PT:.4f}",
        "height": f"{cell.h / INCH_PT:.4f}",
        "fontsize": f"{cell.size_pt:g}",
        **node_attributes(wear.looks, cell.shape),
    }
    if cell.bold:
        attributes["fontname"] = f"{FONT} Bold"
    return {name: value for name, value in attributes.items() if _COMMON.get(name) != value}


def _edge(plate: Plate, stroke: Stroke, wear: Wear) -> dict[str, str]:
    points = " ".join(_point(plate, x, y) for x, y in stroke.points)
    return {"pos": points, "class": css_classes(wear.looks), **edge_attributes(wear.looks)}


def _point(plate: Plate, x: float, y: float) -> str:
    """Return a point as DOT has it: y upwards from the lower edge."""
    return f"{x:.2f},{plate.height - y:.2f}"
