"""Expecting, verifying, and naming what is not there."""

from __future__ import annotations

import pytest
from small import LAMP, having, rules, run

HOLDS = [
    "P1: mated",
    "P1: mated J1",
    "J1: mated P1",
    "P1: routed",
    "P1: routed bench",
    "J3: capped",
    "J3: capped C3",
    "C3: fitted J3",
    "N1: packed kit",
    "N1: packed bench",
    "CU: fitted N2",
    "COV: fastened",
    "SW1: 'on'",
    "BOX: installed",
    "PAN: installed",
    "kit: at bench",
    "kit: at_place",
    "ada: at bench",
    "light: up",
]


@pytest.mark.parametrize("verb", ["expect", "verify"])
@pytest.mark.parametrize("states", HOLDS)
def test_what_is_so(verb: str, states: str) -> None:
    assert rules(run(f"[[{{{verb}: {{{states}}}}}]]")) == set()


WRONG = [
    ("P1: bare", "P1 is mated J1"),
    ("P1: mated JN", "P1 is mated J1"),
    ("P1: parked", "P1 is mated J1"),
    ("P1: loose", "P1 is routed bench"),
    ("N1: packed sack", "N1 is packed kit"),
    ("C3: tethered", "C3 is fitted J3"),
    ("COV: part_fastened 2", "COV is fastened"),
    ("SW1: 'off'", "SW1 is on"),
    ("BOX: absent", "BOX is installed"),
    ("ada: at hatch", "ada is at bench"),
    ("kit: at hatch", "kit is at_place bench"),
    ("light: down", "light is up"),
    ("light: unproven", "light is up"),
]


@pytest.mark.parametrize("verb", ["expect", "verify"])
@pytest.mark.parametrize(("states", "found"), WRONG)
def test_what_is_not_so(verb: str, states: str, found: str) -> None:
    (finding,) = having(run(f"[[{{{verb}: {{{states}}}}}]]"), "not-as-expected")
    assert finding.found == found
    name, words = states.split(": ")
    assert finding.expected == words.strip("'")
    assert finding.items == (name,)
    assert finding.address.path == ("steps", 0, "do", 0, verb, name)
    assert finding.way_out


def test_each_of_several_is_judged() -> None:
    result = run("[[{expect: {P1: bare, J3: capped, SW1: 'off'}}]]")
    assert [f.items for f in having(result, "not-as-expected")] == [("P1",), ("SW1",)]


def test_counted_fasteners() -> None:
    assert rules(run("[[{release: {COV: 2}}, {expect: {COV: part_fastened 2}}]]")) == set()
    assert having(
        run("[[{release: {COV: 2}}, {expect: {COV: part_fastened 3}}]]"), "not-as-expected"
    )


def test_expecting_changes_nothing_and_goes_on() -> None:
    result = run("[[{expect: {P1: bare}}, {inspect: P1}]]", keep_going=False)
    assert not result.trace.stopped
    assert result.trace.start == result.trace.end


@pytest.mark.parametrize(
    ("states", "after"),
    [("up", "[]"), ("up unproven", (
        "[{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}]"
    )),
     ("unproven", "[{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}]"),
     ("down", "[{switch_off: SW1}]"), ("retired", "[{retire: light}]")],
)  # fmt: skip
def test_how_services_stand(states: str, after: str) -> None:
    steps = f"[{{loses: light, do: {after}}}, [{{expect: {{light: {states}}}}}]]"
    assert rules(run(steps, base=LAMP)) == set()


@pytest.mark.parametrize("who", ["gus", "ivy"])
def test_ground_cannot_verify_what_is_no_switch_and_no_service(who: str) -> None:
    """DEVELOPERS.md: ground reaches switches, services, GO calls and expectations only."""
    assert having(run(f"[{{by: {who}, do: [{{verify: {{P1: mated}}}}]}}]"), "refused")


def test_a_worker_elsewhere_cannot_verify_a_half() -> None:
    assert having(run("[[{walk: hatch}, {verify: {P1: mated}}]]"), "refused")


# --- ids and states that are not there -----------------------------------------------------


