"""Who can touch what from where: places, covers, packed legs, ground, missing panels."""

from __future__ import annotations

import pytest
from small import LAMP, having, place, rules, run, so, stands


def refusal(steps: str, more: str = "{}") -> str:
    (finding,) = having(run(steps, more), "refused")
    return finding.sentence()


def test_a_half_at_another_place_is_out_of_reach() -> None:
    said = refusal("[[{walk: hatch}, {demate: P1}]]")
    assert "P1 is at bench" in said
    assert "ada at hatch" in said
    assert "walk" in said


def test_both_halves_must_be_here() -> None:
    said = refusal("[[{take: W2}, {remove_cap: CN}, {mate: {N1: JF}}]]")
    assert "JF is at far" in said


def test_workers_of_a_joint_action_are_together() -> None:
    said = refusal("[[{walk: hatch}], {by: [ada, bob], do: [{inspect: P1}]}]")
    assert "the workers are apart: ada at hatch, bob at bench" in said


@pytest.mark.parametrize(
    ("before", "state"),
    [
        ("", "fastened"),
        ("{release: {COV: 1}}, ", "part_fastened"),
        ("{release: COV}, ", "released"),
        ("{release: COV}, {open: COV}, {close: COV}, ", "released"),
    ],
)
def test_what_is_under_a_closed_cover_cannot_be_touched(before: str, state: str) -> None:
    said = refusal(f"[[{before}{{inspect: J4}}]]")
    assert "J4 is under COV" in said
    assert state in said
    assert "open" in said


@pytest.mark.parametrize("clear", ["{open: COV}", "{remove_cover: COV}"])
def test_what_is_under_an_open_cover_can_be_touched(clear: str) -> None:
    assert not having(run(f"[[{{release: COV}}, {clear}, {{inspect: J4}}]]"), "refused")


@pytest.mark.parametrize(("unit", "half"), [("PAN", "JN"), ("BOX", "JB")])
def test_a_half_on_what_was_removed_cannot_be_touched(unit: str, half: str) -> None:
    said = refusal(f"[[{{remove: {unit}}}, {{inspect: {half}}}]]")
    assert f"{half} is on {unit}, which is removed" in said
    assert "install" in said


def test_a_half_on_an_absent_panel_cannot_be_touched() -> None:
    assert "absent" in refusal("[[{inspect: JN}]]", "{now: {absent: PAN}}")


def test_a_packed_leg_cannot_be_touched() -> None:
    said = refusal("[[{remove_cap: CN}]]")
    assert "packed in kit" in said
    assert "take" in said


@pytest.mark.parametrize("who", ["gus", "ivy"])
@pytest.mark.parametrize("action", ["demate: P1", "inspect: P1", "remove_cap: C3", "carry: kit"])
def test_ground_and_inside_crew_touch_nothing(who: str, action: str) -> None:
    assert who in refusal(f"[{{by: {who}, do: [{{{action}}}]}}]")


@pytest.mark.parametrize("who", ["ground", "inside"])
def test_ground_touches_nothing_with_one_place_only(who: str) -> None:
    """Where a person is cannot make hands of ground: DEVELOPERS.md, last part."""
    result = run(
        "[{by: gus, do: [{demate: P1}]}]", f"{{people: {{gus: {who}}}}}", LAMP
    )  # fmt: skip
    assert having(result, "refused")


@pytest.mark.parametrize("who", ["gus", "ivy"])
def test_ground_and_inside_crew_switch_from_afar(who: str) -> None:
    result = run(
        f"[{{by: {who}, loses: light, do: [{{switch_off: SW1}}, {{verify: {{SW1: 'off'}}}}]}}]"
    )
    assert rules(result) == set()
    assert so(result, "SW1", "off")


@pytest.mark.parametrize("who", ["gus", "ivy"])
def test_a_switch_by_hand_is_not_switched_from_afar(who: str) -> None:
    assert who in refusal(f"[{{by: {who}, do: [{{switch_on: SW2}}]}}]")


def test_a_switch_by_hand_needs_hands_with_one_place_only() -> None:
    more = "{people: {gus: ground}, places: {bench: {switches: {SW1: {by_hand: 'true'}}}}}"
    result = run("[{by: gus, do: [{switch_off: SW1}]}]", more, LAMP)
    assert having(result, "refused")


def test_an_outside_worker_switches_only_where_the_switch_is() -> None:
    assert "SW1 is at bench" in refusal("[[{walk: hatch}, {switch_off: SW1}]]")


def test_ground_gives_go_and_verifies_services() -> None:
    result = run("[{by: gus, do: [{go_call: GO}, {expect: {light: up}}, {verify: light}]}]")
    assert rules(result) == set()


def test_after_a_walk_the_item_is_in_reach() -> None:
    result = run("[[{walk: hatch}, {walk: far}, {inspect: JF}]]")
    assert rules(result) == set()
    assert place(result, "ada") == "far"


def test_a_mated_free_half_is_where_its_mate_is() -> None:
    """Its leg may have been let go elsewhere; the half is at the panel."""
    result = run("[[{inspect: P1}]]", "{now: {loose: {P1: hatch}}}")
    assert not having(result, "refused")
    assert stands(result, "P1", "loose") == "loose hatch"


def test_mating_never_moves_a_leg() -> None:
    result = run("[[{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}]]")
    assert so(result, "N1", "in_hand ada")
    assert so(result, "N1", "mated JN")


@pytest.mark.parametrize(
    ("pair", "why"),
    [
        ("N1: JQ", "family"),
        ("N2: J3", "both have socket contacts"),
        ("J1: J2", "both are fixed"),
    ],
)
def test_halves_that_do_not_fit(pair: str, why: str) -> None:
    assert why in refusal(f"[[{{take: W2}}, {{mate: {{{pair}}}}}]]")
