"""Bags, hands, roles, vehicles: what goes along with whom."""

from __future__ import annotations

import pytest
from small import baseline, end, having, place, procedure, rules, run, so, stands

from cablewalk.timeline.account import account


def refusal(steps: str, more: str = "{}") -> str:
    (finding,) = having(run(steps, more), "refused")
    return finding.sentence()


# --- bags ----------------------------------------------------------------------------------


def test_a_bag_and_all_in_it_go_along() -> None:
    result = run("[[{carry: kit}, {walk: hatch}, {leave: kit}]]")
    assert {place(result, name) for name in ("kit", "N1", "N2", "CL", "CN")} == {"hatch"}
    assert so(result, "N1", "packed kit")


def test_a_bag_left_behind_stays() -> None:
    assert place(run("[[{walk: hatch}]]"), "kit") == "bench"


def test_a_bag_someone_else_carries() -> None:
    said = refusal("[[{carry: kit}], {by: bob, after: s1, do: [{leave: kit}]}]")
    assert "kit is carried" in said
    assert "ada" in said


def test_a_bag_elsewhere_is_out_of_reach() -> None:
    assert "kit is at bench" in refusal("[[{walk: hatch}, {take: N1}]]")
    assert "kit is at bench" in refusal("[[{take: N1}, {walk: hatch}, {pack: {N1: kit}}]]")


HELD_HERE = [
    ("{take: N1}, {remove_cap: CN}, {mate: {N1: JN}}, {let_go: N1}", "loose"),
    ("{take: N1}, {let_go: N1}", "loose"),
    ("{take: N1}, {stow: {N1: bench}}", "stowed"),
    ("{take: N1}, {restrain: N1}", "restrained"),
]


@pytest.mark.parametrize(("before", "state"), HELD_HERE)
def test_a_bag_cannot_leave_while_a_leg_from_it_is_held_here(before: str, state: str) -> None:
    said = refusal(f"[[{before}, {{carry: kit}}, {{walk: hatch}}]]")
    assert "kit holds the leg N2" in said
    assert f"N1 of the same harness is {state}" in said


def test_nor_while_a_leg_is_mated_in_another_workers_hand() -> None:
    """A leg in hand that is mated is fixed to the place, whoever holds it."""
    steps = """
    - {by: bob, do: [{take: N1}, {remove_cap: CN}, {mate: {N1: JN}}]}
    - {after: s1, do: [{carry: kit}, {walk: hatch}]}
    """
    assert "kit holds the leg N2" in refusal(steps)


def test_nor_while_the_other_leg_is_in_a_bag_that_is_tied() -> None:
    said = refusal(
        "[[{carry: kit}, {walk: hatch}]]", "{now: {along: {W2.main: way}, ties: {W2.main: t1}}}"
    )
    assert "tied at t1" in said
    assert "cut_tie" in said


def test_a_bag_may_leave_with_the_whole_harness() -> None:
    steps = "[[{take: W2}, {pack: {W2: sack}}, {carry: sack}, {walk: hatch}]]"
    assert place(run(steps), "N2") == "hatch"


# --- hands ---------------------------------------------------------------------------------


def test_a_leg_in_hand_that_is_mated_keeps_its_holder() -> None:
    said = refusal("[[{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}, {walk: hatch}]]")
    assert "ada holds the leg N1" in said
    assert "JN" in said
    assert "let_go" in said


def test_a_leg_let_go_does_not() -> None:
    steps = "[[{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}, {let_go: N1}, {walk: hatch}]]"
    result = run(steps)
    assert place(result, "N2") == "hatch"
    assert so(result, "N1", "loose bench")


def test_a_leg_in_hand_mated_with_a_free_half_keeps_its_holder() -> None:
    """DEVELOPERS.md: a leg in hand whose half is mated keeps its holder from walking away."""
    more = "{now: {mated: {P2: '~', N1: P2}, packed: {W2: '~'}, routed: {P2: bench, W2: bench}}}"
    assert "ada holds the leg N1" in refusal("[[{pick_up: N1}, {walk: hatch}]]", more)


def test_what_is_mated_is_not_packed() -> None:
    said = refusal("[[{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}, {pack: {N1: kit}}]]")
    assert "N1 is mated with JN" in said
    assert "demate" in said


def test_only_the_holder_lets_go() -> None:
    said = refusal("[[{take: N1}], {by: bob, after: s1, do: [{let_go: N1}]}]")
    assert "in_hand" in said
    assert "not held by bob" in said


