"""Replay: split it equals the whole, repeated it is the same, and its views are no memory."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from generate import Bench, Driver, benches, runs
from hypothesis import given, note
from hypothesis import strategies as st

from cablewalk.continuity.services import Continuity
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.replay.change import Change, Field
from cablewalk.walk.run import Ground, ready, replay
from cablewalk.walk.trace import Event, Trace

ROOT = Path(__file__).parent.parent


def procedure(name: str, taken: list[dict[str, Any]]) -> Procedure:
    """Return a procedure of one action a step."""
    steps = [
        {"id": f"{name}{n}", "by": list(entry["by"]), "do": [entry["do"]]}
        for n, entry in enumerate(taken)
    ]
    return Procedure.model_validate(
        {"cablewalk": "1", "procedure": name, "gap_min": 5, "minutes": {"any": 2}, "steps": steps}
    )


def phases(data: st.DataObject, bench: Bench) -> list[Procedure]:
    """Return two procedures of actions that were legal one after the other.

    In the replay workers go side by side, so some are refused there and skipped.
    """
    driver = Driver(data.draw, bench.ground, found=True)
    taken = []
    for happened in driver.events(data.draw(st.integers(2, 8)), overlap=False):
        if happened.begins:
            crew = driver.running[-1][1]
            action = happened.action.model_dump(mode="json", exclude_defaults=True)
            minutes = data.draw(st.integers(0, 3))
            taken.append(
                {
                    "by": [driver.wiring.items[w].id for w in crew],
                    "do": {**action, "minutes": minutes},
                }
            )
    cut = data.draw(st.integers(0, len(taken)))
    note(f"{taken[:cut]} then {taken[cut:]}")
    return [procedure("one", taken[:cut]), procedure("two", taken[cut:])]


def _unclaimed(changes: tuple[Change, ...]) -> list[Change]:
    """Leave out claims: they hold serial numbers, which differ where phases are numbered anew."""
    return [c for c in changes if c.field is not Field.CLAIM]


def _told(event: Event, origin_s: int) -> tuple[Any, ...]:
    shifts = [(s.service, s.before, s.after) for s in event.shifts]
    action = event.task.action
    return (
        event.time_s - origin_s,
        event.begins,
        action.verb,
        str(action.argument),
        _unclaimed(event.changes),
        shifts,
    )


def _split_equals_whole(bench: Bench, procedures: list[Procedure]) -> None:
    """Phase one, then phase two from where it ended, is both in one."""
    ground = bench.ground
    whole = replay(ground, procedures, keep_going=True)
    first = replay(ground, procedures[:1], keep_going=True)
    assert first.end is not None and whole.end is not None
    between = Ground(ground.baseline, ground.wiring, first.end, ground.findings)
    second = replay(between, procedures[1:], keep_going=True)
    assert second.end == whole.end
    assert second.end_views == whole.end_views
    count = len(first.events)
    assert [_told(e, 0) for e in first.events] == [_told(e, 0) for e in whole.events[:count]]
    for one, two in ((second.events, whole.events[count:]),):
        assert len(one) == len(two)
        if one:
            starts = one[0].time_s, two[0].time_s
            assert [_told(e, starts[0]) for e in one] == [_told(e, starts[1]) for e in two]


def _events_rebuild_the_end(bench: Bench, procedures: list[Procedure]) -> None:
    """The start and the events alone give the end, and taken back the start."""
    trace = replay(bench.ground, procedures, keep_going=True)
    config = trace.start.copy()
    for event in trace.events:
        config.apply(event.changes)
    assert config == trace.end
    for event in reversed(trace.events):
        config.undo(event.changes)
    assert config == trace.start


def _views_hold_nothing_back(bench: Bench, procedures: list[Procedure]) -> None:
    """After each event every view is what a fresh look at the configuration gives."""
    trace = replay(bench.ground, procedures, keep_going=True)
    config, views = trace.start.copy(), list(trace.start_views)
    for event in trace.events:
        config.apply(event.changes)
        for shift in event.shifts:
            assert shift.before == views[shift.service]
            views[shift.service] = shift.after
        fresh = Continuity(config)
        for n, view in enumerate(views):
            strings = tuple(fresh.verdicts[s].standing for s in config.wiring.services[n].strings)
            seen = (view.state, view.life, view.strings, list(view.unproven))
            assert seen == (fresh.states[n], config.life[n], strings, fresh.unproven(n))
    assert views == list(trace.end_views)


def _twice_is_the_same(bench: Bench, procedures: list[Procedure]) -> None:
    """Two runs from the documents give identical traces, findings in the same order."""
    one, two = (
        replay(ready(Baseline.model_validate(bench.document)), procedures, keep_going=True)
        for _ in range(2)
    )
    assert one.events == two.events
    assert list(one.findings) == list(two.findings)
    assert one.refused == two.refused
    assert _tables(one) == _tables(two)
    assert one.end_views == two.end_views


def _tables(trace: Trace) -> Any:
    assert trace.end is not None
    return trace.end.tables


PROPERTIES = [
    _split_equals_whole,
    _events_rebuild_the_end,
    _views_hold_nothing_back,
    _twice_is_the_same,
]
every_property = pytest.mark.parametrize(
    "check", PROPERTIES, ids=[check.__name__.strip("_") for check in PROPERTIES]
)


@every_property
@runs(20)
@given(data=st.data())
def test_replay(check: Any, data: st.DataObject) -> None:
    bench = data.draw(benches())
    check(bench, phases(data, bench))


@pytest.mark.soak
@every_property
@runs(1500)
@given(data=st.data())
def test_replay_soak(check: Any, data: st.DataObject) -> None:
    bench = data.draw(benches())
    check(bench, phases(data, bench))


DEMO = """
import yaml
from pathlib import Path
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.walk.run import ready, replay

def read(name):
    return yaml.load(Path("configs", name).read_text(encoding="utf-8"), Loader=yaml.BaseLoader)

ground = ready(Baseline.model_validate(read("outpost.yaml")))
outings = [Procedure.model_validate(read(f"outing-{n}.yaml")) for n in (1, 2, 3)]
trace = replay(ground, outings, keep_going=True)
assert len(trace.events) > 50
print(repr(trace.events), repr(list(trace.findings)), trace.end.tables, sep="\\n")
"""


def test_hash_seed_does_not_matter() -> None:
    """The demo's trace is the same whatever order Python's sets of texts come in."""
    printed = []
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", DEMO], cwd=ROOT, env=env, capture_output=True, check=True
        )
        printed.append(done.stdout)
    assert printed[0] == printed[1]
