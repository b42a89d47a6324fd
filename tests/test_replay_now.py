"""What a baseline's ``now`` says: usual states, contradictions, ids that are not there."""

from __future__ import annotations

import pytest
from small import BENCH, LAMP, baseline, end, faults, run, same_again, so, stands

from cablewalk.replay.snapshot import now_of
from cablewalk.timeline.account import Account, account
from cablewalk.walk.run import ready


def still(more: str = "{}", base: str = BENCH) -> Account:
    return account(baseline(base, more))


USUAL = {
    "SW1": "on",
    "J3": "capped C3",  # bare by default, so its cap is on it
    "JN": "bare",
    "C3": "fitted J3",
    "CN": "fitted N1",
    "COV": "fastened",
    "BOX": "installed",
    "PAN": "installed",
    "P1": "routed bench",  # where its half is mated
    "N1": "packed kit",
    "kit": "at bench",
    "ada": "at bench",
}


@pytest.mark.parametrize("name", USUAL)
def test_usual_states(name: str) -> None:
    assert so(still(), name, USUAL[name])


def test_a_switch_nobody_mentions_is_unknown_and_that_is_said() -> None:
    found = faults(more="{now: {off: []}}")
    assert "SW2" in found["switch-unknown"]
    assert stands(still("{now: {off: []}}"), "SW2") == "unknown"


def test_the_cap_of_a_bare_half_hangs_on_its_tether() -> None:
    assert so(still("{now: {bare: [J3]}}"), "C3", "tethered J3")


def test_the_cap_of_a_mated_half_hangs_on_its_tether() -> None:
    more = "{caps: {C1: J1}}"
    assert so(still(more), "C1", "tethered J1")


def test_a_leg_mated_with_a_free_half_is_where_that_half_is() -> None:
    """documents/now.py: a leg with a mated half is routed where that half is."""
    more = "{now: {mated: {P2: '~', N1: P2}, packed: {W2: '~'}, routed: {P2: hatch, N2: hatch}}}"
    assert stands(still(more), "N1", "routed") == "routed hatch"


def test_a_leg_nobody_mentions_is_a_warning() -> None:
    assert "N2" in faults(more="{now: {packed: {W2: '~', N1: kit}}}")["leg-unplaced"]


def test_one_place_is_where_everything_is() -> None:
    result = still(base=LAMP)
    assert so(result, "ada", "at bench")
    assert so(result, "P1", "routed bench")


TWICE = [
    "{on: [SW1], off: [SW1, SW2]}",
    "{on: [SW1, SW1]}",
    "{mated: {P1: J1, P2: J2, N2: J1}}",
    "{mated: {P1: J1, P2: J2}, unverified: {P1: JN}}",
    "{mated: {P1: J1, P2: J2}, bare: [P1]}",
    "{fitted: {C3: J3, CL: J3}}",
    "{fitted: {CL: JN}, packed: {W2: kit, CL: kit}}",
    "{held: {CL: ada}, packed: {W2: kit, CL: kit}}",
    "{loose: {N1: bench}, packed: {W2: kit}}",
    "{routed: {P1: bench}, restrained: {P1: bench}}",
    "{released: [COV], open: [COV]}",
    "{removed: {BOX: hatch}, absent: [BOX]}",
    "{part_fastened: {COV: 1}, released: [COV]}",
    "{lost: [C3], fitted: {C3: J3}}",
    "{mated: {P1: J1, P2: J2, N1: JN}}",  # W2 is packed, whole
]


@pytest.mark.parametrize("now", TWICE)
def test_in_two_places(now: str) -> None:
    found = faults(more=f"{{now: {now}}}")
    assert "in-two-places" in found
    assert still(f"{{now: {now}}}").trace.unusable


@pytest.mark.parametrize(
    ("now", "rule", "words"),
    [
        ("{mated: {P1: JQ}}", "cannot-mate", ["P1", "JQ", "family"]),
        ("{mated: {P1: P1}}", "bad-value", ["P1 cannot mate with itself"]),
        ("{mated: {N2: J3, N1: '~'}}", "cannot-mate", ["both have socket contacts"]),
        ("{fitted: {CL: JQ}, packed: {CL: '~'}}", "cannot-fit", ["CL", "JQ"]),
        ("{packed: {CL: '~'}}", "cap-nowhere", ["CL", "fitted, tethered, held"]),
        ("{people: {ada: '~'}}", "person-nowhere", ["ada"]),
        ("{people: {arm: '~'}}", "person-nowhere", ["arm"]),
        ("{people: {ada: bob}}", "bad-value", ["bob is no place and no vehicle"]),
        ("{bags: {kit: '~'}}", "bag-nowhere", ["kit"]),
        ("{part_fastened: {COV: 0}}", "bad-value", ["0 of 4"]),
        ("{part_fastened: {COV: 4}}", "bad-value", ["4 of 4", "1 to 3"]),
        ("{unproven: {light: b}}", "unknown-id", ["light has no string b"]),
    ],
)
def test_what_cannot_be(now: str, rule: str, words: list[str]) -> None:
    said = faults(more=f"{{now: {now}}}")[rule]
    assert not [word for word in words if word not in said], said