@pytest.mark.parametrize(
    ("before", "what"),
    [("{take: W2}", "W2"), ("{take: CL}", "CL"), ("{carry: sack}", "sack")],
)
def test_handing_over(before: str, what: str) -> None:
    steps = (
        f"[{{by: ada, do: [{before}]}}, {{by: [bob, ada], do: [{{hand_over: {{{what}: "
        f"bob}}}}, {{walk: hatch, by: bob}}]}}]"
    )
    result = run(steps)
    assert rules(result) == set()
    assert place(result, "N1" if what == "W2" else what) == "hatch"
    assert place(result, "ada") == "bench"


def test_handing_over_what_one_has_not() -> None:
    assert "N1" in refusal("[{by: [ada, bob], do: [{hand_over: {N1: bob}}]}]")
    steps = "[[{take: N1}], {by: [ada, bob], do: [{hand_over: {N1: ada}}]}]"
    assert "ada holds N1 already" in refusal(steps)


def test_handing_over_needs_both_here() -> None:
    steps = "[[{take: N1}, {walk: hatch}], {by: [ada, bob], do: [{hand_over: {N1: bob}}]}]"
    assert "the workers are apart" in refusal(steps)


# --- roles ---------------------------------------------------------------------------------


def test_holdings_follow_the_person_when_roles_are_swapped() -> None:
    first = procedure("[{by: lead, do: [{take: W2}]}]", procedure="one", roles={"lead": "ada"})
    roles = {"lead": "bob", "mate-2": "ada"}
    steps = "[{by: lead, do: [{let_go: N1}]}, {by: mate-2, do: [{walk: hatch}, {let_go: N1}]}]"
    second = procedure(steps, procedure="two", roles=roles, gap_min="5")
    result = account(baseline(), [first, second], keep_going=True)
    (finding,) = having(result, "refused")
    assert finding.step == "s1"
    assert "not held by bob" in finding.found
    assert so(result, "N1", "loose hatch")
    assert so(result, "N2", "in_hand ada")


def test_roles_are_people_in_hand_over_and_walk() -> None:
    steps = (
        "[{by: ev, do: [{take: N1}]}, {by: [ev, iv], do: [{hand_over: {N1: iv}}]}, {by: iv, "
        "do: [{walk: lift}]}]"
    )
    result = run(steps, roles={"ev": "ada", "iv": "bob", "lift": "arm"})
    assert rules(result) == set()
    assert so(result, "N1", "in_hand bob")
    config = end(result)
    assert config.link[config.wiring.by_id["bob"]] == config.wiring.by_id["arm"]


# --- vehicles ------------------------------------------------------------------------------


def test_a_rider_and_what_he_holds_go_with_the_vehicle() -> None:
    steps = (
        "[[{take: W2}, {carry: sack}, {walk: arm}], {by: arm, after: s1, do: [{walk: hatch}, "
        "{walk: far}]}, {after: s2, do: [{inspect: JF}]}]"
    )
    result = run(steps)
    assert rules(result) == set()
    assert {place(result, name) for name in ("arm", "ada", "N1", "sack")} == {"far"}
    assert place(result, "bob") == "bench"


def test_a_rider_gets_off() -> None:
    steps = (
        "[[{walk: arm}], {by: arm, after: s1, do: [{walk: hatch}]}, {after: s2, do: [{walk: "
        "hatch}]}, {by: arm, after: s3, do: [{walk: bench}]}]"
    )
    result = run(steps)
    assert place(result, "ada") == "hatch"
    assert place(result, "arm") == "bench"


def test_one_boards_a_vehicle_only_where_it_is() -> None:
    said = refusal("[[{walk: hatch}, {walk: arm}]]")
    assert "arm is at bench" in said


def test_a_rider_who_holds_a_mated_leg_keeps_the_vehicle() -> None:
    steps = "[[{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}], {after: s1, do: [{walk: arm}]}]"
    assert "ada holds the leg N1" in refusal(steps)
    more = "{now: {people: {ada: arm}, packed: {W2: '~'}, in_hand: {W2: ada}, mated: {N1: JN}}}"
    assert "ada holds the leg N1" in refusal("[{by: arm, do: [{walk: hatch}]}]", more)


def test_a_vehicle_does_not_drive_off_under_a_rider_at_work() -> None:
    """An actor does one thing at a time, and what an action touches is claimed."""
    more = "{now: {people: {ada: arm}}}"
    steps = "[[{inspect: P1, minutes: 5}], {by: arm, not_before: '0:01', do: [{walk: hatch}]}]"
    assert "arm" in refusal(steps, more)


def test_a_bag_on_a_vehicle_rides_along() -> None:
    result = run("[{by: arm, do: [{walk: hatch}]}]", "{now: {bags: {kit: arm}}}")
    assert place(result, "N1") == "hatch"
    assert stands(result, "kit") == "carried arm"
