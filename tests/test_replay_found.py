"""Found: what was really there, for every kind of item; and what hangs together with it."""

from __future__ import annotations

import pytest
from small import LAMP, end, having, place, rules, run, same_again, so, words_at

FOUND: list[tuple[str, dict[str, str]]] = [
    ("P1: bare", {"P1": "bare", "J1": "bare"}),
    ("J1: bare", {"P1": "bare", "J1": "bare"}),
    ("P1: unverified", {"P1": "unverified J1", "J1": "unverified P1"}),
    ("P1: part_engaged", {"J1": "part_engaged P1"}),
    ("P1: mated JN", {"P1": "mated JN", "JN": "mated P1", "J1": "bare"}),
    ("P1: parked JP", {"P1": "parked", "J1": "bare"}),
    ("JN: capped CL", {"JN": "capped CL", "CL": "fitted JN"}),
    ("P1: mated J3", {"P1": "mated J3", "J1": "bare", "C3": "lost"}),
    ("C3: lost", {"C3": "lost", "J3": "bare"}),
    ("C3: tethered", {"C3": "tethered J3", "J3": "bare"}),
    ("C3: held bob", {"C3": "held bob", "J3": "bare"}),
    ("C3: packed sack", {"C3": "packed sack", "J3": "bare"}),
    ("CL: fitted JN", {"CL": "fitted JN", "JN": "capped CL"}),
    ("COV: fastened", {"COV": "fastened"}),
    ("COV: part_fastened 3", {"COV": "part_fastened 3"}),
    ("COV: released", {"COV": "released"}),
    ("COV: open", {"COV": "open"}),
    ("COV: removed far", {"COV": "removed far"}),
    ("SW1: 'off'", {"SW1": "off"}),
    ("SW1: tripped", {"SW1": "tripped"}),
    ("SW1: blocked", {"SW1": "blocked"}),
    ("SW1: unknown", {"SW1": "unknown"}),
    ("P1: loose", {"P1": "loose bench"}),
    ("N1: restrained far", {"N1": "restrained far"}),
    ("P1: pulled_aside", {"P1": "pulled_aside", "J1": "mated P1"}),
    ("N1: stowed sack", {"N1": "stowed sack"}),
    ("N1: in_hand bob", {"N1": "in_hand bob"}),
    ("N1: packed sack", {"N1": "packed sack"}),
    ("BOX: absent", {"BOX": "absent"}),
    ("BOX: removed far", {"BOX": "removed far"}),
    ("PAN: removed", {"PAN": "removed"}),
    ("kit: at far", {"kit": "at far", "N1": "packed far"}),
    ("kit: carried bob", {"kit": "carried bob"}),
    ("bob: at far", {"bob": "at far"}),
]


@pytest.mark.parametrize(("fact", "then"), FOUND, ids=[row[0] for row in FOUND])
def test_found(fact: str, then: dict[str, str]) -> None:
    result = run(f"[{{loses: light, do: [{{found: {{{fact}}}, reason: seen}}]}}]")
    assert not having(result, "refused"), having(result, "refused")[0].sentence()
    for name, words in then.items():
        assert so(result, name, words), f"{name} is not {words}"


@pytest.mark.parametrize("fact", [row[0] for row in FOUND if row[0] != "bob: at far"])
def test_what_was_found_can_be_written_out(fact: str) -> None:
    old, again = same_again(run(f"[[{{found: {{{fact}}}, reason: seen}}]]"))
    assert old == again


def test_found_takes_no_time_and_needs_no_reach() -> None:
    result = run("[[{walk: hatch}, {found: {P1: bare}, reason: radioed}]]")
    assert result.trace.events[-1].time_s == 60
    assert so(result, "P1", "bare")


def test_a_service_found_down() -> None:
    result = run("[[{found: {P1: bare}, reason: seen}]]", base=LAMP)
    assert words_at(result, "s1") == "down"
    (finding,) = having(result, "unplanned-loss")
    assert "s1" in finding.difference


def test_a_found_remate_is_unproven() -> None:
    steps = "[{loses: light, do: [{demate: P1}]}, [{found: {P1: mated J1}, reason: seen}]]"
    assert words_at(run(steps, base=LAMP), "s2") == "up unproven"


def test_a_cap_found_elsewhere_leaves_its_half_bare() -> None:
    """One cap is on one half: the half it was on before is bare."""
    result = run("[[{found: {C3: fitted JN}, reason: seen}]]")
    assert so(result, "JN", "capped C3")
    assert so(result, "J3", "bare")
    old, again = same_again(result)
    assert old == again


def test_a_cap_found_on_a_mated_half_parts_the_pair() -> None:
    result = run("[{loses: light, do: [{found: {CL: fitted J1}, reason: seen}]}]")
    assert so(result, "J1", "capped CL")
    assert so(result, "P1", "bare")


@pytest.mark.parametrize(
    "fact",
    [
        "J1: capped",  # with which cap?
        "JN: mated",  # with what?
        "P1: parked",  # on what? it is mated with no parking half
        "JN: mated kit",
        "COV: part_fastened",
        "COV: part_fastened 4",
        "CL: fitted",  # on what? it belongs to no half
        "C3: held J1",  # a half holds nothing
        "C3: packed J1",
        "N1: packed bench",  # a place is no bag
        "N1: in_hand kit",
        "N1: loose kit",
        "P1: packed",  # it was laid, not in a bag: in which?
        "P1: in_hand",  # whose?
        "bob: at",
        "bob: at SW1",
        "bob: at bob",
        "kit: carried bench",
        "kit: at J1",
        "COV: removed J1",
        "BOX: removed SW1",
    ],
)
def test_words_that_name_no_partner_are_refused(fact: str) -> None:
    """acts_found.found refuses words that name no state of the item or no partner."""
    result = run(f"[[{{found: {{{fact}}}, reason: seen}}]]")
    assert having(result, "refused") or result.trace.unusable


@pytest.mark.parametrize("fact", ["J1: lit", "SW1: bare", "light: mated", "W1: packed kit"])
def test_words_that_are_no_state_stop_the_replay(fact: str) -> None:
    result = run(f"[[{{found: {{{fact}}}, reason: seen}}]]")
    assert result.trace.unusable
    (finding,) = having(result, "unknown-state")
    assert finding.expected
    assert finding.address.path == ("steps", 0, "do", 0, "found", fact.partition(":")[0])


def test_found_person_is_where_he_was_found() -> None:
    result = run(
        "[[{found: {bob: at far}, reason: seen}], {by: bob, after: s1, do: [{inspect: JF}]}]"
    )
    assert rules(result) == set()
    assert place(result, "bob") == "far"


def test_work_after_what_was_found() -> None:
    """A loose cap found gone, a half found capped: the next action meets what is there."""
    result = run(
        "[[{found: {JN: capped CL}, reason: seen}, {take: W2}, {remove_cap: CN}, {mate: {N1: JN}}]]"
    )
    (finding,) = having(result, "refused")
    assert "JN is capped with CL" in finding.found
    assert end(result).state_name(end(result).wiring.by_id["CL"]) == "fitted"
