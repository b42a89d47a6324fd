"""Procedures that undo each other: mates, blocked switches, paths of segments."""

from __future__ import annotations

from rule_examples import checked, having

from cablewalk.findings import Finding, Severity

BASE = """
baseline:
  places: {hatch: {}}
  paths:
    way: {between: bench hatch, length_m: 4}
    side: {between: bench hatch, length_m: 4}
  now: {people: {ada: bench}, along: ALONG}
"""


def _plan(*phases: str, along: str = "{}", assumes: str = "") -> list[Finding]:
    """Return what is undone by phases whose steps are given; the second may assume the first."""
    first, *rest = phases
    text = BASE.replace("ALONG", along) + f"steps: {first}\n"
    text += "then:\n"
    for name, steps in zip(("next", "third"), rest, strict=False):
        text += (
            f"- {{cablewalk: 1, procedure: {name}, minutes: 1, gap_min: 60, {assumes}"
            f"planned_outages: {{light: example}}, steps: {steps}}}\n"
        )
    return having(checked(text), "undone-later")


BLOCK = "[{by: gus, do: [switch_off: K1, block: K1]}]"


def test_a_block_that_the_next_procedure_lifts() -> None:
    (one,) = _plan(BLOCK, "[{by: gus, do: [unblock: K1]}]")
    assert one.found == "next puts K1 back to not blocked, as it was before work"
    assert (one.severity, one.step, one.items) == (Severity.WARNING, "s1", ("K1",))
    assert one.address.document == 2


def test_a_block_lifted_by_a_procedure_that_assumes_the_other_is_a_note() -> None:
    (one,) = _plan(BLOCK, "[{by: gus, do: [unblock: K1]}]", assumes="assumes: work, ")
    assert one.severity is Severity.NOTE
    assert one.difference.endswith("by a procedure that assumes work")
    (mate,) = _plan("[[demate: P1]]", "[[mate: {P1: J1}]]", assumes="assumes: work, ")
    assert mate.severity is Severity.WARNING, "what is mated is not set up to be parted again"


def test_a_switch_that_only_goes_off_and_on_undoes_nothing() -> None:
    off, on = "[{by: gus, do: [switch_off: K1]}]", "[{by: gus, do: [switch_on: K1]}]"
    assert _plan(off, on) == []


def test_a_block_lifted_in_its_own_procedure_undoes_nothing() -> None:
    assert _plan(BLOCK.replace("K1]", "K1, unblock: K1]"), "[[wait: 1]]") == []


def test_a_block_that_stays_undoes_nothing() -> None:
    assert _plan(BLOCK, "[{by: gus, do: [block: K1]}]") == []


def test_a_segment_laid_back_where_it_was() -> None:
    (one,) = _plan(
        "[[route: {W1.main: side}]]", "[[route: {W1.main: way}]]", along="{W1.main: way}"
    )
    assert one.found == "next puts W1.main back to its way along way, as it was before work"
    assert one.items == ("W1.main",)


def test_a_segment_laid_on_elsewhere_undoes_nothing() -> None:
    assert _plan("[[route: {W1.main: side}]]", "[[route: {W1.main: way}]]") == []
    assert _plan("[[route: {W1.main: side}]]", "[[wait: 1]]", along="{W1.main: way}") == []


def test_a_mate_is_told_once_for_both_halves() -> None:
    (one,) = _plan("[[demate: P1]]", "[[mate: {P1: J1}]]")
    assert one.items == ("J1", "P1")
    assert one.found == "next puts J1 back to mated P1, as it was before work"


def test_the_step_that_undid_it_is_named() -> None:
    (one,) = _plan("[[demate: P1]]", "[[mate: {P1: J1}], {after: s1, do: [inspect: P2]}]")
    assert one.step == "s1"
    (one,) = _plan("[[demate: P1, fit_cap: {CJ1: J1}]]", "[[remove_cap: CJ1], [mate: {P1: J1}]]")
    assert one.step == "s2"


def test_a_panel_taken_off_and_put_back() -> None:
    more = "places: {hatch: {}, bench: {panels: {PAN: {halves: {}}}}}"
    text = BASE.replace("ALONG", "{}").replace("places: {hatch: {}}", more)
    text += "steps: [[remove: PAN]]\n"
    text += "then: {cablewalk: 1, procedure: next, minutes: 1, gap_min: 60, steps: STEPS}\n"
    (one,) = having(checked(text.replace("STEPS", "[[install: PAN]]")), "undone-later")
    assert one.found == "next puts PAN back to installed, as it was before work"
    assert one.items == ("PAN",)
    assert having(checked(text.replace("STEPS", "[[wait: 1]]")), "undone-later") == []


def test_of_three_procedures_the_one_that_did_it_is_named() -> None:
    (one,) = _plan("[[wait: 1]]", "[[demate: P1]]", "[[mate: {P1: J1}]]")
    assert one.found.startswith("third puts ")
    assert one.found.endswith("as it was before next")
    assert one.difference.startswith("what next did")


def test_a_later_procedure_that_touches_it_again_leaves_the_finding_where_it_was_undone() -> None:
    (one,) = _plan("[[demate: P1]]", "[[mate: {P1: J1}]]", "[[demate: P1, fit_cap: {C1: P1}]]")
    assert one.address.document == 2


def _assumes(first: str, assumes: str) -> list[Finding]:
    text = BASE.replace("ALONG", "{}") + f"steps: {first}\nthen:\n"
    for name, what in (("next", assumes), ("third", "next")):
        text += (
            f"- {{cablewalk: 1, procedure: {name}, minutes: 1, gap_min: 60, assumes: {what}, "
            f"steps: [[wait: 1]]}}\n"
        )
    return having(checked(text), "assumes-another")


def test_a_procedure_that_assumes_what_could_not_be_done() -> None:
    """Both that follow start from another configuration; the third through the second."""
    found = _assumes("[[mate: {P1: J1}]]", "work")
    assert [(f.items, f.because_of, f.address.document) for f in found] == [
        (("next",), "s1", 2),
        (("third",), "s1", 3),
    ]
    assert found[0].found.endswith("not all before it can be done: mate in s1")


def test_a_procedure_that_names_another_is_told_of_the_name_alone() -> None:
    (one,) = [f for f in _assumes("[[wait: 1]]", "elsewhere") if f.items != ("third",)]
    assert one.found == "next assumes elsewhere, but follows work"
    assert _assumes("[[wait: 1]]", "work") == []
