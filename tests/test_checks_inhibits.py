"""Inhibits: what could reach, what is proposed, whether it is enough, and when it fails."""

from __future__ import annotations

import pytest
from rule_examples import checked, having, ids

from cablewalk.checks import logic
from cablewalk.checks.power import left_alive, over, verdict
from cablewalk.checks.reaching import proposal
from cablewalk.checks.run import Checked
from cablewalk.findings import Severity

OFF = "{by: gus, do: [switch_off: K1, block: K1, verify: {K1: blocked}]}"
WORK = "{after: s1, do: [demate: P1, {wait: 10}, mate: {P1: J1}]}"
ON = "{by: gus, after: s2, do: [unblock: K1, switch_on: K1, verify: light]}"

CHAIN = """
baseline:
  places:
    bench:
      halves: {J1: p2 socket CNV.out_hi CNV.out_ret}
      units:
        SRC: {volts: 120}
        CNV: {kind: converter, volts: 28, isolated: [[in_hi, in_ret], [out_hi, out_ret]],
              halves: {JC: p2 pin CNV.in_hi CNV.in_ret}}
        BAT: {kind: store, volts: 12, halves: {JB: p2 socket BAT.hi BAT.ret}}
      panels: {PAN: {halves: {JS: p2 socket SRC.hi SRC.ret}}}
  harnesses: {WC: [PS p2 pin, PC p2 socket]}
  services: {light: {feeds: CNV}}
  now: {mated: {PS: JS, PC: JC}}
"""
"""The lamp behind a converter that has no switch of its own; the source's switch is K1."""


def _stated(requires: str, more: str = "", steps: str = f"[{OFF}, {WORK}, {ON}]") -> str:
    return (
        f"procedure: {{statements: {{tx-off: the key is with gus}}, inhibits: {{id: dead, "
        f"requires: {requires}, owner: gus{more}}}}}\nsteps: {steps}\n"
    )


def _proposed(result: Checked) -> tuple[str, tuple[str, ...]]:
    touch = result.case.survey.touches[0]
    return proposal(result.case.wiring, touch, touch.reach)


def _fails(result: Checked) -> list[str]:
    return [f"{f.found}: {f.difference}" for f in having(result, "inhibit-fails")]


# --- what could reach, and what is proposed ------------------------------------------------


def test_the_feed_behind_an_open_switch_could_reach() -> None:
    result = checked(f"steps: [{OFF}, {WORK}, {ON}]")
    touch = result.case.survey.touches[0]
    assert [result.case.wiring.feeds[f].id for f in touch.reach] == ["SRC"]
    assert touch.live == ()
    assert _proposed(result) == ("K1 blocked", ())


def test_through_a_converter_the_switch_of_its_source_is_proposed() -> None:
    result = checked(CHAIN + f"steps: [{OFF}, {WORK}, {ON}]")
    names = [result.case.wiring.feeds[f].id for f in result.case.survey.touches[0].reach]
    assert names == ["CNV"]
    assert _proposed(result) == ("K1 blocked", ())


def test_a_store_without_a_switch_is_told_as_beyond_all_switches() -> None:
    result = checked(
        "baseline: {places: {bench: {units: {SRC: {kind: store, switches: ~}}, switches: ~}}, "
        "now: {on: ~}}\nprocedure: {planned_outages: {light: x}}\nsteps: [[demate: P1]]"
    )
    assert _proposed(result) == ("", ("SRC",))
    assert "live-contact" in ids(result)


def test_a_load_passes_power_on_to_the_next_connector() -> None:
    """NASA LLIS 0579: asked through loads too."""
    result = checked(
        "baseline: {places: {bench: {halves: {J3: p2 socket LAMP.hi LAMP.ret}}}, "
        "harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}, now: {mated: {Q1: J3}}}\n"
        f"steps: [{OFF}, {{after: s1, do: [demate: Q1]}}]"
    )
    assert _proposed(result) == ("K1 blocked", ())
    assert having(result, "no-inhibit")[0].way_out == "inhibit: K1 blocked"


# --- enough --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("requires", "enough"),
    [
        ("K1 blocked", True),
        ("K1 off", True),
        ("K1 blocked or tx-off", False),
        ("K1 blocked and tx-off", True),
        ("not (K1 on or K1 tripped)", True),
        ("tx-off", False),
    ],
)
def test_enough_in_every_state_it_allows(requires: str, enough: bool) -> None:
    result = checked(CHAIN + _stated(requires, ", until: s3"))
    alive = [left_alive(result.case, touch) for touch in result.case.survey.touches]
    assert (alive == [[], []]) is enough
    assert ("inhibit-not-enough" in ids(result)) is not enough