@pytest.mark.parametrize(
    ("action", "words", "near"),
    [
        ("mate: {P11: J1}", "half P11", "P1"),
        ("mate: {P1: J11}", "half J11", "J1"),
        ("demate: C3", "C3 is a cap, not a half", ""),
        ("fit_cap: {C33: J3}", "cap C33", "C3"),
        ("take: W22", "W22", "W2"),
        ("pack: {W2: kat}", "bag kat", "kit"),
        ("hand_over: {W2: bab}", "person bab", "bob"),
        ("release: {KOV: 2}", "cover KOV", "COV"),
        ("switch_off: light", "switch light", ""),
        ("route: {W1.main: wai}", "path wai", "way"),
        ("tie: {W1.mian: t1}", "segment W1.mian", "W1.main"),
        ("tie: {W1.main: t9}", "tie point t9", "t"),
        ("install: BOXX", "unit or panel BOXX", "BOX"),
        ("walk: hetch", "hetch", "hatch"),
        ("inspect: J11", "J11", "J1"),
        ("verify: lihgt", "service lihgt", "light"),
        ("retire: lihgt", "service lihgt", "light"),
        ("expect: {P11: mated}", "item or service P11", "P1"),
        ("found: {SW11: tripped}, reason: x", "SW11", "SW1"),
        ("stow: {P1: kat}", "place or bag kat", "kit"),
    ],
)
def test_an_id_the_baseline_does_not_have(action: str, words: str, near: str) -> None:
    result = run(f"[[{{{action}}}]]")
    assert result.trace.unusable
    (finding,) = having(result, "unknown-id")
    assert words in finding.found
    assert near in finding.way_out
    assert finding.address.path[:5] == ("steps", 0, "do", 0, action.partition(":")[0])


@pytest.mark.parametrize("partner", ["P1: mated J99", "N1: packed kat", "ada: at hetch"])
def test_nor_one_as_the_partner_in_an_expectation(partner: str) -> None:
    """Else a slip of the pen reads as a fault of the work."""
    result = run(f"[[{{expect: {{{partner}}}}}]]")
    assert having(result, "unknown-id")


@pytest.mark.parametrize(
    ("states", "legal"),
    [
        ("SW1: open", "blocked"),
        ("P1: lit", "pulled_aside"),
        ("COV: shut", "part_fastened"),
        ("light: bright", "reduced"),
        ("W1: packed", "states"),
        ("bench: at", "states"),
    ],
)
def test_a_state_it_cannot_have(states: str, legal: str) -> None:
    (finding,) = having(run(f"[[{{expect: {{{states}}}}}]]"), "unknown-state")
    assert legal in finding.expected


@pytest.mark.parametrize("key", ["establishes: [lihgt]", "planned_outages: {lihgt: why}"])
def test_services_the_procedure_names(key: str) -> None:
    result = run(f"{{steps: [[{{wait: 1}}]], {key}}}")
    (finding,) = having(result, "unknown-id")
    assert "light" in finding.way_out
    assert finding.address.path[0] == key.partition(":")[0]


def test_services_a_step_names() -> None:
    (finding,) = having(run("[{loses: [light, lihgt], do: [{wait: 1}]}]"), "unknown-id")
    assert finding.address.path == ("steps", 0, "loses", 1)


def test_a_service_that_is_down_for_want_of_another_says_of_which() -> None:
    other = (
        "{places: {bench: {units: {S2: {kind: source, volts: 28, switches: SW2}, GLOW: load}, "
        "switches: {SW2: }, halves: {J3: p2 socket S2.hi S2.ret, J4: p2 pin GLOW.hi GLOW.ret}}}, "
        "harnesses: {W2: [N1 p2 pin, N2 p2 socket]}, "
        "now: {on: [SW1, SW2], mated: {P1: J1, P2: J2, N1: J3, N2: J4}}, "
        "services: {glow: {kind: power, load: GLOW, feeds: S2, needs: light}}}"
    )
    result = run("[{loses: [light, glow], do: [{switch_off: SW1}, {verify: glow}]}]", other, LAMP)
    (finding,) = having(result, "verify-failed")
    assert finding.difference == "it needs light, which is down"
