"""The benchmarks measure what they say: what they generate, what they compare, what they print."""

from __future__ import annotations

from collections import Counter

import pytest
from pydantic import ValidationError
from pydantic_core import SchemaValidator

from cablewalk.documents.baseline import Baseline
from cablewalk.drawings.engine import draw, draw_pinned
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES
from cablewalk.findings import Severity
from cablewalk.replay.wiring import STRUCTURE
from cablewalk.walk.run import ready, replay

from .__main__ import line, quantity
from .book_speed import step_bytes, unpinned, work
from .generate import TAPS, chain, models
from .loading import core_schema, without_functions
from .measure import Row, in_turn, processes_in_turn
from .replayed import actions, recomputing

HALVES = 200


def test_what_is_generated_is_no_field_of_identical_islands() -> None:
    baseline, procedure = models(HALVES)
    ground = ready(baseline)
    wiring = ground.wiring
    assert not [f for f in ground.findings if f.severity is Severity.ERROR]
    fixed = [n for n in wiring.ids("half") if wiring.items[n].role == "fixed"]
    assert HALVES <= len(fixed) <= 1.1 * HALVES
    # Two actions a half.
    assert abs(actions(procedure) / len(fixed) - 2) < 0.2
    # A shell net through every half: mated, it reaches structure from every shell.
    mated = dict(baseline.now.mated)
    groups = recomputing(baseline, mated)()
    assert isinstance(groups, list)
    (net,) = [group for group in groups if "structure" in group]
    every = {f"{wiring.items[n].id}.shell" for n in wiring.ids("half")}
    assert every <= net
    assert STRUCTURE == 0
    # Buses of 32 taps, common ends, redundancy, harnesses of three legs.
    taps = Counter(s.strings["only"].feeds for s in baseline.services.values() if s.kind == "power")
    assert max(taps.values()) == TAPS == 32
    data = [s for s in baseline.services.values() if s.kind == "data"]
    assert all(len(s.strings) == 2 and s.need == 1 for s in data)
    assert all(
        [(x.a, x.b) for x in s.strings["a"].lines] == [(x.a, x.b) for x in s.strings["b"].lines]
        for s in data
    )
    assert Counter(len(h.legs) for h in baseline.harnesses.values())[3] >= HALVES // 20


def test_the_chain_has_its_links_and_each_cut_takes_the_line_down() -> None:
    baseline, procedure = chain(64)
    assert len(baseline.now.mated) == 64
    trace = replay(ready(baseline), [procedure])
    assert not trace.refused
    downs = [s for event in trace.events for s in event.shifts if s.after.state.name == "DOWN"]
    assert len(downs) == actions(procedure) // 2


def test_pydantics_own_is_the_same_but_for_our_functions() -> None:
    whole = core_schema(Baseline)
    schema = without_functions(whole)
    assert "'type': 'function-" in str(whole)
    assert "'type': 'function-" not in str(schema)
    own = SchemaValidator(schema)
    good = {"cablewalk": "1", "baseline": "b", "places": {}}
    assert own.validate_python(good).baseline == "b"
    with pytest.raises(ValidationError):
        own.validate_python({**good, "baseline": "b b"})


def test_medians_are_of_pieces_taken_in_turn() -> None:
    order: list[str] = []
    taken = in_turn(2, lambda: order.append("a"), lambda: order.append("b"))
    assert order == list("abababab"[:2]) + list("abab")
    assert len(taken) == 2
    quick, slow = in_turn(3, lambda: sum(range(10)), lambda: sum(range(300_000)))
    assert quick < slow
    with pytest.raises(RuntimeError, match="ended with 3"):
        processes_in_turn(1, ["-c", "raise SystemExit(3)"])


@pytest.mark.parametrize(
    ("row", "met", "words"),
    [
        (Row("w", 1e-6, "c", 400e-6, faster=300), True, "400.0x faster"),
        (Row("w", 2e-6, "c", 400e-6, faster=300), False, "MISSED"),
        (Row("w", 3.0, "c", 2.0, at_most=1.5), True, "1.50x"),
        (Row("w", 3.1, "c", 2.0, at_most=1.5), False, "MISSED"),
        (Row("w", 3.0, "c", 2.0), None, "1.50x"),
    ],
)
def test_a_row_tells_whether_its_target_is_met(row: Row, met: bool | None, words: str) -> None:
    assert row.met is met
    assert words in line(row)


def test_a_step_of_a_film_costs_what_it_changes() -> None:
    added, picture = step_bytes(halves=200, steps=40)
    assert 0 < added < picture / 20


def test_layouts_compared_with_a_film_are_layouts() -> None:
    album = Album(work(4, 200), PAGES["a4"])
    (*_, last) = album.pictures("steps")
    free = unpinned(last.dot)
    assert "pos=" in last.dot and "pos=" not in free and "bb=" not in free
    # Graphviz finds other places; the things drawn are the same.
    drawn, laid = draw_pinned(last.dot, "svg"), draw(free, "svg")
    assert drawn != laid
    for kind in (b'class="node', b'class="edge'):
        assert drawn.count(kind) == laid.count(kind) > 10


def test_quantities_are_short() -> None:
    assert quantity(220, "B") == "0.22 kB"
    assert [quantity(v, "s") for v in (1.5, 0.0123, 4.2e-6, 9e-8)] == [
        "1.5 s", "12.3 ms", "4.2 µs", "90 ns",
    ]  # fmt: skip
    assert quantity(58_400_000, "B") == "58.4 MB"