def test_two_inhibits_together_are_enough() -> None:
    two = (
        "baseline: {places: {bench: {units: {SRC: {switches: [K1, K2]}}, switches: {K1: , K2: }}},"
    )
    two += " now: {on: [K1, K2]}}\n"
    work = (
        _stated("K1 off or tx-off", ", until: s3")
        .replace(
            "inhibits: {", "inhibits: [{id: b, requires: not tx-off, owner: gus, until: s3}, {"
        )
        .replace("until: s3}}", "until: s3}]}")
    )
    result = checked(two + work)
    assert "inhibit-not-enough" not in ids(result)


# --- the interval --------------------------------------------------------------------------


def test_it_holds_from_before_the_first_action_to_its_release() -> None:
    result = checked(_stated("K1 blocked", ", until: s3"))
    assert not ids(result) & {"inhibit-fails", "inhibit-unverified", "no-inhibit"}


def test_lead_time_counts() -> None:
    """Blocked from 0:02; the demate begins at 0:03."""
    assert _fails(checked(_stated("K1 blocked", ", until: s3, lead_min: 1"))) == []
    assert _fails(checked(_stated("K1 blocked", ", until: s3, lead_min: 2"))) == [
        "inhibit dead does not hold from PET 0:01 to PET 0:02: K1 is off"
    ]


def test_a_gap_in_the_middle_is_told_from_when_to_when() -> None:
    steps = (
        f"[{OFF}, {{after: s1, do: [demate: P1, {{wait: 10}}, fit_cap: {{C1: P1}}, "
        "remove_cap: C1, mate: {P1: J1}]}, "
        "{by: gus, do: [{wait: 2}, unblock: K1, {wait: 3}, block: K1]}, "
        "{by: gus, after: s2, do: [unblock: K1, switch_on: K1]}]"
    )
    (text,) = _fails(checked(_stated("K1 blocked", ", until: s4", steps)))
    assert text == "inhibit dead does not hold from PET 0:05 to PET 0:10: K1 is off"


def test_a_release_before_the_last_action_is_an_error() -> None:
    steps = f"[{OFF}, {WORK}, {ON}, {{after: s3, do: [demate: P1, mate: {{P1: J1}}]}}]"
    result = checked(_stated("K1 blocked", ", until: s3, protects: [s2, s4]", steps))
    (finding,) = having(result, "inhibit-never-released")
    assert finding.severity is Severity.ERROR
    assert "while s4 still needs it" in finding.found


def test_until_end_is_a_release() -> None:
    result = checked(_stated("K1 blocked", ", until: end", f"[{OFF}, {WORK}]"))
    assert "inhibit-never-released" not in ids(result)
    assert "inhibit-fails" not in ids(result)


def test_a_statement_counts_from_its_verification() -> None:
    steps = (
        "[{by: gus, do: [switch_off: K1, block: K1, verify: {K1: blocked}, VERIFY]},"
        f" {WORK}, {ON}]"
    )
    stated = _stated("K1 blocked and tx-off", ", until: s3", steps)
    said = checked(stated.replace("VERIFY", "verify: {tx-off: true}"))
    assert not ids(said) & {"inhibit-fails", "inhibit-unverified"}
    unsaid = checked(stated.replace("VERIFY", "wait: 1"))
    assert [text.rpartition(": ")[2] for text in _fails(unsaid)] == ["tx-off is not verified"]
    taken_back = checked(
        stated.replace("VERIFY", "verify: {tx-off: true}, verify: {tx-off: false}")
    )
    assert [text.rpartition(": ")[2] for text in _fails(taken_back)] == ["tx-off is withdrawn"]


def test_verification_by_another_than_the_owner_does_not_count() -> None:
    steps = (
        "[{by: gus, do: [switch_off: K1, block: K1]},"
        " {after: s1, do: [verify: {K1: blocked}, demate: P1, mate: {P1: J1}]}]"
    )
    result = checked(_stated("K1 blocked", ", until: end", steps))
    assert having(result, "inhibit-unverified")[0].found.endswith("dead: K1 blocked")


def test_a_verification_before_the_switch_moved_does_not_count() -> None:
    steps = (
        "[{by: gus, do: [switch_off: K1, verify: {K1: off}, block: K1]},"
        " {after: s1, do: [demate: P1, mate: {P1: J1}]}]"
    )
    result = checked(_stated("K1 off", ", until: end", steps))
    assert having(result, "inhibit-unverified")


