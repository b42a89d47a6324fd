"""Spells: from when to when a service is down, reduced or unproven; and since when verified."""

from __future__ import annotations

from small import LAMP, having, outages, run, spell_min, words_at

from cablewalk.timeline.account import Account
from cablewalk.units import SECONDS_PER_MIN

SLOW = "{services: {light: {recovery_min: 3}}}"
TWO_LAMPS = """
interfaces: {p2: 2}
places:
  bench:
    halves:
      J1: p2 socket SRC.hi SRC.ret
      J2: p2 pin LAMP.hi LAMP.ret
      K1: p2 socket AUX.hi AUX.ret
      K2: p2 pin LAMP.ahi LAMP.aret
    units:
      SRC: {kind: source, volts: 28, switches: SW1}
      AUX: {kind: source, volts: 28, switches: SW2}
      LAMP: {kind: load, terminals: hi ret ahi aret, isolated: [[hi, ret], [ahi, aret]]}
    switches: {SW1: , SW2: }
harnesses: {W1: [P1 p2 pin, P2 p2 socket], W3: [M1 p2 pin, M2 p2 socket]}
people: {ada: outside, bob: outside}
services:
  light:
    kind: power
    need: 1
    strings:
      a: {load: LAMP, feeds: SRC}
      b: {load: LAMP.ahi LAMP.aret, feeds: AUX}
now: {on: [SW1], off: [SW2], mated: {P1: J1, P2: J2, M1: K1, M2: K2}}
"""


def lesser(result: Account, kind: str) -> list[tuple[float, float | None]]:
    return [spell_min(s) for s in result.lesser if s.kind == kind]


def verified(result: Account) -> list[float | None]:
    return [
        None if s.verified_s is None else s.verified_s / SECONDS_PER_MIN for s in result.outages
    ]


# --- outages -------------------------------------------------------------------------------


def test_from_the_start_of_the_loss_to_the_end_of_the_return() -> None:
    steps = (
        "[[{wait: 5}], {loses: light, do: [{demate: P1, minutes: 2}, {mate: {P1: J1}, "
        "minutes: 4}]}]"
    )
    result = run(steps, base=LAMP)
    assert outages(result) == [("light", 5, 11)]
    (spell,) = result.outages
    assert spell.lost_by is not None
    assert spell.restored_by is not None
    assert (spell.lost_by.task.verb, spell.restored_by.task.verb) == ("demate", "mate")
    assert spell.planned
    assert spell.duration_s(0) == 360


def test_an_unplanned_loss_is_loud_and_a_planned_one_is_not() -> None:
    unplanned = run("[[{demate: P1}]]", base=LAMP)
    (finding,) = having(unplanned, "unplanned-loss")
    assert finding.items == ("light",)
    assert not unplanned.outages[0].planned
    by_step = run("[{loses: light, do: [{demate: P1}]}]", base=LAMP)
    by_phase = run("[[{demate: P1}]]", base=LAMP, planned_outages={"light": "known"})
    for result in (by_step, by_phase):
        assert not having(result, "unplanned-loss")
        assert result.outages[0].planned


def test_a_plan_of_one_step_does_not_cover_the_next() -> None:
    steps = "[{loses: light, do: [{switch_off: SW1}, {switch_on: SW1}]}, [{switch_off: SW1}]]"
    assert [f.step for f in having(run(steps, base=LAMP), "unplanned-loss")] == ["s2"]


def test_the_reason_chain() -> None:
    (spell,) = run("[{loses: light, do: [{demate: P1}]}]", base=LAMP).outages
    chain = spell.reasons[0].text
    assert chain.startswith("s1 → demate P1 → W1 → ")
    (spell,) = run("[{loses: light, do: [{switch_off: SW1}]}]", base=LAMP).outages
    assert spell.reasons[0].text == "s1 → switch_off SW1 → feed SRC"


def test_recovery_is_added() -> None:
    steps = "[{loses: light, do: [{switch_off: SW1}, {switch_on: SW1}]}]"
    assert outages(run(steps, SLOW, LAMP)) == [("light", 0, 5)]


