"""Single tools: taken out, used, put back; where each is at every moment."""

from __future__ import annotations

import pytest
from rule_examples import checked, having

from cablewalk.findings import Finding

KIT = """
baseline:
  places: {hatch: {}}
  paths: {way: {between: bench hatch, length_m: 4}}
  bags: {kit: {ties: 0, tools: {pliers: 1, torque wrench: 2}}, box: {ties: 0}}
  people: {bob: outside}
  now: {bags: {kit: hatch, box: bench}, people: {ada: hatch, bob: hatch}}
"""
OUT = "{wait: 1, tools_out: {pliers: kit}}"
BACK = "{wait: 1, tools_back: {pliers: kit}}"


def _found(steps: str, rule: str = "tool-not-at-hand", more: str = "") -> list[Finding]:
    return having(checked(KIT + f"steps: {steps}{more}"), rule)


def test_a_tool_in_a_bag_at_the_place_is_at_hand() -> None:
    assert _found("[[{wait: 1, tools: [pliers, torque wrench]}]]") == []


def test_a_tool_in_a_bag_elsewhere_is_not() -> None:
    (one,) = _found("[[walk: bench, {demate: P1, tools: pliers}]]")
    assert one.found == "ada works with pliers, which is not at bench; it is in kit at hatch"
    assert one.items == ("pliers", "ada")
    assert one.step == "s1"
    assert one.because_of is None


def test_a_tool_goes_with_the_bag_that_is_carried() -> None:
    assert _found("[[carry: kit, walk: bench, {demate: P1, tools: pliers}]]") == []


def test_a_tool_taken_out_goes_with_its_worker_and_serves_whoever_is_there() -> None:
    steps = f"[[{OUT}, walk: bench], {{by: bob, after: s1, do: [STEP]}}]"
    assert _found(steps.replace("STEP", "walk: bench, {demate: P1, tools: pliers}")) == []
    (one,) = _found(steps.replace("STEP", "{wait: 1, tools: pliers}"))
    assert one.found.endswith("not at hatch; it is with ada")


def test_one_tool_cannot_be_taken_out_twice() -> None:
    (one,) = _found(f"[[{OUT}], {{by: bob, after: s1, do: [{OUT}]}}]")
    assert one.found == "bob cannot take pliers out of kit: there is none in kit; it is with ada"
    wrench = OUT.replace("pliers", "torque wrench")
    assert _found(f"[[{wrench}], {{by: bob, after: s1, do: [{wrench}]}}]") == []
    third = f"[[{wrench}], {{by: bob, after: s1, do: [{wrench}, {wrench}]}}]"
    assert len(_found(third)) == 1


def test_a_tool_that_is_put_back_can_be_taken_out_again() -> None:
    assert _found(f"[[{OUT}, {BACK}, {OUT}, {BACK}]]") == []
    assert _found(f"[[{OUT}, {BACK}, {OUT}, {BACK}]]", "tool-out-at-end") == []


def test_a_tool_may_go_into_another_bag_and_is_then_there() -> None:
    into = "walk: bench, {wait: 1, tools_back: {pliers: box}}"
    assert _found(f"[[{OUT}, {into}, {{demate: P1, tools: pliers}}]]") == []
    assert _found(f"[[{OUT}, {into}]]", "tool-out-at-end") == []
    (one,) = _found(f"[[{OUT}, {into}, walk: hatch, {{wait: 1, tools: pliers}}]]")
    assert one.found.endswith("it is in box at bench")