def test_one_inhibit_may_require_another() -> None:
    text = (
        _stated("K1 blocked", ", until: s3")
        .replace(
            "inhibits: {",
            "inhibits: [{id: both, requires: dead and K1 off, owner: gus, until: s3}, {",
        )
        .replace("until: s3}}", "until: s3}]}")
    )
    assert not {r for r in ids(checked(text)) if r.startswith("inhibit")}


# --- bad input -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("requires", "more", "words"),
    [
        ("K7 off", "", "there is no switch K7"),
        ("J1 off", "", "there is no switch J1"),
        ("K1", "", "say its state, as in 'K1 blocked'"),
        ("moon-up", "", "it is none"),
        ("K1 off", ", until: s99", "until: there is no step s99"),
        ("K1 off", ", set_by: s99", "set_by: there is no step s99"),
        ("K1 off", ", protects: P9", "there is no step or half P9"),
    ],
)
def test_names_that_are_not_there(requires: str, more: str, words: str) -> None:
    found = having(checked(_stated(requires, more)), "inhibit-unknown-name")
    assert any(words in f.found for f in found)


def test_an_owner_who_is_not_there() -> None:
    text = _stated("K1 off").replace("owner: gus", "owner: zoe")
    assert "no person or role zoe" in having(checked(text), "inhibit-unknown-name")[0].found


@pytest.mark.parametrize(
    ("requires", "words"),
    [
        ("K1 on and K1 off", "can never hold"),
        ("K1 blocked and not K1 off", "can never hold"),
        ("tx-off and not tx-off", "can never hold"),
        ("K1 off or not K1 off", "holds whatever"),
    ],
)
def test_contradictions(requires: str, words: str) -> None:
    assert words in having(checked(_stated(requires)), "inhibit-contradiction")[0].found


def test_a_longer_circle_is_told() -> None:
    text = (
        _stated("b and K1 off", ", until: s3")
        .replace("inhibits: {", "inhibits: [{id: b, requires: not dead, owner: gus, until: s3}, {")
        .replace("until: s3}}", "until: s3}]}")
    )
    assert "dead → b → dead" in {
        f.found.rpartition(": ")[2] for f in having(checked(text), "inhibit-circle")
    }


# --- lead time, release, contradictions, what cannot be judged -----------------------------


def test_lead_time_counts_beside_set_by() -> None:
    """Blocked from 0:02, its step over at 0:03, where the demate begins."""
    assert _fails(checked(_stated("K1 blocked", ", set_by: s1, until: s3, lead_min: 1"))) == []
    assert _fails(checked(_stated("K1 blocked", ", set_by: s1, until: s3, lead_min: 2"))) == [
        "inhibit dead does not hold from PET 0:01 to PET 0:02: K1 is off"
    ]


def test_a_release_that_leaves_the_switch_blocked() -> None:
    on = "{by: gus, after: s2, do: [wait: 1]}"
    result = checked(_stated("K1 blocked", ", until: s3", f"[{OFF}, {WORK}, {on}]"))
    (finding,) = having(result, "inhibit-never-released")
    assert finding.severity is Severity.WARNING
    assert finding.found.endswith("is released by s3, and still K1 blocked at the end")


def test_a_switch_that_another_inhibit_holds_to_the_end_may_stay_blocked() -> None:
    text = _stated("K1 blocked", ", until: s3", f"[{OFF}, {WORK}, {{after: s2, do: [wait: 1]}}]")
    two = text.replace(
        "inhibits: {", "inhibits: [{id: b, requires: K1 blocked, owner: gus, until: end}, {"
    ).replace("until: s3}}", "until: s3}]}")
    assert "inhibit-never-released" not in ids(checked(two))


def test_a_release_that_names_the_work_itself_is_too_early() -> None:
    (finding,) = having(checked(_stated("K1 blocked", ", until: s2")), "inhibit-never-released")
    assert finding.severity is Severity.ERROR
    assert finding.found.endswith("is released by s2 while s2 still needs it")


def _two(first: str, second: str) -> str:
    return (
        _stated(first, ", until: s3")
        .replace(
            "inhibits: {", f"inhibits: [{{id: b, requires: {second}, owner: gus, until: s3}}, {{"
        )
        .replace("until: s3}}", "until: s3}]}")
    )