def test_a_loss_before_it_has_recovered_is_the_same_outage() -> None:
    steps = (
        "[{loses: light, do: [{switch_off: SW1}, {switch_on: SW1}, {wait: WAIT}, "
        "{switch_off: SW1}]}]"
    )
    assert outages(run(steps.replace("WAIT", "2"), SLOW, LAMP)) == [("light", 0, None)]
    assert outages(run(steps.replace("WAIT", "3"), SLOW, LAMP)) == [("light", 0, None)]
    assert outages(run(steps.replace("WAIT", "4"), SLOW, LAMP)) == [
        ("light", 0, 5),
        ("light", 6, None),
    ]


def test_retiring_ends_an_outage() -> None:
    steps = "[{loses: light, do: [{switch_off: SW1}, {wait: 4}, {retire: light}, {wait: 9}]}]"
    result = run(steps, SLOW, LAMP)
    assert outages(result) == [("light", 0, 5)]
    assert result.outages[0].retired


def test_retiring_while_it_recovers_ends_the_outage_too() -> None:
    """DEVELOPERS.md: an outage that is open ends there."""
    steps = (
        "[{loses: light, do: [{switch_off: SW1}, {switch_on: SW1}, {wait: 1}, {retire: light}]}]"
    )
    assert outages(run(steps, SLOW, LAMP)) == [("light", 0, 3)]


def test_down_before_the_replay_began() -> None:
    result = run("[[{switch_on: SW1}]]", "{now: {on: [], off: [SW1], dark_min: {light: 20}}}", LAMP)
    assert outages(result) == [("light", -20, 1)]
    assert result.outages[0].lost_by is None
    assert having(result, "down-at-start")


def test_a_swap_of_strings_is_no_outage() -> None:
    """b is brought up before a goes down."""
    steps = "[[{switch_on: SW2}, {verify: light}, {switch_off: SW1}]]"
    result = run(steps, base=TWO_LAMPS)
    assert outages(result) == []
    assert lesser(result, "reduced") == [(0, 1), (2, None)]


# --- reduced, unproven, strings left -------------------------------------------------------


def test_a_reduced_spell() -> None:
    steps = "[[{switch_on: SW2}, {wait: 3}, {switch_off: SW2}, {switch_on: SW2}]]"
    assert lesser(run(steps, base=TWO_LAMPS), "reduced") == [(0, 1), (4, 6)]


def test_an_unproven_spell_ends_with_the_verify() -> None:
    steps = "[{loses: light, do: [{demate: P1}, {mate: {P1: J1}}, {wait: 5}, {verify: light}]}]"
    result = run(steps, base=LAMP)
    assert lesser(result, "unproven") == [(2, 8)]
    assert words_at(result, "s1") == "up"


def test_an_unproven_spell_ends_when_the_service_goes_down() -> None:
    steps = (
        "[{loses: light, do: [{demate: P1}, {mate: {P1: J1}}, {wait: 5}, {switch_off: SW1}, "
        "{switch_on: SW1}]}]"
    )
    assert lesser(run(steps, base=LAMP), "unproven") == [(2, 7), (9, None)]


