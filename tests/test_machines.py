"""The tables, their compiled form, and the ``transitions`` library agree."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cablewalk.machines.compiled import COMPILED, Compiled, compile_table
from cablewalk.machines.machine import build_machine, trigger
from cablewalk.machines.tables import SAME, TABLES, Event, Table

KINDS = tuple(TABLES)
ROWS = [(table, event) for table in TABLES.values() for event in table.events]
ROW_IDS = [f"{t.kind}-{e.name}-from-{e.sources[0]}" for t, e in ROWS]

# States no event leads to: only a baseline can say that hardware has yet to arrive.
STATED_ONLY = {"unit": {"absent"}, "panel": {"absent"}}

# The design's list of machines and states (shared/design.md, part 1, "State machines"), with the
# spellings agreed for the documents.
STATES = {
    "half": "bare capped part_engaged unverified mated",
    "leg": "packed in_hand loose restrained routed stowed pulled_aside",
    "cap": "fitted tethered held packed lost",
    "cover": "fastened part_fastened released open removed",
    "switch": "off blocked on tripped unknown",
    "unit": "absent installed removed",
    "panel": "absent installed removed",
    "bag": "at_place carried",
    "actor": "idle working",
}

# What each machine is to allow, in the words of the project's brief and written apart from the
# tables: "event sources -> dest"; "=" keeps the state. All else is refused.
ASKED = {
    "half": """
        cap bare -> capped; uncap capped -> bare; engage bare -> part_engaged;
        seat bare part_engaged -> unverified; mate bare part_engaged unverified -> mated;
        lock unverified -> mated; demate part_engaged unverified mated -> bare;
        slip unverified mated -> part_engaged""",
    "leg": """
        take packed -> in_hand; pack in_hand -> packed; let_go in_hand -> loose;
        pick_up loose restrained routed stowed -> in_hand; restrain in_hand loose -> restrained;
        route in_hand loose restrained stowed routed -> routed;
        stow in_hand loose restrained routed -> stowed; pull_aside routed -> pulled_aside;
        restore pulled_aside -> routed; hand_over in_hand -> in_hand""",
    "cap": """
        fit tethered held -> fitted; remove_tethered fitted -> tethered;
        remove_loose fitted -> held; pick_up tethered -> held; tether held -> tethered;
        pack held -> packed; take packed -> held; hand_over held -> held;
        lose fitted tethered held packed -> lost; recover lost -> held""",
    "cover": """
        release_some fastened part_fastened -> part_fastened;
        release_all fastened part_fastened -> released;
        fasten_some released part_fastened -> part_fastened;
        fasten_all released part_fastened -> fastened; open released -> open;
        close open -> released; remove released open -> removed; fit removed -> released""",
    "switch": """
        switch_off on unknown tripped off -> off; switch_off blocked -> =;
        switch_on off unknown on -> on; block off blocked -> blocked; unblock blocked -> off;
        trip on -> tripped; reset tripped -> off;
        lose_sight off blocked on tripped unknown -> unknown;
        see_on unknown -> on; see_off unknown -> off; see_blocked unknown -> blocked""",
    "unit": "install absent removed -> installed; remove installed -> removed",
    "panel": "install absent removed -> installed; remove installed -> removed",
    "bag": "carry at_place -> carried; leave carried -> at_place",
    "actor": "begin idle -> working; end working -> idle",
}

# What is found, learnt or befalls an item: no worker does it.
HAPPENINGS = {
    "half": {"slip"},
    "cap": {"lose", "recover"},
    "switch": {"trip", "lose_sight", "see_on", "see_off", "see_blocked"},
}


def asked(kind: str) -> dict[tuple[str, str], str]:
    """Return (state, event) to the state reached, as ``ASKED`` has it."""
    pairs = {}
    for clause in ASKED[kind].split(";"):
        left, dest = clause.split("->")
        event, *sources = left.split()
        for source in sources:
            pairs[source, event] = source if dest.strip() == "=" else dest.strip()
    return pairs


def step(compiled: Compiled, state: str, event: str) -> str | None:
    """Step the compiled form by names; None when refused."""
    reached = compiled.step(compiled.state_index[state], compiled.event_index[event])
    return None if reached < 0 else compiled.states[reached]


def legal_map(kind: str) -> dict[tuple[str, str], str]:
    compiled = COMPILED[kind]
    reached = {(s, e): step(compiled, s, e) for s in compiled.states for e in compiled.events}
    return {pair: dest for pair, dest in reached.items() if dest is not None}


def test_kinds_and_states_are_those_of_the_design() -> None:
    assert {kind: set(table.states) for kind, table in TABLES.items()} == {
        kind: set(states.split()) for kind, states in STATES.items()
    }


@pytest.mark.parametrize("kind", KINDS)
def test_a_machine_allows_exactly_what_was_asked(kind: str) -> None:
    assert legal_map(kind) == asked(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_compiled_equals_the_library_for_every_state_and_event(kind: str) -> None:
    compiled = COMPILED[kind]
    outcomes = [
        (step(compiled, s, e), trigger(kind, s, e))
        for s in compiled.states
        for e in compiled.events
    ]
    assert outcomes == [(ours, ours) for ours, _ in outcomes]
    assert any(ours is None for ours, _ in outcomes), "a machine that refuses nothing"
    assert any(ours is not None for ours, _ in outcomes)


@settings(max_examples=150, deadline=None)
@given(data=st.data(), kind=st.sampled_from(KINDS))
def test_compiled_equals_the_library_over_lists_of_events(data: st.DataObject, kind: str) -> None:
    """Both are led through the same list from any state; a refusal moves neither."""
    compiled = COMPILED[kind]
    start = data.draw(st.sampled_from(compiled.states))
    events = data.draw(st.lists(st.sampled_from(compiled.events), max_size=25))
    ours, theirs = compiled.state_index[start], start
    for event in events:
        reached = compiled.step(ours, compiled.event_index[event])
        answer = trigger(kind, theirs, event)
        assert (reached == -1) == (answer is None)
        assert (event in compiled.legal(ours)) == (answer is not None)
        if answer is not None:
            ours, theirs = reached, answer
        assert compiled.states[ours] == theirs


@pytest.mark.parametrize("kind", KINDS)
def test_legal_is_what_the_library_would_fire(kind: str) -> None:
    compiled, machine = COMPILED[kind], build_machine(TABLES[kind])
    for index, state in enumerate(compiled.states):
        assert set(compiled.legal(index)) == set(machine.get_triggers(state))


@pytest.mark.parametrize(("table", "event"), ROWS, ids=ROW_IDS)
def test_each_row_has_an_inverse_or_says_why_not(table: Table, event: Event) -> None:
    assert (event.inverse is None) == bool(event.no_inverse)
    assert event.meaning


@pytest.mark.parametrize(
    ("table", "event"),
    [pair for pair in ROWS if pair[1].inverse],
    ids=[i for i, pair in zip(ROW_IDS, ROWS, strict=True) if pair[1].inverse],
)
def test_an_inverse_leads_back_to_one_of_the_sources(table: Table, event: Event) -> None:
    assert event.inverse is not None
    back = {
        step(COMPILED[table.kind], event.dest_from(source), event.inverse)
        for source in event.sources
    }
    assert back & set(event.sources)


def test_what_happens_is_told_from_what_is_done_and_only_lose_is_taken_back() -> None:
    for table in TABLES.values():
        assert table.happenings == HAPPENINGS.get(table.kind, set())
        for event in table.events:
            if event.name in table.happenings and event.name != "lose":
                assert event.inverse is None


@pytest.mark.parametrize("kind", KINDS)
def test_every_state_is_reachable(kind: str) -> None:
    compiled, table = COMPILED[kind], TABLES[kind]
    seen, front = {table.initial}, [table.initial]
    while front:
        state = front.pop()
        for event in compiled.events:
            dest = step(compiled, state, event)
            if dest is not None and dest not in seen:
                seen.add(dest)
                front.append(dest)
    assert set(table.states) - seen == STATED_ONLY.get(kind, set())


@pytest.mark.parametrize("kind", KINDS)
def test_no_state_is_a_dead_end_and_all_have_a_meaning(kind: str) -> None:
    table = TABLES[kind]
    assert table.initial in table.states
    assert set(table.meanings) == set(table.states)
    assert all(table.meanings.values())
    assert all(COMPILED[kind].legal(i) for i in range(len(table.states)))


def test_a_table_that_contradicts_itself_is_not_compiled() -> None:
    meanings = {"a": "one", "b": "other"}

    def table(*events: Event) -> Table:
        return Table("odd", ("a", "b"), "a", events, meanings)

    twice = (Event("go", ("a",), "b", "go"), Event("go", ("b", "a"), SAME, "go"))
    with pytest.raises(ValueError, match="two rows of go start from a"):
        compile_table(table(*twice))
    with pytest.raises(ValueError, match="no such state"):
        compile_table(table(Event("go", ("a",), "c", "go")))
    states = tuple(f"s{i}" for i in range(255))
    with pytest.raises(ValueError, match="255 states do not fit"):
        compile_table(Table("big", states, "s0", (), dict.fromkeys(states, "")))


def test_unknown_names_are_told_with_what_there_is() -> None:
    with pytest.raises(ValueError, match="no machine for kind 'lid'; there is half"):
        trigger("lid", "open", "close")
    with pytest.raises(ValueError, match="bag has no state 'lost'; it has at_place, carried"):
        trigger("bag", "lost", "carry")
    with pytest.raises(ValueError, match="bag has no event 'drop'; it has carry, leave"):
        trigger("bag", "carried", "drop")


def test_the_fast_form_imports_no_third_party_library() -> None:
    program = (
        "import sys, cablewalk.machines.compiled; "
        "print([m for m in ('transitions', 'pydantic', 'graphviz', 'pygraphviz', 'yaml')"
        " if m in sys.modules], 'cablewalk.machines.tables' in sys.modules)"
    )
    env = {"PYTHONPATH": ":".join(p for p in sys.path if p)}
    done = subprocess.run(
        [sys.executable, "-c", program], env=env, capture_output=True, text=True, check=True
    )
    assert done.stdout.split("\n")[0] == "[] True"
