"""Pictures and text of the transition tables.

The picture is DOT source, built from the table alone: an edge for each step of each row. A solid
edge is something a worker does; a dashed one happens to the item, or is learnt about it. What
leaves a state as it is stands in the state's box: a loop would lie over other lines. Colour
carries nothing. In the picture names are words; text and Markdown have them as documents do.
"""

from __future__ import annotations

from typing import Any, Final

import graphviz

from cablewalk.machines.tables import SAME, TABLES, Event, Table

FONT: Final = "DejaVu Sans"
_INK: Final = "#1a1a1a"
_PAPER: Final = "#ffffff"
_INITIAL_FILL: Final = "#ececec"
_HAPPENS: Final = "happens or is learnt, nobody does it"

_GRAPH: Final = {
    "rankdir": "TB",
    "bgcolor": _PAPER,
    "fontname": FONT,
    "fontsize": "11",
    "fontcolor": _INK,
    "labelloc": "t",
    # ISO 216 A4 landscape (297 x 210 mm) less 12 mm all round, in inches: larger is shrunk.
    "size": "10.74,7.32",
    "labeljust": "l",
    "nodesep": "0.6",
    "ranksep": "0.7",
    "pad": "0.25",
    "outputorder": "edgesfirst",
}
_NODE: Final = {
    "shape": "box",
    "style": "rounded,filled",
    "fillcolor": _PAPER,
    "color": _INK,
    "fontname": FONT,
    "fontsize": "14",
    "fontcolor": _INK,
    "penwidth": "1.4",
    "margin": "0.2,0.1",
    "width": "1.8",
    "height": "0.55",
}
_EDGE: Final = {
    "color": _INK,
    "fontname": FONT,
    "fontsize": "11",
    "fontcolor": _INK,
    "arrowsize": "0.7",
    "penwidth": "1.0",
}


def _label(*lines: str, end: str = "\\n") -> Any:
    """Return lines as one DOT label, as the ``str`` kind that graphviz never takes for HTML.

    Nothing in the lines is read as an escape, an entity or a line break. An empty line becomes a
    blank: pygraphviz 2.0.4 was seen to crash in ``free_textspan`` on a label with an empty line.
    """
    clean = ("".join(c for c in line if c.isprintable()) or " " for line in lines)
    text = end.join(line.replace("\\", "\\\\").replace("&", "&amp;") for line in clean)
    return graphviz.nohtml(text if end == "\\n" else text + end)


def edges(table: Table) -> dict[tuple[str, str, bool], tuple[str, ...]]:
    """Return (source, dest, is it a happening) to the names of the events that lead so.

    Parallel edges are merged; a happening never shares an edge with what a worker does.
    """
    merged: dict[tuple[str, str, bool], tuple[str, ...]] = {}
    for event in table.events:
        for source in event.sources:
            key = (source, event.dest_from(source), event.name in table.happenings)
            merged[key] = (*merged.get(key, ()), event.name)
    return merged


def _words(name: str) -> str:
    """Return a state's or event's name as words."""
    return name.replace("_", " ")


def stays(table: Table, state: str) -> list[str]:
    """Return a line for what a worker does in a state and for what happens, that leaves it so."""
    loops = {happening: n for (a, b, happening), n in edges(table).items() if a == b == state}
    heads = {False: "stays: ", True: "stays, happens: "}
    return [heads[h] + ", ".join(map(_words, names)) for h, names in sorted(loops.items())]


def machine_dot(kind: str) -> str:
    """Return the DOT source of one kind's machine."""
    return table_dot(TABLES[kind])


def table_dot(table: Table) -> str:
    """Return the DOT source of one table; nodes are ``n0`` … in the table's order of states."""
    legend = [
        f"{table.kind}: states and events",
        "double border: where it starts unless told otherwise",
    ]
    if any(stays(table, state) for state in table.states):
        legend.append("stays: can be done, and leaves the state as it is")
    if table.happenings:
        legend.append(f"dashed: {_HAPPENS}")
    graph = graphviz.Digraph(
        name=f"machine_{table.kind}",
        graph_attr={**_GRAPH, "label": _label(*legend, "", end="\\l")},
        node_attr=_NODE,
        edge_attr=_EDGE,
    )
    ids = {state: f"n{i}" for i, state in enumerate(table.states)}
    for state, node in ids.items():
        first = {"peripheries": "2", "fillcolor": _INITIAL_FILL} if state == table.initial else {}
        tooltip = _label(table.meanings[state])
        label = _label(_words(state), *stays(table, state))
        graph.node(node, label=label, tooltip=tooltip, **first)
    for (source, dest, happening), names in edges(table).items():
        if source == dest:
            continue
        style = {"style": "dashed", "arrowhead": "empty"} if happening else {}
        # The blanks keep the words clear of the line they stand beside.
        label = _label(*(f" {_words(name)} " for name in names))
        graph.edge(ids[source], ids[dest], label=label, **style)
    return str(graph.source)


def _leads_to(event: Event) -> str:
    return "stays" if event.dest == SAME else event.dest


def machine_text(kind: str) -> str:
    """Return one kind's states and events as plain text for a terminal."""
    table = TABLES[kind]
    wide = max(map(len, table.states))
    lines = [f"{kind}: starts {table.initial} unless told otherwise", "", "states"]
    lines += [f"  {state:<{wide}}  {table.meanings[state]}" for state in table.states]
    lines += ["", "events"]
    for event in table.events:
        happens = f" ({_HAPPENS})" if event.name in table.happenings else ""
        back = f"back by {event.inverse}" if event.inverse else f"no way back: {event.no_inverse}"
        lines += [
            f"  {event.name}: {event.meaning}{happens}",
            f"      {', '.join(event.sources)} -> {_leads_to(event)}",
            f"      {back}",
        ]
    return "\n".join(lines) + "\n"


def machine_markdown(kind: str) -> str:
    """Return one kind's states and events as two Markdown tables under a heading."""
    table = TABLES[kind]
    lines = [f"## {kind}", "", f"Starts `{table.initial}` unless told otherwise.", ""]
    lines += ["| state | meaning |", "|---|---|"]
    lines += [f"| `{state}` | {table.meanings[state]} |" for state in table.states]
    lines += ["", "| event | from | to | meaning | taken back by, or why not |"]
    lines += ["|---|---|---|---|---|"]
    for event in table.events:
        sources = ", ".join(f"`{s}`" for s in event.sources)
        undo = f"`{event.inverse}`" if event.inverse else event.no_inverse
        name = f"`{event.name}`" + (" (happens)" if event.name in table.happenings else "")
        lines.append(f"| {name} | {sources} | {_leads_to(event)} | {event.meaning} | {undo} |")
    return "\n".join(lines) + "\n"