@pytest.mark.parametrize("second", ["not dead", "K1 on", "not K1 off"])
def test_inhibits_over_one_step_that_contradict_one_another(second: str) -> None:
    result = checked(_two("K1 blocked", second))
    (finding,) = having(result, "inhibit-contradiction")
    assert finding.items == ("b", "dead")
    assert finding.step == "s2"
    assert "inhibit-not-enough" not in ids(result)
    touch = result.case.survey.touches[0]
    gaps: dict[tuple[int, str], list[tuple[int, int, str]]] = {(0, "b"): [], (0, "dead"): []}
    assert verdict(result.case, touch, gaps) == "cannot hold together"


def test_inhibits_that_agree_are_no_contradiction() -> None:
    assert "inhibit-contradiction" not in ids(checked(_two("K1 blocked", "K1 off")))


def test_past_the_budget_of_the_search_a_note_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logic, "BUDGET", 0)
    result = checked(_stated("K1 blocked or tx-off", ", until: s3"))
    assert not ids(result) & {"inhibit-not-enough", "inhibit-contradiction"}
    (note,) = [f for f in having(result, "not-judged") if f.items == ("dead",)]
    assert "too many alternatives" in note.found


@pytest.mark.parametrize("more", [", until: s99", ", until: s3, set_by: s99"])
def test_an_inhibit_with_a_wrong_step_is_judged_as_far_as_it_goes(more: str) -> None:
    result = checked(_stated("K1 blocked", more))
    assert not ids(result) & {"no-inhibit", "inhibit-not-enough", "inhibit-fails"}
    touch = result.case.survey.touches[0]
    assert [one.id for one in over(result.case, touch)] == ["dead"]
    assert verdict(result.case, touch, {(0, "dead"): []}) == "enough"


def test_an_inhibit_over_an_unknown_switch_is_listed_as_stated() -> None:
    result = checked(_stated("K9 blocked", ", until: s3"))
    touch = result.case.survey.touches[0]
    assert "no-inhibit" not in ids(result)
    assert verdict(result.case, touch, {(0, "dead"): []}) == "dead cannot be judged"


def test_one_that_names_an_inhibit_over_an_unknown_switch_cannot_be_judged_either() -> None:
    result = checked(_two("K9 blocked", "dead"))
    assert having(result, "inhibit-unknown-name")
    assert [one.expression for one in result.case.stated] == [None, None]


@pytest.mark.parametrize(("minutes", "late"), [("1", False), ("5", True)])
def test_an_end_state_counts_as_verified_when_the_verifying_is_over(
    minutes: str, late: bool
) -> None:
    """The demate begins two minutes after the block: a look of five minutes is not over then."""
    text = (
        "procedure: {inhibits: {id: dead, requires: K1 blocked, owner: gus, until: s4}}\n"
        "steps: [{by: gus, do: [switch_off: K1, block: K1]},\n"
        f" {{by: gus, after: s1, do: [{{verify: {{K1: blocked}}, minutes: {minutes}}}]}},\n"
        " {after: s1, do: [wait: 2, demate: P1, mate: {P1: J1}]},\n"
        " {by: gus, after: [s2, s3], do: [unblock: K1, switch_on: K1, verify: light]}]"
    )
    assert ("inhibit-unverified" in ids(checked(text))) is late


def test_what_is_not_enough_is_told_from_when_to_when() -> None:
    """As long as the demate lasts; what gus does meanwhile ends in between."""
    text = (
        "procedure: {inhibits: {id: dead, requires: not K1 tripped, owner: gus, until: s3}}\n"
        "steps: [[{wait: 1}, {demate: P1, minutes: 4}], {by: gus, do: [{wait: 3}]},\n"
        " {by: gus, after: s1, do: [wait: 1]}]"
    )
    (found,) = having(checked(text), "inhibit-not-enough")
    assert found.difference == (
        "not K1 tripped: not enough from PET 0:01 to PET 0:05, while the demate lasts"
    )


def test_an_inhibit_set_after_its_release_says_so() -> None:
    head = "procedure: {inhibits: {id: dead, requires: K1 blocked, owner: gus, SET, until: s1}}\n"
    steps = "steps: [{by: gus, do: [switch_off: K1]}, {by: gus, after: s1, do: [block: K1]}]"
    (found,) = having(checked(head.replace("SET", "set_by: s2") + steps), "inhibit-idle")
    assert "is set by s2, after its release by s1" in found.found
    assert found.way_out == "set it by an earlier step, or release it by a later one"
    in_order = head.replace("SET", "set_by: s1").replace("until: s1", "until: s2")
    (other,) = having(checked(in_order + steps), "inhibit-idle")
    assert "protects no mate or demate" in other.found