@pytest.mark.parametrize(
    ("steps", "text"),
    [
        ("[[walk: bench, WHAT]]", "kit is at hatch, ada at bench"),
        ("[[{wait: 1, tools_out: {pliers: kitt}}]]", "there is no bag kitt"),
        ("[[walk: bench, {wait: 1, tools_out: {pliers: box}}]]", "none in box; it is in kit"),
        (f"[[{OUT}, walk: bench], {{by: bob, after: s1, do: [{BACK}]}}]", "it is with ada"),
        ("[[{wait: 1, tools: plyers}]]", "no bag lists it (did you mean pliers?)"),
        ("[[{wait: 1, tools_back: {pliers: kit}}]]", "nobody at hatch has one; it is in kit"),
    ],
)
def test_what_cannot_be_is_told_with_where_it_is(steps: str, text: str) -> None:
    (one,) = _found(steps.replace("WHAT", OUT))
    assert text in one.found


def test_a_bag_gives_no_more_than_was_put_in_it() -> None:
    out = "{wait: 1, tools_out: {pliers: box}}"
    steps = f"[[{OUT}, walk: bench, {{wait: 1, tools_back: {{pliers: box}}}}, {out}, LAST]]"
    assert _found(steps.replace(", LAST", "")) == []
    (one,) = _found(steps.replace("LAST", out))
    assert "there is none in box; it is with ada" in one.found


def test_what_is_put_back_is_the_tool_named() -> None:
    """ada holds pliers only: no torque wrench goes back, and the pliers stay with her."""
    steps = f"[[{OUT}, {BACK.replace('pliers', 'torque wrench')}]]"
    (one,) = _found(steps)
    assert one.items == ("torque wrench", "ada")
    assert len(_found(steps, "tool-out-at-end")) == 1


def test_a_bag_elsewhere_takes_no_tool_back() -> None:
    steps = f"[[{OUT}, walk: bench, {BACK}]]"
    (one,) = _found(steps)
    assert "kit is at hatch, ada at bench" in one.found
    (late,) = _found(steps, "tool-out-at-end")
    assert late.items == ("pliers", "ada")


def test_the_worker_who_does_it_puts_back_their_own() -> None:
    """Both have a torque wrench; bob puts one back, so ada's is the one still out."""
    out = OUT.replace("pliers", "torque wrench")
    back = BACK.replace("pliers", "torque wrench")
    steps = f"[[{out}], {{by: bob, after: s1, do: [{out}, {back}]}}]"
    (one,) = _found(steps, "tool-out-at-end")
    assert one.items == ("torque wrench", "ada")
    assert one.step == "s1"


def test_a_tool_still_out_is_told_once_of_the_phase_it_was_taken_out_in() -> None:
    then = (
        "\nthen: {cablewalk: 1, procedure: second, minutes: 1, gap_min: 60, "
        "steps: [[{wait: 1}], {after: s1, do: [LAST]}]}"
    )
    (one,) = _found(f"[[{OUT}]]", "tool-out-at-end", then.replace("LAST", BACK))
    assert "not put back by the end of work" in one.found
    late = _found("[[wait: 1]]", "tool-out-at-end", then.replace("LAST", OUT))
    assert ["by the end of second" in f.found for f in late] == [True]
    assert _found(f"[[{OUT}]]", "tool-not-at-hand", then.replace("LAST", BACK)) == []


def test_a_tool_that_was_not_there_to_be_taken_is_told_once() -> None:
    steps = "[[walk: bench, {wait: 1, tools_out: {pliers: kit}}, {demate: P1, tools: pliers}]]"
    assert len(_found(steps)) == 1
    assert _found(steps, "tool-out-at-end") == []


def test_what_follows_from_a_skipped_action_names_its_step() -> None:
    steps = (
        "[[{mate: {P1: J1}, tools_out: {pliers: kit}}],"
        " {after: s1, do: [walk: bench, {demate: P1, tools: pliers}]}]"
    )
    (one,) = _found(steps)
    assert (one.step, one.because_of) == ("s2", "s1")
    steps = f"[[{OUT}], {{after: s1, do: [{{mate: {{P1: J1}}, tools_back: {{pliers: kit}}}}]}}]"
    (late,) = _found(steps, "tool-out-at-end")
    assert (late.step, late.because_of) == ("s1", "s2")
