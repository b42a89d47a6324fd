"""The pictures and texts of the machines show the tables, all of them and nothing else."""

from __future__ import annotations

import html

import pygraphviz
import pytest

from cablewalk.machines.diagram import FONT, machine_dot, machine_markdown, machine_text, table_dot
from cablewalk.machines.tables import TABLES, Event, Table

KINDS = tuple(TABLES)


def plain(label: str) -> list[str]:
    """Return the lines of a DOT label as a reader sees them."""
    return [html.unescape(line.strip()) for line in label.replace("\\\\", "\0").split("\\n")]


@pytest.mark.parametrize("kind", KINDS)
def test_nodes_and_edges_equal_the_table(kind: str) -> None:
    table = TABLES[kind]
    graph = pygraphviz.AGraph(string=machine_dot(kind))
    labels = {node: plain(node.attr["label"]) for node in graph.nodes()}
    words = [state.replace("_", " ") for state in table.states]
    names = {node: lines[0] for node, lines in labels.items()}
    assert names == {f"n{i}": state for i, state in enumerate(words)}
    drawn = [
        (names[edge[0]], names[edge[1]], event, edge.attr["style"] == "dashed")
        for edge in graph.edges()
        for event in plain(edge.attr["label"])
    ]
    # What leaves a state as it is stands in its box, not on a loop.
    assert all(edge[0] != edge[1] for edge in graph.edges())
    for node, lines in labels.items():
        for line in lines[1:]:
            head, events = line.split(": ")
            happens = {"stays": False, "stays, happens": True}[head]
            drawn += [(names[node], names[node], event, happens) for event in events.split(", ")]
    expected = [
        (
            source.replace("_", " "),
            event.dest_from(source).replace("_", " "),
            event.name.replace("_", " "),
            event.name in table.happenings,
        )
        for event in table.events
        for source in event.sources
    ]
    assert sorted(drawn) == sorted(expected)
    ends = [(e[0], e[1], e.attr["style"]) for e in graph.edges()]
    assert len(ends) == len(set(ends)), "parallel edges of one style are merged"


@pytest.mark.parametrize("kind", KINDS)
def test_no_label_has_an_empty_line(kind: str) -> None:
    """Seen with pygraphviz 2.0.4: an empty line in a label crashes the process in gvFreeLayout."""
    graph = pygraphviz.AGraph(string=machine_dot(kind))
    labels = [graph.graph_attr["label"].removesuffix("\\l").replace("\\l", "\\n")]
    labels += [item.attr["label"] for item in (*graph.nodes(), *graph.edges())]
    assert len(labels) > 4
    assert all(line for label in labels for line in label.split("\\n"))


@pytest.mark.parametrize("kind", KINDS)
def test_only_the_initial_state_has_a_double_border(kind: str) -> None:
    graph = pygraphviz.AGraph(string=machine_dot(kind))
    double = [n.attr["label"] for n in graph.nodes() if n.attr["peripheries"] == "2"]
    assert [plain(label)[0] for label in double] == [TABLES[kind].initial.replace("_", " ")]
    assert graph.graph_attr["fontname"] == graph.node_attr["fontname"] == FONT
    assert graph.edge_attr["fontname"] == FONT


@pytest.mark.parametrize("name", ["<b>x</b>", "a\\", 'say "no"', "J1:p2", "a\\nb", "x&lt;y", "]"])
def test_odd_names_are_drawn_as_they_are(name: str) -> None:
    table = Table("odd", (name,), name, (Event(name, (name,), "=", name),), {name: name})
    graph = pygraphviz.AGraph(string=table_dot(table))
    assert list(graph.nodes()) == ["n0"]
    label = graph.get_node("n0").attr["label"]
    assert [line.replace("\0", "\\") for line in plain(label)] == [name, f"stays: {name}"]
    svg = graph.draw(prog="dot", format="svg").decode()
    assert f">{name}<" in html.unescape(svg).replace("\N{NO-BREAK SPACE}", " ")


def test_control_characters_are_left_out() -> None:
    table = Table("odd", ("a\0b\n",), "a\0b\n", (), {"a\0b\n": "\ud800"})
    graph = pygraphviz.AGraph(string=table_dot(table))
    assert graph.get_node("n0").attr["label"] == "ab"
    assert graph.get_node("n0").attr["tooltip"] == " "


@pytest.mark.parametrize("kind", KINDS)
def test_texts_name_every_state_and_event_with_its_meaning(kind: str) -> None:
    table = TABLES[kind]
    text, markdown = machine_text(kind), machine_markdown(kind)
    for state in table.states:
        assert table.meanings[state] in text
        assert f"| `{state}` | {table.meanings[state]} |" in markdown
    for event in table.events:
        assert f"  {event.name}: {event.meaning}" in text
        assert event.meaning in markdown
        assert (f"back by {event.inverse}" if event.inverse else event.no_inverse) in text
    events = markdown.split("|---|---|---|---|---|\n")[1].splitlines()
    assert len(events) == len(table.events)
    assert {line.count("|") for line in events} == {6}


def test_text_of_a_small_machine() -> None:
    """Golden text: read by people as it stands."""
    assert machine_text("bag") == (
        "bag: starts at_place unless told otherwise\n"
        "\n"
        "states\n"
        "  at_place  left at a place\n"
        "  carried   carried by a worker\n"
        "\n"
        "events\n"
        "  carry: take it along\n"
        "      at_place -> carried\n"
        "      back by leave\n"
        "  leave: leave it at this place\n"
        "      carried -> at_place\n"
        "      back by carry\n"
    )
