"""Replay: one action at every size, beside networkx; a machine's event; copying and what-ifs."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import networkx as nx
from transitions import Machine

from cablewalk.continuity.components import Components
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.machines.compiled import COMPILED
from cablewalk.machines.machine import build_machine
from cablewalk.machines.tables import TABLES
from cablewalk.replay.change import Change, Field
from cablewalk.walk.run import ready, replay
from cablewalk.walk.scene import scene_at
from cablewalk.walk.subject import Subject, find_subject
from cablewalk.walk.what_if import what_if_lost

from .generate import chain, models
from .measure import Row, in_turn

SIZES = (200, 800, 3200)
LINKS = 3200
EVENTS = 20_000
ASKED = 20


def actions(procedure: Procedure) -> int:
    """Return how many actions a procedure has."""
    return sum(len(step.do) for step in procedure.steps)


def replaying(baseline: Baseline, procedure: Procedure) -> Callable[[], object]:
    """Return the whole replay of a procedure on a baseline that is compiled already.

    That is: the plan, the first judgement of every service, then every action at its begin and
    its end with all that is watched: services, exposed and touched live contacts, findings.
    """
    ground = ready(baseline)

    def piece() -> object:
        trace = replay(ground, [procedure])
        assert len(trace.events) == 2 * actions(procedure), "an action was refused"
        return trace

    return piece


def keeping_components(baseline: Baseline, procedure: Procedure) -> Callable[[], object]:
    """Return the following of all changes of a replay by the components alone."""
    trace = replay(ready(baseline), [procedure])
    config = trace.start.copy()
    components = Components(config)
    there = [event.changes for event in trace.events]
    back = [[change.inverse for change in reversed(changes)] for changes in reversed(there)]

    def piece() -> object:
        """There and back again, so that each piece begins where the one before did."""
        for changes in (*there, *back):
            config.apply(changes)
            components.update(changes)
        return components

    return piece


def recomputing(baseline: Baseline, mated: dict[str, str]) -> Callable[[], object]:
    """Return the recomputing of all components, contact by contact, after one change.

    The graph itself is kept: only the components are worked out again.
    """
    graph = nx.Graph()
    contacts = (*baseline.interfaces["m20"].contacts, "shell")
    for place in baseline.places.values():
        for panel in place.panels.values():
            for name, half in panel.halves.items():
                graph.add_edge(f"{name}.shell", "structure")
                wired = half.wired if isinstance(half.wired, tuple) else ()
                graph.add_edges_from(
                    (f"{name}.{contact}", terminal)
                    for contact, terminal in zip(contacts, wired, strict=False)
                    if terminal != "-"
                )
    for harness in baseline.harnesses.values():
        for run in harness.runs:
            names = [end.partition(".") for end in run]
            every = contacts[:-1] if names[0][2] == "*" else (names[0][2],)
            for contact in every:
                nx.add_path(graph, [f"{leg}.{contact}" for leg, _, _ in names])
    for leg, other in mated.items():
        graph.add_edges_from((f"{leg}.{contact}", f"{other}.{contact}") for contact in contacts)
    return lambda: list(nx.connected_components(graph))


def replay_rows(repeats: int) -> Iterator[Row]:
    """Yield the rows of one replayed action."""
    documents = {size: models(size) for size in SIZES}
    cost = {}
    small = documents[SIZES[0]]
    pieces = [replaying(*documents[size]) for size in SIZES]
    again = recomputing(small[0], dict(small[0].now.mated))
    kept = keeping_components(*small)
    *taken, following, compared = in_turn(repeats, *pieces, kept, again)
    for size, seconds in zip(SIZES, taken, strict=True):
        cost[size] = seconds / actions(documents[size][1])
    yield Row(
        "one replayed action, 200 halves", cost[200],
        "components recomputed with networkx", compared, faster=300,
    )  # fmt: skip
    yield Row(
        "of it, the components kept at its begin and its end",
        following / (2 * actions(small[1])),
        "components recomputed with networkx, twice", 2 * compared, faster=300,
    )  # fmt: skip
    for size in SIZES[1:]:
        yield Row(
            f"one replayed action, {size:,} halves", cost[size],
            "the same, 200 halves", cost[200], at_most=2,
        )  # fmt: skip
    worst = chain(LINKS)
    (seconds,) = in_turn(max(1, repeats // 3), replaying(*worst))
    yield Row(
        f"worst case: a chain of {LINKS:,} links, cut and joined", seconds / actions(worst[1]),
        "one replayed action, 200 halves", cost[200],
    )  # fmt: skip
    yield from _asking_rows(repeats, small[0], cost[200])


def _asking_rows(repeats: int, baseline: Baseline, action: float) -> Iterator[Row]:
    ground = ready(baseline)
    scene = scene_at(baseline, replay(ground, []), None)
    subjects = [_subject(ground.wiring, f"P{'AB'[n % 2]}{n}") for n in range(ASKED)]

    def what_ifs() -> None:
        for subject in subjects:
            loss = what_if_lost(scene, subject)
            assert loss is not None and loss.services

    def copies() -> None:
        for _ in range(ASKED):
            scene.config.copy()

    asked, copied = in_turn(repeats, what_ifs, copies)
    yield Row(
        "copying a configuration and one what-if, 200 halves", asked / ASKED,
        "one replayed action, 200 halves", action, at_most=4,
    )  # fmt: skip
    yield Row(
        "of it, copying the configuration", copied / ASKED,
        "one replayed action, 200 halves", action,
    )  # fmt: skip


def _subject(wiring: object, name: str) -> Subject:
    found = find_subject(wiring, name)  # type: ignore[arg-type]
    assert isinstance(found, Subject)
    return found


def machine_rows(repeats: int) -> Iterator[Row]:
    """Yield the row of a machine's event."""
    baseline, _ = models(SIZES[0])
    config = ready(baseline).config
    half = config.wiring.by_id["PA0"]
    compiled = COMPILED["half"]
    events = [compiled.event_index[name] for name in ("demate", "mate")]

    def stepping() -> None:
        state = config.state
        for n in range(EVENTS):
            old = state[half]
            new = compiled.step(old, events[n % 2])
            config.apply([Change(Field.STATE, half, old, new)])
        assert compiled.states[state[half]] == "mated"

    plain: Machine = build_machine(TABLES["half"])

    class Item:
        trigger: Callable[[str], bool]
        state: str

    item = Item()
    plain.add_model(item, initial="mated")

    def triggering() -> None:
        for n in range(EVENTS):
            item.trigger("mate" if n % 2 else "demate")
        assert item.state == "mated"

    ours, theirs = in_turn(repeats, stepping, triggering)
    yield Row(
        "a machine's event, its change included", ours / EVENTS,
        "a plain trigger of transitions", theirs / EVENTS, faster=10,
    )  # fmt: skip
