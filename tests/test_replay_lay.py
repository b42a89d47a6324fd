"""Laying, tying, keeping and pulling aside: legs and segments."""

from __future__ import annotations

import pytest
from small import AJAR, end, having, place, same_again, so
from small import run as run_on

from cablewalk.timeline.account import Account


def run(steps: str, more: str = "{}") -> Account:
    return run_on(steps, more, AJAR)


def refusal(steps: str, more: str = "{}") -> str:
    (finding,) = having(run(steps, more), "refused")
    return finding.sentence()


def laid(result: Account, segment: str) -> tuple[list[str], list[str]]:
    """Return the paths a segment runs along and the points where it is tied."""
    config = end(result)
    items = config.wiring.items
    n = config.wiring.by_id[segment]
    return [items[i].id for i in config.along[n]], [items[i].id for i in config.ties[n]]


def test_route_and_tie() -> None:
    steps = "[[{route: {W1.main: way off}}, {tie: {W1.main: t2}}, {tie: {W1.main: t1}}]]"
    assert laid(run(steps), "W1.main") == (["way", "off"], ["t1", "t2"])


def test_cut_tie() -> None:
    steps = (
        "[[{route: {W1.main: way}}, {tie: {W1.main: t1}}, {tie: {W1.main: t2}}, {cut_tie: "
        "{W1.main: t1}}]]"
    )
    assert laid(run(steps), "W1.main") == (["way"], ["t2"])


def test_a_point_is_tied_once() -> None:
    said = refusal("[[{route: {W1.main: way}}, {tie: {W1.main: t1}}, {tie: {W1.main: t1}}]]")
    assert "already tied at t1" in said
    assert "cut_tie" in said


def test_a_point_off_the_path() -> None:
    steps = "[[{route: {W1.main: way}}, {walk: hatch}, {tie: {W1.main: t3}}]]"
    assert "W1.main is not laid along off" in refusal(steps)


def test_a_point_out_of_reach() -> None:
    said = refusal("[[{route: {W1.main: way off}}, {tie: {W1.main: t3}}]]")
    assert "t3 is between hatch and far" in said
    assert "walk" in said


def test_paths_that_do_not_meet() -> None:
    more = "{places: {yard: {}}, paths: {lone: {between: bench yard, length_m: 3}}}"
    assert "off and lone do not meet" in refusal(
        "[[{walk: hatch}, {route: {W1.main: off lone}}]]", more
    )


@pytest.mark.parametrize("before", ["{take: W2}", "{take: W2}, {let_go: N1}, {restrain: N2}"])
def test_legs_at_hand_are_routed_with_their_segment(before: str) -> None:
    result = run(f"[[{before}, {{route: {{W2.main: way}}}}]]")
    assert so(result, "N1", "routed bench")
    assert so(result, "N2", "routed bench")


def test_a_leg_another_worker_holds_elsewhere_is_not_routed() -> None:
    """acts_leg.route: legs that end the segment *and are at hand* are routed then."""
    steps = """
    - {do: [{take: W2}]}
    - {by: [ada, bob], do: [{hand_over: {W2: bob}}]}
    - {by: bob, do: [{walk: hatch}]}
    - {after: s3, do: [{route: {W2.main: way}}]}
    """
    assert so(run(steps), "N2", "in_hand bob")


def test_a_leg_routed_from_a_bag_is_no_longer_in_it() -> None:
    result = run("[[{take: W2}, {stow: {W2: sack}}, {route: {W2.main: way}}]]")
    assert so(result, "N1", "routed bench")
    old, again = same_again(result)
    assert old == again


def test_a_leg_by_its_own_name_is_routed_along() -> None:
    result = run("[[{take: W2}, {route: {N1: way}}]]")
    assert laid(result, "W2.main") == (["way"], [])


def test_a_packed_leg_is_not_laid() -> None:
    said = refusal("[[{route: {W2.main: way}}]]")
    assert "packed" in said
    assert "take" in said


def test_what_was_taken_out_of_its_path_cannot_be_tied_there() -> None:
    steps = (
        "[[{route: {W1.main: way}}, {demate: P1}, {demate: P2}, {pick_up: P1}, {pick_up: "
        "P2}, {pack: {W1: kit}}, {tie: {W1.main: t1}}]]"
    )
    assert having(run(steps), "refused")


def test_a_harness_is_picked_up_by_its_name_from_its_path() -> None:
    """The table lets a routed leg be picked up; so a harness of routed legs can be."""
    result = run("[[{pick_up: W1}]]")
    assert not having(result, "refused")
    assert so(result, "P1", "in_hand ada")


def test_a_harness_by_its_name_means_those_legs_that_can() -> None:
    result = run("[[{take: N1}, {let_go: N1}, {take: W2}, {pick_up: W2}]]")
    assert so(result, "N1", "in_hand ada")
    assert so(result, "N2", "in_hand ada")


def test_a_harness_none_of_whose_legs_can() -> None:
    said = refusal("[[{take: W1}]]")
    assert "no leg of W1 is packed" in said
    assert "P1 routed" in said


@pytest.mark.parametrize("state", ["loose", "restrained", "routed", "pulled_aside"])
def test_legs_kept_at_another_place_are_out_of_reach(state: str) -> None:
    more = f"{{now: {{packed: {{W2: '~', N2: kit}}, {state}: {{N1: hatch}}}}}}"
    action = (
        "restore" if state == "pulled_aside" else "pull_aside" if state == "routed" else "pick_up"
    )
    said = refusal(f"[[{{{action}: N1}}]]", more)
    assert "N1 is at hatch" in said


def test_stowing_at_a_place_one_is_not_at() -> None:
    assert "hatch" in refusal("[[{take: N1}, {stow: {N1: hatch}}]]")


def test_what_is_mated_is_stowed_at_a_place_but_not_in_a_bag() -> None:
    mated = "{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}"
    assert so(run(f"[[{mated}, {{stow: {{N1: bench}}}}]]"), "N1", "stowed bench")
    assert "mated with JN" in refusal(f"[[{mated}, {{stow: {{N1: kit}}}}]]")


def test_a_leg_pulled_aside_stays_mated() -> None:
    result = run("[[{pull_aside: P1}]]")
    assert so(result, "P1", "mated J1")
    assert not having(result, "unplanned-loss")
    assert place(result, "P1") == "bench"
