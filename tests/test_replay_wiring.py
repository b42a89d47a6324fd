"""Faults of the hardware and the services, told when the baseline is compiled."""

from __future__ import annotations

import pytest
from small import BENCH, LAMP, baseline, faults

from cablewalk.walk.run import ready


def said(rule: str, more: str, base: str = LAMP) -> str:
    found = faults(base, more)
    assert rule in found, found
    return found[rule]


@pytest.mark.parametrize(
    ("rule", "more", "words"),
    [
        # what a half is wired to
        ("unknown-terminal", (
            "{places: {bench: {halves: {JX: p2 pin SRC.up}}}}"
        ), ["SRC", "up", "hi"]),
        ("unknown-id", "{places: {bench: {halves: {JX: p2 pin SRV.hi}}}}", ["SRV", "SRC"]),
        ("too-many-wires", (
            "{places: {bench: {halves: {JX: p2 pin SRC.hi SRC.ret SRC.hi}}}}"
        ), ["JX", "3", "2"]),
        ("unknown-contact", (
            "{places: {bench: {halves: {JX: {interface: p2, gender: pin, wired: {9: "
            "SRC.hi}}}}}}"
        ), ["9"]),
        ("parking-half-wired", (
            "{places: {bench: {halves: {JX: {interface: p2, gender: pin, parking: yes, "
            "wired: [SRC.hi]}}}}}"
        ), ["JX"]),
        ("unknown-id", (
            "{places: {bench: {halves: {JX: {interface: p2, gender: pin, through: JY}}}}}"
        ), ["JY"]),
        ("unknown-id", "{places: {bench: {halves: {JX: p3 pin}}}}", ["interface", "p3", "p2"]),
        # runs
        ("uneven-run", (
            "{harnesses: {W1: ~, WX: {legs: {A1: p2 pin, A2: p2 pin}, runs: [A1.1-2 A2.1]}}}"
        ), ["A1.1-2"]),
        ("foreign-run", (
            "{harnesses: {WX: {legs: {A1: p2 pin, A2: p2 pin}, runs: [A1.1 P1.1]}}}"
        ), ["P1.1", "WX"]),
        ("unknown-contact", (
            "{harnesses: {WX: {legs: {A1: p2 pin, A2: p2 pin}, runs: [A1.1 A2.7]}}}"
        ), ["7"]),
        ("unknown-id", (
            "{harnesses: {WX: {legs: {A1: p2 pin, A2: {hard_wired: SRK}}, runs: [A1.1 "
            "SRK.hi]}}}"
        ), ["SRK", "SRC"]),
        # caps, covers, switches
        ("two-caps", "{caps: {CA: J1, CB: J1}}", ["J1", "CA", "fits"]),
        ("unknown-id", "{caps: {CA: J11}}", ["J11", "J1"]),
        ("unknown-id", "{places: {bench: {covers: {CV: {fasteners: 2, over: J11}}}}}", ["J11"]),
        ("unknown-id", (
            "{places: {bench: {covers: {CV: {fasteners: 2, over_segments: W1.mian}}}}}"
        ), ["W1.mian", "W1.main"]),
        ("unknown-id", "{places: {bench: {units: {SRC: {switches: SW9}}}}}", ["SW9"]),
        ("unknown-id", (
            "{places: {bench: {switches: {SW1: {commanded_through: lights}}}}}"
        ), ["lights", "light"]),
        ("unknown-id", "{places: {bench: {zones: {Z: {services: lights}}}}}", ["lights", "light"]),
        ("unknown-id", "{paths: {w: {between: bench moon, length_m: 1}}}", ["moon"]),
        # ids
        ("duplicate-id", "{places: {bench: {switches: {J1: }}}}", ["J1", "switch", "half"]),
        ("duplicate-id", "{people: {W1: outside}}", ["W1"]),
        ("duplicate-id", "{services: {SRC: {kind: x, lines: SRC.hi to LAMP.hi}}}", ["SRC"]),
        # services
        ("unknown-id", "{services: {light: {feeds: SRV}}}", ["feed SRV", "SRC"]),
        ("bad-value", "{services: {light: {load: LAMP.hi}}}", ["LAMP.hi"]),
        ("unknown-terminal", (
            "{services: {light: {load: LAMP.hi LAMP.low}}}"
        ), ["low", "LAMP.hi, LAMP.ret"]),
        ("unknown-terminal", (
            "{services: {x: {kind: data, lines: SRC.hi to LAMP.x}}}"
        ), ["LAMP", "x"]),
        ("unknown-id", "{services: {x: {kind: data, lines: SRC.hi to LIMP.hi}}}", ["LIMP", "LAMP"]),
        ("unknown-contact", "{services: {light: {through: P1.7}}}", ["P1", "7"]),
        ("unknown-id", "{services: {light: {through: PX}}}", ["PX"]),
        ("unknown-id", "{services: {light: {needs: [lights]}}}", ["lights"]),
        ("needs-cycle", "{services: {light: {needs: [light]}}}", ["light"]),
        ("needs-cycle", (
            "{services: {light: {needs: [b]}, b: {kind: x, lines: SRC.hi to LAMP.hi, needs: "
            "[c]}, c: {kind: x, lines: SRC.ret to LAMP.ret, needs: [light]}}}"
        ), ["need each other"]),
        ("unknown-id", "{services: {light: {arrives_with: LIMP}}}", ["LIMP", "LAMP"]),
        ("unknown-id", (
            "{services: {light: {strings: ~, feeds: SRC, cold: yes, need: 1, selected_by: "
            "SW9}}}"
        ), ["SW9"]),
        ("strings-not-told-apart", (
            "{services: {light: {load: ~, feeds: ~, strings: {a: {load: LAMP, feeds: SRC}, "
            "b: {load: LAMP, feeds: SRC}}}}}"
        ), ["light.a", "light.b", "through"]),
    ],
)  # fmt: skip
def test_fault(rule: str, more: str, words: list[str]) -> None:
    text = said(rule, more)
    assert not [word for word in words if word not in text], text