def test_people_who_are_no_hands_may_be_nowhere() -> None:
    assert "person-nowhere" not in faults()
    assert stands(still(), "gus") == "at no place"


@pytest.mark.parametrize(
    ("now", "wrong", "near"),
    [
        ("{on: [SW11]}", "switch SW11", "SW1"),
        ("{mated: {P1: J11}}", "half J11", "J1"),
        ("{packed: {W22: kit}}", "W22", "W2"),
        ("{packed: {W2: kat}}", "bag kat", "kit"),
        ("{loose: {P1: bensh}}", "place bensh", "bench"),
        ("{in_hand: {P1: adda}}", "person adda", "ada"),
        ("{fitted: {C33: J3}}", "cap C33", "C3"),
        ("{lost: [C33]}", "cap C33", "C3"),
        ("{open: [KOV]}", "cover KOV", "COV"),
        ("{absent: [BOXX]}", "BOXX", "BOX"),
        ("{bags: {kit: bensh}}", "bensh", "bench"),
        ("{people: {adda: bench}}", "person adda", "ada"),
        ("{along: {W1.main: wai}}", "path wai", "way"),
        ("{along: {W1.mein: way}}", "segment W1.mein", "W1.main"),
        ("{ties: {W1.main: t9}}", "tie point t9", "t"),
        ("{cycles: {J11: 4}}", "half J11", "J1"),
        ("{dark_min: {lights: 4}}", "service lights", "light"),
        ("{used_min: {lights: 4 5}}", "service lights", "light"),
        ("{demated_min: {lights: 4}}", "service lights", "light"),
        ("{up_min: {lights: 4}}", "service lights", "light"),
        ("{retired: [lihgt]}", "service lihgt", "light"),
        ("{unproven: {lihgt: only}}", "service lihgt", "light"),
        ("{bare: [C3]}", "half C3", "J3"),
        ("{tethered: {C33: J3}}", "C33", "C3"),
    ],
)
def test_ids_that_are_not_there(now: str, wrong: str, near: str) -> None:
    found = [
        f for f in ready(baseline(BENCH, f"{{now: {now}}}")).findings if f.rule == "unknown-id"
    ]
    assert found
    assert wrong in found[0].found
    assert near in found[0].way_out
    assert found[0].address.path[0] == "now"


def test_minutes_used_are_one_number_or_one_for_each_clock() -> None:
    clocks = "[{allowed_min: 60, source: s}, {allowed_min: 90, source: t}]"
    of = f"services: {{light: {{clocks: {clocks}}}}}"
    for used in ("7", "[7]", "7 8", "[7, 8]"):
        assert not ready(
            baseline(BENCH, f"{{{of}, now: {{used_min: {{light: {used}}}}}}}")
        ).findings
    (found,) = ready(baseline(BENCH, f"{{{of}, now: {{used_min: {{light: 7 8 9}}}}}}")).findings
    assert (found.rule, found.address.path) == ("bad-value", ("now", "used_min", "light"))
    assert found.found == "light has 3 numbers under used_min, for 2 clocks"


RICH = """
{on: [SW1], off: [], blocked: [SW2], mated: {P2: "~"}, unverified: {P2: J2}, part_engaged: {N1: JN},
 tethered: {C3: hatch}, held: {CN: bob}, fitted: {CL: J3}, lost: [CU],
 packed: {W2: "~", CL: "~"}, loose: {N1: bench}, in_hand: {N2: ada},
 pulled_aside: {P1: bench}, restrained: {P2: hatch}, part_fastened: {COV: 3},
 absent: [PAN], removed: {BOX: far}, bags: {kit: ada, sack: arm},
 people: {ada: arm, bob: hatch, arm: far},
 along: {W1.main: way off}, ties: {W1.main: t1 t3}, cycles: {P1: 4, J1: 9},
 unproven: {light: only}}
"""


@pytest.mark.parametrize(
    "now",
    [
        "{}",
        RICH,
        RICH.replace("part_fastened: {COV: 3}", "removed: {COV: bob}").replace(
            "removed: {BOX: far}", "released: []"
        ),
    ],
)
def test_written_out_and_read_back(now: str) -> None:
    result = still(f"{{now: {now}}}")
    assert not result.trace.unusable, [f.sentence() for f in result.findings]
    old, again = same_again(result)
    assert old == again


def test_written_out_after_work() -> None:
    steps = """
    - {by: ada, loses: light, do: [{switch_off: SW1}, {demate: P1}, {demate: P2},
       {pick_up: P1}, {pick_up: P2}, {carry: kit}]}
    - {by: bob, do: [{take: N1}, {remove_cap: CN}, {engage: {N1: JN}}, {let_go: N1},
       {release: {COV: 2}}, {remove: BOX}, {walk: arm}]}
    - {by: arm, after: s2, do: [{walk: far}]}
    """
    old, again = same_again(run(steps))
    assert old == again


def test_a_configuration_with_work_going_on_is_not_written_out() -> None:
    stopped = run(
        "[{by: bob, do: [{inspect: P2, minutes: 9}]}, [{wait: 1}, {lock: P1}]]", keep_going=False
    )
    with pytest.raises(ValueError, match="at work"):
        now_of(end(stopped))