def test_which_strings_are_left() -> None:
    """A change of which, not only of how many."""
    result = run("[[{switch_on: SW2}, {switch_off: SW1}]]", base=TWO_LAMPS)
    ids = [s.id for s in result.trace.wiring.strings]
    left = [(row.time_s // 60, row.step, [ids[s] for s in row.up]) for row in result.strings_left]
    assert left == [
        (0, None, ["light.a"]),
        (1, "s1", ["light.a", "light.b"]),
        (1, "s1", ["light.b"]),
    ]
    assert {row.need for row in result.strings_left} == {1}


def test_a_service_of_one_string_has_no_list() -> None:
    assert run("[[{wait: 1}]]", base=LAMP).strings_left == ()


# --- verified ------------------------------------------------------------------------------

BACK = "[{loses: light, do: [{demate: P1}, {mate: {P1: J1}}REST]}]"


def test_verified_is_the_first_verify_after_power_is_back() -> None:
    steps = BACK.replace("REST", ", {wait: 3}, {verify: light}, {verify: light}")
    assert verified(run(steps, base=LAMP)) == [6]


def test_not_verified() -> None:
    assert verified(run(BACK.replace("REST", ""), base=LAMP)) == [None]


def test_a_verify_of_the_next_outage_does_not_count_for_this_one() -> None:
    steps = BACK.replace(
        "REST", ", {wait: 1}, {switch_off: SW1}, {switch_on: SW1}, {verify: light}"
    )
    assert verified(run(steps, base=LAMP)) == [None, 6]


def test_a_verify_that_failed_at_the_very_moment_of_the_return_verifies_nothing() -> None:
    """Bob's verify ends as ada's mate ends, and before it: the light was still down."""
    steps = """
    - {by: bob, not_before: '0:01', do: [{verify: light}]}
    - {loses: light, do: [{demate: P1}, {mate: {P1: J1}}]}
    """
    result = run(steps, base=LAMP)
    assert having(result, "verify-failed")
    assert outages(result) == [("light", 0, 2)]
    assert verified(result) == [None]


def test_a_verify_that_failed_as_the_next_outage_begins_verifies_nothing() -> None:
    """At one moment the loss comes before the end of the verify."""
    steps = """
    - {loses: light, do: [{demate: P1}, {mate: {P1: J1}}]}
    - {by: bob, after: s1, do: [{verify: light, minutes: 2}]}
    - {loses: light, not_before: '0:04', do: [{switch_off: SW1}]}
    """
    result = run(steps, base=LAMP)
    assert having(result, "verify-failed")
    assert verified(result) == [None, None]


def test_a_service_that_is_down_cannot_be_verified() -> None:
    steps = "[{loses: light, do: [{demate: P1}, {verify: light}]}]"
    (finding,) = having(run(steps, base=LAMP), "verify-failed")
    assert "down" in finding.found
    assert finding.items == ("light",)


SAID = "{now: {dark_min: {light: 50}}, services: {light: {clock: {allowed_min: 52, source: x}}}}"


def test_what_is_said_to_be_dark_is_so_until_it_is_verified() -> None:
    """All it needs is joined: nobody knows why it is dark. Verified in the fourth minute."""
    result = run("[[{wait: 2}, {verify: light}], [{wait: 9}]]", SAID, LAMP)
    assert outages(result) == [("light", -50, 3)]
    (spell,) = result.outages
    assert (spell.said, spell.planned, spell.lost_by) == ("light", False, None)
    assert spell.verified_s == 180
    assert spell.restored_by is not None
    assert spell.restored_by.task.action.verify == "light"
    (finding,) = having(result, "dark-unexplained")
    assert finding.difference == "it is taken to be down until it is verified at 0:03"
    (late,) = having(result, "clock-exceeded")
    assert late.difference == "0:01 over"


def test_what_is_said_to_be_dark_and_never_verified_stays_so() -> None:
    result = run("[[{wait: 5}]]", SAID, LAMP)
    assert outages(result) == [("light", -50, None)]
    assert result.readings[0][0].margin_s == -3 * 60
    assert having(result, "dark-unexplained")[0].difference.endswith("until the plan verifies it")
    assert not [s for s in result.lesser if s.kind == "unproven"]


def test_power_off_and_on_does_not_prove_what_is_said_to_be_dark() -> None:
    steps = "[[{switch_off: SW1}, {switch_on: SW1}, {wait: 5}, {verify: light}, {wait: 1}, "
    steps += "{switch_off: SW1}]]"
    result = run(steps, SAID, LAMP)
    assert outages(result) == [("light", -50, 8), ("light", 9, None)]


def test_what_is_said_to_be_dark_and_is_retired() -> None:
    result = run("[[{wait: 5}, {retire: light}, {wait: 5}]]", SAID, LAMP)
    (spell,) = result.outages
    assert (spell.retired, spell.to_s) == (True, 300)


def test_no_minutes_dark_say_nothing() -> None:
    assert not outages(run("[[{wait: 5}]]", "{now: {dark_min: {light: 0}}}", LAMP))


def test_what_needs_one_said_to_be_dark_is_dark_too_and_recovers_after_it() -> None:
    """*light* is seen up at 3; *glow*, which needs it, recovers for 4 minutes after that."""
    more = (
        "{now: {dark_min: {light: 50}}, services: {glow: {kind: power, load: LAMP, feeds: SRC, "
        "needs: light, recovery_min: 4, clock: {allowed_min: 6, source: x}}}}"
    )
    result = run("[[{wait: 2}, {verify: light}], [{wait: 9}]]", more, LAMP)
    assert outages(result) == [("light", -50, 3), ("glow", 0, 7)]
    assert [spell.said for spell in result.outages] == ["light", "light"]
    assert [f.items for f in having(result, "dark-unexplained")] == [("light",)]
    assert [f.items for f in having(result, "clock-exceeded")] == [("glow",)]


def test_what_needs_one_said_to_be_dark_and_is_off_as_that_is_verified_stays_down() -> None:
    more = (
        "{now: {dark_min: {light: 50}, on: [SW1, SW2], "
        "mated: {P1: J1, P2: J2, N1: J3, N2: J4}}, places: {bench: {"
        "units: {S2: {kind: source, volts: 28, switches: SW2}, GLOW: load}, switches: {SW2: }, "
        "halves: {J3: p2 socket S2.hi S2.ret, J4: p2 pin GLOW.hi GLOW.ret}}}, "
        "harnesses: {W2: [N1 p2 pin, N2 p2 socket]}, "
        "services: {glow: {kind: power, load: GLOW, feeds: S2, needs: light}}}"
    )
    steps = "[[{switch_off: SW2}, {wait: 2}, {verify: light}, {wait: 9}, {switch_on: SW2}]]"
    assert outages(run(steps, more, LAMP)) == [("light", -50, 4), ("glow", 0, 14)]


def test_what_is_said_to_be_dark_and_verified_as_the_replay_starts() -> None:
    more = (
        "{now: {dark_min: {light: 50}}, services: {glow: {kind: power, load: LAMP, feeds: SRC, "
        "needs: light, recovery_min: 4}}}"
    )
    result = run("[[{verify: light, minutes: 0}, {wait: 9}]]", more, LAMP)
    assert outages(result) == [("light", -50, 0), ("glow", 0, 4)]


def test_what_is_held_dark_waits_for_what_else_it_needs_to_recover() -> None:
    """*fan* is on again at 2 and recovers until 12; *light* is seen at 3: *glow* is back at 16."""
    more = (
        "{now: {dark_min: {light: 50}, on: [SW1, SW2], "
        "mated: {P1: J1, P2: J2, N1: J3, N2: J4}}, places: {bench: {"
        "units: {S2: {kind: source, volts: 28, switches: SW2}, FAN: load}, switches: {SW2: }, "
        "halves: {J3: p2 socket S2.hi S2.ret, J4: p2 pin FAN.hi FAN.ret}}}, "
        "harnesses: {W2: [N1 p2 pin, N2 p2 socket]}, services: {"
        "fan: {kind: power, load: FAN, feeds: S2, recovery_min: 10}, "
        "glow: {kind: power, load: LAMP, feeds: SRC, needs: [light, fan], recovery_min: 4}}}"
    )
    steps = "[[{switch_off: SW2}, {switch_on: SW2}, {verify: light}, {wait: 30}]]"
    result = run(steps, more, LAMP)
    assert ("light", -50, 3) in outages(result)
    assert ("fan", 0, 12) in outages(result)
    assert ("glow", 0, 16) in outages(result)


FOUND = (
    "{now: {dark_min: {light: 50}, found_down: light, on: ~, off: SW1}, services: {light: "
    "{recovery_min: 6}, glow: {kind: power, load: LAMP, feeds: SRC, needs: light, "
    "recovery_min: 4}}}"
)


def test_what_was_found_down_is_so_until_it_is_verified_whatever_its_joins() -> None:
    """On at 2, verified at 5 and back then; off at 7, as *glow*, which needs it, recovers yet."""
    steps = "[[{wait: 1}, {switch_on: SW1}, {wait: 2}, {verify: light}, {wait: 2}, "
    steps += "{switch_off: SW1}]]"
    result = run(steps, FOUND, LAMP)
    assert outages(result) == [("light", -50, 5), ("light", 7, None), ("glow", 0, None)]
    assert [s.said for s in result.outages] == ["light", "", "light"]
    (finding,) = having(result, "dark-unexplained")
    assert finding.found == "light is said to be dark (found_down), and not only by its joins"
    assert finding.difference == "it is taken to be down until it is verified at 0:05"
    assert {f.items for f in having(result, "down-at-start")} == {("light",), ("glow",)}


def test_what_was_found_down_and_is_only_reconnected_stays_down() -> None:
    result = run("[[{wait: 1}, {switch_on: SW1}, {wait: 9}]]", FOUND, LAMP)
    assert outages(result) == [("light", -50, None), ("glow", 0, None)]
    assert having(result, "dark-unexplained")[0].difference.endswith("until the plan verifies it")
    plain = run("[[{wait: 1}, {switch_on: SW1}]]", FOUND.replace("found_down: light, ", ""), LAMP)
    assert outages(plain) == [("light", -50, 8), ("glow", 0, 12)]


def test_what_needs_one_found_down_recovers_after_its_verify() -> None:
    steps = "[[{wait: 1}, {switch_on: SW1}, {wait: 2}, {verify: light}, {wait: 9}]]"
    result = run(steps, FOUND, LAMP)
    assert outages(result) == [("light", -50, 5), ("glow", 0, 9)]
    # Somebody still has to verify glow, and not before light.
    wrong = run(steps.replace("{verify: light}", "{verify: glow}, {verify: light}"), FOUND, LAMP)
    (finding,) = having(wrong, "verified-in-vain")
    assert "which it needs, is said to be dark (found_down)" in finding.found
    assert finding.way_out.endswith("or take light out of found_down")


GLOW = (
    "{now: {dark_min: {light: 50}}, services: {glow: {kind: power, load: LAMP, feeds: SRC, "
    "needs: light, recovery_min: 4}, deep: {kind: power, load: LAMP, feeds: SRC, needs: glow}}}"
)


def test_a_test_of_what_needs_one_that_is_held_dark_is_told() -> None:
    (finding,) = having(run("[[{wait: 1}, {verify: glow}, {wait: 9}]]", GLOW, LAMP),
                        "verified-in-vain")  # fmt: skip
    assert finding.found == (
        "glow is verified while light, which it needs, is said to be dark (dark_min)"
    )
    assert (finding.step, finding.items) == ("s1", ("glow",))
    assert finding.difference == "the plan verifies light nowhere after it"
    assert finding.way_out.startswith("verify light first, then glow once it has recovered")


def test_a_test_before_the_one_that_is_held_dark_is_verified_is_told_with_when() -> None:
    steps = (
        "[[{verify: deep}, {wait: 2}, {verify: light}, {wait: 9}, {verify: glow}, {verify: deep}]]"
    )
    (finding,) = having(run(steps, GLOW, LAMP), "verified-in-vain")
    assert finding.items == ("deep",), "what it needs needs light"
    assert finding.difference == "light not verified before 0:04"


def test_a_test_while_it_recovers_after_that_is_early_and_not_in_vain() -> None:
    result = run("[[{verify: light}, {verify: glow}, {wait: 9}]]", GLOW, LAMP)
    assert not having(result, "verified-in-vain")
    assert [f.items for f in having(result, "verified-early")] == [("glow",)]


def test_what_came_back_itself_while_the_needed_one_is_held_dark_is_told_once() -> None:
    """*glow* is off and on again by its own switch while *light* is held dark until 0:11."""
    more = (
        "{now: {dark_min: {light: 50}, on: [SW1], off: [SW2], "
        "mated: {P1: J1, P2: J2, N1: J3, N2: J4}}, places: {bench: {"
        "units: {S2: {kind: source, volts: 28, switches: SW2}, GLOW: load}, switches: {SW2: }, "
        "halves: {J3: p2 socket S2.hi S2.ret, J4: p2 pin GLOW.hi GLOW.ret}}}, "
        "harnesses: {W2: [N1 p2 pin, N2 p2 socket]}, "
        "services: {glow: {kind: power, load: GLOW, feeds: S2, needs: light}}}"
    )
    steps = "[[{switch_on: SW2}, {verify: glow}, {wait: 8}, {verify: light}]]"
    result = run(steps, more, LAMP)
    assert [f.items for f in having(result, "verified-in-vain")] == [("glow",)]
    assert not having(result, "verified-early")


def test_nothing_lasts_less_than_no_time() -> None:
    """It counts as up only after the plan is over, unproven then: for no minutes of the plan."""
    steps = "[[{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}]]"
    result = run(steps, SLOW, LAMP)
    (spell,) = [s for s in result.lesser if s.kind == "unproven"]
    assert spell.duration_s(result.trace.end_s) == 0


def test_what_needs_one_that_is_lost_again_before_it_is_back_is_not_back_either() -> None:
    """*light* recovers for 8 minutes from 2 on and is lost again at 5: *glow* never came back."""
    more = (
        "{services: {light: {recovery_min: 8}, "
        "glow: {kind: power, load: LAMP, feeds: SRC, needs: light}}}"
    )
    steps = "[[{switch_off: SW1}, {switch_on: SW1}, {wait: 3}, {switch_off: SW1}, {wait: 9}]]"
    assert outages(run(steps, more, LAMP)) == [("light", 0, None), ("glow", 0, None)]
