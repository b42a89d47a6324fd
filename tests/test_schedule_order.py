"""When steps begin: waiting, leading, joining, and in which order at one moment."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest
from small import having, procedure, rules, run, starts

from cablewalk.findings import Findings
from cablewalk.schedule.distance import Distances
from cablewalk.schedule.order import predecessors, time_phase
from cablewalk.schedule.tasks import Task, plan_phase


def times(steps: str, **head: Any) -> dict[str, float]:
    result = run(steps, **head)
    assert not result.trace.unusable, [f.sentence() for f in result.findings]
    return starts(result)


def test_one_workers_steps_follow_one_another() -> None:
    assert times("[[{wait: 3}, {wait: 4}], [{wait: 1}]]") == {"s1": 0, "s2": 7}


def test_two_workers_at_once() -> None:
    assert times("[[{wait: 3}], {by: bob, do: [{wait: 9}]}]") == {"s1": 0, "s2": 0}


def test_after() -> None:
    assert times("[[{wait: 3}], {by: bob, after: s1, do: [{wait: 1}]}]")["s2"] == 3


def test_after_a_later_step() -> None:
    steps = "[{by: bob, after: s2, do: [{wait: 1}]}, [{wait: 3}]]"
    assert times(steps) == {"s1": 3, "s2": 0}


def test_lead_time() -> None:
    steps = "[[{wait: 3}], {by: bob, lead_min: {s1: 12}, do: [{wait: 1}]}]"
    assert times(steps)["s2"] == 15


def test_the_latest_of_several_waits() -> None:
    steps = (
        "[[{wait: 3}], {by: bob, do: [{wait: 5}]}, {by: gus, after: [s1, s2], lead_min: {s1: "
        "1}, do: [{wait: 1}]}]"
    )
    assert times(steps)["s3"] == 5


def test_go_call() -> None:
    steps = "[{by: gus, do: [{wait: 8}, {go_call: GO}]}, {go: GO, do: [{wait: 1}]}]"
    assert times(steps)["s2"] == 8


def test_not_before() -> None:
    assert times("[{not_before: '1:30', do: [{wait: 1}]}]")["s1"] == 90
    assert times("[[{wait: 100}], {not_before: '1:30', do: [{wait: 1}]}]")["s2"] == 100


def test_a_joint_step_needs_all_its_workers() -> None:
    steps = (
        "[[{wait: 3}], {by: bob, do: [{wait: 9}]}, {by: [ada, bob], do: [{wait: 1}]}, [{wait: 1}]]"
    )
    assert times(steps) == {"s1": 0, "s2": 0, "s3": 9, "s4": 10}


def test_one_who_acts_in_another_ones_step_is_needed_too() -> None:
    steps = (
        "[{by: bob, do: [{wait: 9}]}, [{wait: 1}, {wait: 1, by: bob}], {by: bob, do: [{wait: 1}]}]"
    )
    assert times(steps) == {"s1": 0, "s2": 9, "s3": 11}


def test_a_step_without_actions_takes_no_time_and_can_be_waited_for() -> None:
    steps = "[[{wait: 4}], {by: ada, say: look}, {by: bob, after: s2, do: [{wait: 1}]}]"
    assert times(steps) == {"s1": 0, "s2": 4, "s3": 4}


def test_an_empty_step_alone() -> None:
    assert times("[{by: ada, say: look, not_before: '0:10'}]") == {"s1": 10}


def test_negative_start() -> None:
    """Ground powers down before the hatch opens: PET below zero, mission time the same."""
    steps = (
        "[{by: gus, loses: light, do: [{switch_off: SW1}]}, {not_before: '0:00', do: [{wait: 1}]}]"
    )
    assert times(steps, start_pet="-0:20") == {"s1": -20, "s2": 0}


def test_an_unknown_go_call() -> None:
    result = run("[{by: gus, do: [{go_call: GO-1}]}, {go: GO-2, do: [{wait: 1}]}]")
    assert result.trace.unusable
    (finding,) = having(result, "unknown-id")
    assert "no step gives the GO GO-2" in finding.found
    assert "GO-1" in finding.expected
    assert finding.address.path == ("steps", 1, "go", 0)


@pytest.mark.parametrize(("key", "path"), [("after: [s9]", 0), ("lead_min: {s9: 5}", "s9")])
def test_an_unknown_step(key: str, path: object) -> None:
    result = run(f"[[{{wait: 1}}], {{{key}, do: [{{wait: 1}}]}}]")
    (finding,) = having(result, "unknown-id")
    assert "there is no step s9" in finding.found
    assert finding.address.path == ("steps", 1, key.partition(":")[0], path)


@pytest.mark.parametrize(
    "steps",
    [
        "[{after: s1, do: [{wait: 1}]}]",
        "[{after: s2, do: [{wait: 1}]}, {by: bob, after: s1, do: [{wait: 1}]}]",
        "[{after: s2, do: [{wait: 1}]}, [{wait: 1}]]",
        "[{go: GO, do: [{wait: 1}]}, [{go_call: GO}]]",
    ],
)
def test_steps_that_wait_for_one_another(steps: str) -> None:
    result = run(steps)
    assert result.trace.unusable
    (finding,) = having(result, "waits-for-itself")
    assert "s1" in finding.found
    assert finding.way_out


def duration(which: int, task: Task) -> int:
    return task.durations_s[which]


def test_the_spread_may_be_timed_by_other_durations() -> None:
    plan_of = procedure("[[{wait: 1}, {inspect: P1, minutes: [1, 2, 6]}], [{wait: 1}]]")
    findings = Findings()
    plan = plan_phase(plan_of, 0, Distances([]), {}, ["ada"], findings)
    before = predecessors(plan, findings)
    assert before is not None
    for which, starts_at in ((0, 120), (1, 180), (2, 420)):
        timed = time_phase(plan, before, 0, partial(duration, which))
        assert timed.step_start_s == [0, starts_at]
        assert timed.end_s == starts_at + 60


# --- at one moment -------------------------------------------------------------------------


def order(steps: str) -> list[tuple[int, str, bool]]:
    result = run(steps)
    assert rules(result) == set()
    return [(e.time_s // 60, e.task.step_id, e.begins) for e in result.trace.events]


def test_beginnings_before_endings() -> None:
    steps = "[[{wait: 2}], {by: bob, not_before: '0:02', do: [{wait: 1}]}]"
    assert order(steps)[1:3] == [(2, "s2", True), (2, "s1", False)]


def test_what_must_come_first_comes_first() -> None:
    steps = "[[{wait: 2}], {by: bob, after: s1, do: [{wait: 1}]}]"
    assert order(steps)[1:3] == [(2, "s1", False), (2, "s2", True)]


def test_a_workers_own_action_ends_before_his_next() -> None:
    assert [row[2] for row in order("[[{wait: 1}, {wait: 1}]]")] == [True, False, True, False]


def test_then_by_serial_number() -> None:
    steps = "[{by: bob, do: [{wait: 2}]}, {by: ada, do: [{wait: 2}]}]"
    assert [row[1] for row in order(steps)] == ["s1", "s2", "s1", "s2"]


def test_actions_that_take_no_time_keep_their_order() -> None:
    steps = (
        "[{do: [{go_call: A}, {go_call: B}]}, {by: bob, go: [A], do: [{go_call: C}]}, {go: "
        "C, do: [{go_call: D}]}]"
    )
    result = run(steps)
    done = [e.task.action.go_call for e in result.trace.events if e.begins]
    assert done == ["A", "B", "C", "D"]
