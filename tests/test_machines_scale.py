"""The compiled tables equal the library's machines at scale: long walks, and a large replay.

The authority is the ``transitions`` library, which builds its machines of the same tables.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from benchmarks.generate import models
from transitions import MachineError

from cablewalk.machines.compiled import COMPILED
from cablewalk.machines.machine import build_machine, trigger
from cablewalk.machines.tables import TABLES
from cablewalk.replay.change import Field
from cablewalk.replay.wiring import STATEFUL
from cablewalk.walk.run import ready, replay

STEPS = 20_000
HALVES = 800


class Item:
    """What a machine of the library moves; the library puts ``trigger`` on it."""

    state: str
    trigger: Callable[[str], bool]


@pytest.mark.parametrize("kind", TABLES)
def test_a_long_walk_of_any_events_is_the_same(kind: str) -> None:
    table, compiled, rng = TABLES[kind], COMPILED[kind], random.Random(kind)
    machine = build_machine(table)
    item = Item()
    machine.add_model(item, initial=table.initial)
    state = compiled.state_index[table.initial]
    moved = refused = 0
    for _ in range(STEPS):
        event = rng.choice(compiled.events)
        reached = compiled.step(state, compiled.event_index[event])
        try:
            item.trigger(event)
            moved += 1
            assert reached >= 0
            state = reached
        except MachineError:
            refused += 1
            assert reached == -1
        assert compiled.states[state] == item.state
    assert moved > STEPS // 50
    assert refused


def test_every_change_of_state_in_a_large_replay_is_one_the_library_makes() -> None:
    baseline, procedure = models(HALVES)
    trace = replay(ready(baseline), [procedure])
    items = trace.wiring.items
    seen: dict[tuple[str, str, str], int] = {}
    for event in trace.events:
        for change in event.changes:
            if change.field is Field.STATE:
                assert isinstance(change.old, int) and isinstance(change.new, int)
                kind = STATEFUL[items[change.item].kind]
                names = COMPILED[kind].states
                step = (kind, names[change.old], names[change.new])
                seen[step] = seen.get(step, 0) + 1
    assert sum(seen.values()) > 4 * HALVES
    assert {kind for kind, _, _ in seen} == {"half", "actor"}
    for kind, old, new in seen:
        assert any(trigger(kind, old, e.name) == new for e in TABLES[kind].events), (kind, old, new)