def test_nothing_is_wrong_with_the_small_ones() -> None:
    assert faults(LAMP) == {}
    assert faults(BENCH) == {}


def test_strings_told_apart_by_their_paths_or_feeds() -> None:
    both = "{load: LAMP, feeds: SRC, through: P1}, b: {load: LAMP, feeds: SRC, through: P2}"
    more = "{{services: {{light: {{load: ~, feeds: ~, strings: {{a: {}}}}}}}}}"
    assert "strings-not-told-apart" not in faults(LAMP, more.format(both))
    one = "{load: LAMP, feeds: SRC, through: P1}, b: {load: LAMP, feeds: SRC}"
    assert "strings-not-told-apart" in faults(LAMP, more.format(one))
    one = "{load: LAMP, feeds: SRC}, b: {load: LAMP, feeds: SRC, through: P1}"
    assert "strings-not-told-apart" in faults(LAMP, more.format(one))


def test_parallel_conductors_counted() -> None:
    more = "{services: {light: {parallel: {hi: P1.1, need: 2}}}}"
    assert "need is 2, but hi names 1" in said("bad-value", more)


def test_all_faults_are_gathered_with_their_addresses() -> None:
    more = """
    places: {bench: {halves: {JX: p2 pin SRV.hi}}}
    caps: {CA: J11}
    services: {light: {feeds: SRV}}
    """
    found = [f.address.path for f in ready(baseline(LAMP, more)).findings]
    assert found == [
        ("caps", "CA", "on"),
        ("places", "bench", "halves", "JX", "wired", 0),
        ("services", "light", "feeds", 0),
    ]
    assert all(f.address.document == 0 for f in ready(baseline(LAMP, more)).findings)


def test_ranges_and_stars_make_several_runs() -> None:
    """P1.* leaves the shell out; a straight-through harness joins the shells too."""
    straight = ready(baseline(LAMP)).wiring
    p1, p2 = straight.by_id["P1"], straight.by_id["P2"]
    assert straight.joints[p1] == straight.joints[p2]
    for run in ("P1.* P2.*", "P1.1-2 P2.1-2"):
        more = f"{{harnesses: {{W1: {{legs: {{P1: p2 pin, P2: p2 socket}}, runs: ['{run}']}}}}}}"
        wiring = ready(baseline(LAMP, more)).wiring
        one, two = wiring.joints[wiring.by_id["P1"]], wiring.joints[wiring.by_id["P2"]]
        assert one[:2] == two[:2]
        assert one[2] != two[2]


def test_crossed_runs() -> None:
    more = "{harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, runs: [P1.1-2 P2.2 , P1.2 P2.1]}}}"
    assert "uneven-run" in faults(LAMP, more)
    more = more.replace("P1.1-2 P2.2", "P1.1 P2.2")
    wiring = ready(baseline(LAMP, more)).wiring
    one, two = wiring.joints[wiring.by_id["P1"]], wiring.joints[wiring.by_id["P2"]]
    assert (one[0], one[1]) == (two[1], two[0])


def test_a_splice_joins_three() -> None:
    more = (
        "{harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket, P3: p2 pin}, runs: [P1.1 P2.1 P3.2]}}}"
    )
    wiring = ready(baseline(LAMP, more)).wiring
    joints = wiring.joints
    p1, p2, p3 = (joints[wiring.by_id[name]] for name in ("P1", "P2", "P3"))
    assert p1[0] == p2[0] == p3[1]
    assert len({*p1, *p2, *p3}) == 7


@pytest.mark.parametrize(("bonded", "joined"), [("true", True), ("false", False)])
def test_bonded_shells_are_structure(bonded: str, joined: bool) -> None:
    more = (
        f"{{places: {{bench: {{panels: {{PN: {{bonded: '{bonded}', halves: {{JX: p2 pin}}}}}}}}}}}}"
    )
    wiring = ready(baseline(LAMP, more)).wiring
    assert (wiring.joints[wiring.by_id["JX"]][2] == 0) is joined
    assert wiring.joints[wiring.by_id["P1"]][2] != 0
