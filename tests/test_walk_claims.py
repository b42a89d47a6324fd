"""Two at once: what an action touches is its own until it ends, and one person does one thing."""

from __future__ import annotations

import pytest
from small import AJAR, BENCH, LAMP, end, having, outages, rules, run, so, words_at

from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE

TWO = (
    "[{{loses: light, do: [{{{ada}, minutes: 5}}]}}, {{by: bob, loses: light, do: [{{{bob}, "
    "minutes: 1}}]}}]"
)


@pytest.mark.parametrize(
    ("ada", "bob", "item"),
    [
        ("demate: P1", "inspect: P1", "P1"),
        ("demate: P1", "demate: J1", "J1"),
        ("demate: P1", "inspect: J1", "J1"),
        ("inspect: P1", "demate: P1", "P1"),
        ("inspect: P1", "inspect: P1", "P1"),
        ("remove_cap: C3", "inspect: J3", "J3"),
        ("release: {COV: 1}", "release: {COV: 1}", "COV"),
        ("switch_off: SW1", "switch_off: SW1", "SW1"),
        ("take: N1", "take: W2", "N1"),
        ("route: {W1.main: way}", "route: {P1: way}", "W1.main"),
        ("carry: kit", "carry: kit", "kit"),
        ("remove: BOX", "inspect: JB", "JB"),
        ("take: CL", "take: CL", "CL"),
    ],
)
def test_two_at_one_item(ada: str, bob: str, item: str) -> None:
    result = run(TWO.format(ada=ada, bob=bob), base=BENCH if "COV" in ada else AJAR)
    (finding,) = having(result, "refused")
    assert f"another action is at work on {item}" in finding.found
    assert finding.step == "s2"
    assert "wait" in finding.way_out


@pytest.mark.parametrize(
    ("ada", "bob"),
    [
        ("demate: P1", "demate: P2"),
        ("inspect: P1", "inspect: P2"),
        ("remove_cap: C3", "release: COV"),
        ("take: N1", "take: N2"),
        ("take: N1", "take: CL"),
    ],
)
def test_two_at_different_items(ada: str, bob: str) -> None:
    assert not having(run(TWO.format(ada=ada, bob=bob)), "refused")


def test_one_who_begins_as_another_ends_is_refused_unless_he_waits() -> None:
    """At one moment beginnings come before endings, but after what must come first."""
    steps = "[[{inspect: P1, minutes: 5}], {by: bob, WAIT, do: [{inspect: P1}]}]"
    assert having(run(steps.replace("WAIT", "not_before: '0:05'")), "refused")
    assert not having(run(steps.replace("WAIT", "after: s1")), "refused")


def test_a_claim_ends_with_the_action() -> None:
    steps = "[[{inspect: P1, minutes: 5}], {by: bob, not_before: '0:06', do: [{inspect: P1}]}]"
    result = run(steps)
    assert not having(result, "refused")
    assert all(claim == NONE for claim in end(result).claim)


def test_nobody_is_left_working() -> None:
    config: Configuration = end(run("[[{inspect: P1}], {by: [ada, bob], do: [{wait: 3}]}]"))
    assert {config.state_name(p) for p in config.wiring.ids("person")} == {"idle"}


@pytest.mark.parametrize(
    "action", ["inspect: P1", "inspect: J2", "verify: light", "verify: {P1: mated}"]
)
def test_looking_takes_nothing_down(action: str) -> None:
    result = run(f"[[{{{action}, minutes: 5}}]]", base=LAMP)
    assert outages(result) == []
    assert words_at(result, "s1") == "up"
    assert rules(result) == set()


@pytest.mark.parametrize("action", ["pull_aside: P1", "pick_up: P2", "expect: {SW1: 'on'}"])
def test_nor_does_moving_a_leg(action: str) -> None:
    assert outages(run(f"[[{{{action}, minutes: 5}}]]", base=LAMP)) == []


@pytest.mark.parametrize(
    ("action", "lost"),
    [("demate: P1", 0), ("switch_off: SW1", 0), ("found: {P1: bare}, reason: x", 0)],
)
def test_what_can_be_lost_is_lost_at_the_start(action: str, lost: float) -> None:
    result = run(f"[{{loses: light, do: [{{{action}, minutes: 4}}]}}]", base=LAMP)
    assert outages(result) == [("light", lost, None)]


def test_what_is_restored_is_restored_at_the_end() -> None:
    steps = "[{loses: light, do: [{demate: P1, minutes: 2}]}, [{mate: {P1: J1}, minutes: 7}]]"
    assert outages(run(steps, base=LAMP)) == [("light", 0, 9)]


def test_a_joint_action_claims_once() -> None:
    result = run("[{by: [ada, bob], do: [{demate: P1}]}]", "{services: {light: {}}}")
    assert so(result, "P1", "bare")
    assert not having(result, "refused")
