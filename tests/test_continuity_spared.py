"""What is spared at a change: only what the change can alter is looked at or judged anew."""

from __future__ import annotations

from typing import Any

import pytest
from benchmarks.generate import chain
from generate import Bench, Driver, benches, runs
from hypothesis import given
from hypothesis import strategies as st
from small import baseline

from cablewalk.continuity.graph import joined_to
from cablewalk.continuity.services import Continuity, State
from cablewalk.documents.actions import Action
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect
from cablewalk.schedule.tasks import Plan, plan_phase
from cablewalk.walk import run


@runs(60)
@given(data=st.data())
def test_joins_known_are_those_of_the_configuration(data: st.DataObject) -> None:
    """Island by island, in the same order, after every change."""
    bench: Bench = data.draw(benches())
    driver = Driver(data.draw, bench.ground, found=True)
    joins = driver.continuity.components.joins
    islands = [i for i in range(1, len(driver.wiring.sites)) if i not in driver.wiring.stubs]
    for _ in driver.events(6):
        for island in islands:
            assert joins.beside(island) == joined_to(driver.config, island, sure=False)
            assert joins.surely_beside(island) == joined_to(driver.config, island, sure=True)


def test_a_line_is_judged_once_as_it_parts_and_once_as_it_is_joined() -> None:
    """It is down from the begin of the demate to the end of the mate: nothing between tells."""
    ground = run.ready(chain(4)[0])
    config = ground.config.copy()
    continuity = Continuity(config)
    seen = []
    for action in (Action(demate="P1"), Action(mate={"P1": "B1"})):
        worker = ground.wiring.by_id["w"]
        effect = attempt_action(config, action, (worker,), 1, lambda _: False, {})
        assert isinstance(effect, Effect)
        for changes in (effect.begin, effect.end):
            config.apply(changes)
            continuity.update(changes)
            parted = len({id(continuity.components.of[t.island]) for t in ground.wiring.terminals})
            seen.append((sorted(continuity.rejudged), continuity.states[0], parted))
    assert seen == [
        ([0], State.DOWN, 1),
        ([], State.DOWN, 2),
        ([], State.DOWN, 1),
        ([0], State.UP, 1),
    ]


def test_a_phase_is_planned_once_where_people_are_as_planned(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The plan a phase was checked by is the one it is replayed by."""
    planned = []

    def counted(*arguments: Any) -> Plan:
        planned.append(plan_phase(*arguments))
        return planned[-1]

    monkeypatch.setattr(run, "plan_phase", counted)
    baseline, procedure = chain(4)
    later = procedure.model_copy(update={"procedure": "later", "gap_min": 5})
    trace = run.replay(run.ready(baseline), [procedure, later])
    assert [timed.plan for timed in trace.phases] == planned
    assert len(trace.events) == 2 * 2 * 2 * len(procedure.steps)


GONE = """
interfaces: {m1: 1}
places:
  bench:
    halves: {JX: m1 socket HUB.x, JY: m1 socket HUB.y, JA: m1 socket ANT.p, JB: m1 socket BOX.q}
    units:
      HUB: {kind: load, terminals: x y, isolated: [[x], [y]]}
      ANT: {kind: load, terminals: p}
      BOX: {kind: load, terminals: q}
harnesses: {W: {legs: {LX: m1 pin, LA: m1 pin, LB: m1 pin}, runs: [LX.1 LA.1 LB.1]}}
people: {ada: outside}
services: {line: {kind: data, lines: HUB.x to HUB.y}, other: {kind: data, lines: ANT.p to BOX.q}}
now: {mated: {LX: JX, LA: JA}, loose: {LB: bench}, absent: [ANT]}
"""


def test_a_terminal_that_is_gone_hides_none_that_is_there() -> None:
    """The net of HUB.x has the family of other already, by a unit that is not there."""
    ground = run.ready(baseline(GONE))
    assert not ground.findings.has_errors, [f.sentence() for f in ground.findings]
    config = ground.config.copy()
    continuity = Continuity(config)
    line = ground.wiring.service_by_id["line"]
    assert {t.kind for t in continuity.verdicts[line].troubles} == {"gap"}
    worker = ground.wiring.by_id["ada"]
    effect = attempt_action(config, Action(mate={"LB": "JB"}), (worker,), 1, lambda _: False, {})
    assert isinstance(effect, Effect), effect
    config.apply(effect.begin)
    continuity.update(effect.begin)
    assert {t.rule for t in continuity.verdicts[line].troubles} == {"", "foreign-terminal"}
    assert continuity.verdicts == Continuity(config).verdicts


def test_a_line_that_is_made_is_told_of_it_too() -> None:
    """The same with the line made before: it goes down as the other's terminal joins its net."""
    document = GONE.replace("LB: m1 pin}, runs: [LX.1", "LB: m1 pin, LY: m1 pin}, runs: [LY.1 LX.1")
    ground = run.ready(baseline(document.replace("LX: JX,", "LX: JX, LY: JY,")))
    config = ground.config.copy()
    continuity = Continuity(config)
    line = ground.wiring.service_by_id["line"]
    assert continuity.states[line] is State.UP
    worker = ground.wiring.by_id["ada"]
    effect = attempt_action(config, Action(mate={"LB": "JB"}), (worker,), 1, lambda _: False, {})
    assert isinstance(effect, Effect), effect
    config.apply(effect.begin)
    continuity.update(effect.begin)
    assert continuity.states[line] is State.DOWN
    assert continuity.verdicts == Continuity(config).verdicts
