"""Switches, units and panels."""

from __future__ import annotations

import pytest
from small import BENCH, LAMP, end, having, place, rules, run, so, words_at


def refusal(steps: str, more: str = "{}", base: str = LAMP) -> str:
    (finding,) = having(run(steps, more, base), "refused")
    return finding.sentence()


# --- switches ------------------------------------------------------------------------------


def test_a_blocked_switch_is_unblocked_first() -> None:
    said = refusal("[{loses: light, do: [{switch_off: SW1}, {block: SW1}, {switch_on: SW1}]}]")
    assert "SW1 is blocked" in said
    assert "unblock" in said


def test_off_stays_blocked() -> None:
    assert so(run("[[{block: SW2}, {switch_off: SW2}]]"), "SW2", "blocked")


def test_a_tripped_switch_is_reset_to_off() -> None:
    result = run("[[{reset: SW1}, {switch_on: SW1}]]", "{now: {on: [], tripped: [SW1]}}", LAMP)
    assert words_at(result, None) == "down"
    assert so(result, "SW1", "on")
    assert words_at(result, "s1") == "up"


def test_a_tripped_switch_is_not_switched_on() -> None:
    said = refusal("[[{switch_on: SW1}]]", "{now: {on: [], tripped: [SW1]}}")
    assert "SW1 is tripped" in said
    assert "reset" in said


@pytest.mark.parametrize("word", ["on", "off", "blocked"])
def test_a_switch_of_unknown_state_is_seen(word: str) -> None:
    result = run(f"[[{{verify: {{SW1: '{word}'}}}}]]", "{now: {on: []}}", LAMP)
    assert having(result, "switch-unknown")
    assert not having(result, "not-as-expected")
    assert so(result, "SW1", word)
    assert words_at(result, None) == "down"
    assert words_at(result, "s1") == ("up" if word == "on" else "down")


def test_a_known_switch_that_is_otherwise_is_a_finding() -> None:
    (finding,) = having(run("[[{verify: {SW1: 'off'}}]]", base=LAMP), "not-as-expected")
    assert finding.found == "SW1 is on"
    assert finding.expected == "off"


def test_expecting_a_switch_of_unknown_state_is_a_finding() -> None:
    """Only a verify looks; an expectation is about what is known."""
    result = run("[[{expect: {SW1: 'on'}}]]", "{now: {on: []}}", LAMP)
    assert having(result, "not-as-expected")


COMMAND = """
places: {bench: {switches: {SW3: {commanded_through: light}},
                 halves: {K1: p2 socket S3.hi S3.ret},
                 units: {S3: {kind: source, volts: 5, switches: SW3}}}}
now: {off: [SW3]}
"""


def test_a_switch_commanded_through_a_service() -> None:
    assert so(run("[[{switch_on: SW3}]]", COMMAND, LAMP), "SW3", "on")


@pytest.mark.parametrize("action", ["switch_on: SW3", "block: SW3", "verify: {SW3: 'off'}"])
def test_is_out_of_command_while_the_service_is_down(action: str) -> None:
    said = refusal(f"[{{loses: light, do: [{{switch_off: SW1}}]}}, [{{{action}}}]]", COMMAND)
    assert "SW3 is commanded through light, which is down" in said
    assert "light up" in said


def test_a_switch_that_is_moving_is_of_unknown_state() -> None:
    """While it is switched on it feeds nothing yet; it feeds at the end."""
    steps = "[{loses: light, do: [{switch_off: SW1, minutes: 2}]}, [{switch_on: SW1, minutes: 3}]]"
    result = run(steps, base=LAMP)
    spell = result.outages[0]
    assert (spell.from_s, spell.to_s) == (0, 300)


@pytest.mark.parametrize("who", ["gus", "ada"])
def test_switching_takes_no_hands_of_another_worker(who: str) -> None:
    assert so(run(f"[{{by: {who}, do: [{{switch_on: SW2, by: ada}}]}}]"), "SW2", "on")


def test_blocking_moves_no_contacts() -> None:
    """DEVELOPERS.md: a switch an action *moves* is unknown; a block leaves it off throughout."""
    steps = """
    - {loses: light, do: [{switch_off: SW1}]}
    - {after: s1, do: [{block: SW1, minutes: 5}]}
    - {by: bob, after: s1, lead_min: {s1: 1}, do: [{demate: P1}]}
    """
    assert not having(run(steps, base=LAMP), "live-contact")


# --- units and panels ----------------------------------------------------------------------


def test_a_unit_with_something_mated_is_not_removed() -> None:
    said = refusal("[[{take: W2}, {remove_cap: CN}, {mate: {N1: JN}}, {remove: PAN}]]", base=BENCH)
    assert "JN is mated with N1" in said
    assert "demate" in said


def test_a_removed_unit_goes_along_and_comes_back() -> None:
    result = run("[[{remove: BOX}, {walk: hatch}]]")
    assert place(result, "BOX") == "hatch"
    assert place(result, "JB") == "hatch"
    assert so(
        run("[[{remove: BOX}, {walk: hatch}, {walk: bench}, {install: BOX}]]"), "BOX", "installed"
    )


def test_a_unit_is_installed_at_its_own_place() -> None:
    assert "hatch" in refusal("[[{remove: BOX}, {walk: hatch}, {install: BOX}]]", base=BENCH)


def test_a_unit_left_elsewhere_is_not_installed() -> None:
    said = refusal("[[{install: BOX}]]", "{now: {removed: {BOX: hatch}}}", BENCH)
    assert "BOX is with hatch" in said


def test_an_absent_unit_arrives() -> None:
    result = run("[[{install: PAN}, {inspect: JN}]]", "{now: {absent: PAN}}")
    assert rules(result) == set()
    assert so(result, "PAN", "installed")


def test_an_absent_unit_is_not_removed() -> None:
    assert "BOX is absent" in refusal("[[{remove: BOX}]]", "{now: {absent: BOX}}", BENCH)


def test_removing_a_source_takes_its_feed_away() -> None:
    more = "{places: {bench: {units: {SRC: {halves: {JS: p2 socket}}}}}}"
    result = run("[{loses: light, do: [{remove: SRC}]}, [{install: SRC}]]", more, LAMP)
    assert [words_at(result, at) for at in (None, "s1")] == ["up", "down"]
    assert words_at(result, "s2").startswith("up")
    assert end(result).state_name(end(result).wiring.by_id["SRC"]) == "installed"
