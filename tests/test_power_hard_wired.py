"""Harnesses fixed to units: their wire is worked out, judged and counted as any other's.

Wire of gauge 20 has 0.05 ohm a metre throughout. A leg `{hard_wired: UNIT}` ends at the unit's
terminals, so nothing but wire lies between two such units.
"""

from __future__ import annotations

import json
from math import pi

import pytest
from small import baseline, procedure, text_of
from test_power_grid import both, grid_of
from test_power_held import row, told

from cablewalk.continuity.verdict import Standing
from cablewalk.findings import Severity
from cablewalk.power.bundles import Bundles
from cablewalk.power.grid import Grid
from cablewalk.timeline.account import account

BOTH_ENDS = """
interfaces: {p2: 2}
places:
  deck:
    switches: [SW1]
    units:
      SRC: {kind: source, terminals: [hi, ret], volts: 28, switches: SW1}
      LA: {kind: load, terminals: [hi, ret], draws: {m: {ohm: 13, source: x}}}
harnesses:
  W: {gauge_awg: 20, length_m: 10, legs: {WE: {hard_wired: SRC}, WA: {hard_wired: LA}},
      runs: [SRC.hi LA.hi, SRC.ret LA.ret]}
people: {ada: outside, desk: ground}
services: {a: {kind: power, load: LA, feeds: SRC}}
now: {on: [SW1]}
electrical:
  wire: {conductor_c: 20, ohm_per_m: {"20": 0.05}, source: x}
  derating: {profile: mil-std-975m, insulation_c: 200, source: x}
"""
OFF_ON = "[[switch_off: SW1], [switch_on: SW1]]"


def volts(grid: Grid) -> dict[str, float]:
    """Return load to its volts."""
    names = grid.copper.loads
    return {names[n].name: r.volts for c in grid.circuits.values() for n, r in c.loads.items()}


def amps(grid: Grid) -> dict[tuple[str, str], float]:
    """Return wire and conductor to its amperes."""
    return {
        (p.name, p.run): abs(a)
        for c in grid.circuits.values()
        for p, a in c.pieces.items()
        if p.is_wire
    }


def test_wire_fixed_at_both_ends_has_its_resistance_and_is_judged() -> None:
    """2 x 0.5 ohm and 13: 28/14 = 2 A, 26 V at the load; 6.5 x 27/28 A for two in a bundle."""
    found = told(baseline(BOTH_ENDS), OFF_ON)
    assert row(found, 0, "volts").value == pytest.approx(26)
    assert row(found, 0, "drop").value == pytest.approx(2)
    wire = row(found, 0, "wire")
    assert wire.on == "W.main"
    assert wire.value == pytest.approx(2)
    assert wire.limit == pytest.approx(6.5 * 27 / 28)
    assert wire.conductor in ("SRC.hi LA.hi", "SRC.ret LA.ret")
    assert not wire.missing


def test_400_m_of_gauge_30_pass_no_60_w() -> None:
    """Diameter 0.127 x 92^(6/39) = 0.2546 mm, 0.3386 ohm/m: 135.5 ohm pass 28²/(4 x 135.5) W."""
    radius_m = 0.127e-3 * 92 ** (6 / 39) / 2
    ohm = 400 * 1.7241e-8 / (pi * radius_m**2)
    assert ohm == pytest.approx(135.5, abs=0.1)
    most = 28**2 / (4 * ohm)
    assert most == pytest.approx(1.45, abs=0.01)
    thin = "harnesses: {W: {gauge_awg: 30, length_m: 200}}"
    assert "{ohm: 13," in BOTH_ENDS
    for watts, solved in ((60, False), (most * 1.001, False), (most * 0.999, True)):
        draw = (
            f"places: {{deck: {{units: {{LA: {{draws: {{m: {{ohm: ~, power_w: {watts}}}}}}}}}}}}}"
        )
        (circuit,) = grid_of(both(thin, draw), BOTH_ENDS).circuits.values()
        assert circuit.solved == solved, watts


def test_what_is_not_given_of_wire_fixed_at_both_ends_is_named() -> None:
    bare = BOTH_ENDS.replace("gauge_awg: 20, length_m: 10, ", "")
    (circuit,) = grid_of("{}", bare).circuits.values()
    assert circuit.missing == {"gauge_awg and length_m of W.main"}
    assert circuit.loads[0].volts == 28
    volts_row = row(told(baseline(bare), OFF_ON), 0, "volts")
    assert "counted as no resistance: gauge_awg and length_m of W.main" in volts_row.missing


THREE_UNITS = """
places:
  deck:
    units:
      LB: {kind: load, terminals: [hi, ret], draws: {m: {ohm: 27, source: x}}}
harnesses:
  W:
    length_m: ~
    legs: {WE: {hard_wired: SRC}, WA: {hard_wired: LA}, WB: {hard_wired: LB}}
    runs: RUNS
    segments:
      trunk: {between: WE x, length_m: 10}
      a: {between: x WA, length_m: 10}
      b: {between: x WB, length_m: 10}
services: {b: {kind: power, load: LB, feeds: SRC}}
"""


def test_a_splice_inside_a_hard_wired_tree() -> None:
    """One trunk for both: 0.5 ohm each way, then 0.5 + 13 + 0.5 = 14 and 0.5 + 27 + 0.5 = 28 ohm
    beside each other, 28/3 ohm: 28 V over 1 + 28/3 = 31/3 ohm: 84/31 A; 784/31 V at the breakout.
    """
    more = THREE_UNITS.replace("RUNS", "[SRC.hi LA.hi LB.hi, SRC.ret LA.ret LB.ret]")
    grid = grid_of(more, BOTH_ENDS)
    split = 784 / 31
    assert volts(grid) == {
        "LA.m": pytest.approx(split * 13 / 14),
        "LB.m": pytest.approx(split * 27 / 28),
    }
    high = "SRC.hi LA.hi LB.hi"
    assert amps(grid)[("W.trunk", high)] == pytest.approx(84 / 31)
    assert amps(grid)[("W.a", high)] == pytest.approx(split / 14)
    assert amps(grid)[("W.b", high)] == pytest.approx(split / 28)
    bundles = Bundles(grid.config, grid.copper)
    (circuit,) = grid.circuits.values()
    assert {bundles.of(p).wires for p in circuit.pieces} == {2}


def test_two_runs_from_one_terminal_are_two_conductors() -> None:
    """Each has a trunk wire of its own: 28 V over 2 + 13 and 2 + 27 ohm; four wires in the trunk,
    two in each branch."""
    runs = "[SRC.hi LA.hi, SRC.hi LB.hi, SRC.ret LA.ret, SRC.ret LB.ret]"
    grid = grid_of(THREE_UNITS.replace("RUNS", runs), BOTH_ENDS)
    assert volts(grid) == {
        "LA.m": pytest.approx(28 * 13 / 15),
        "LB.m": pytest.approx(28 * 27 / 29),
    }
    bundles = Bundles(grid.config, grid.copper)
    (circuit,) = grid.circuits.values()
    wires = {p.name: bundles.of(p).wires for p in circuit.pieces}
    assert wires == {"W.trunk": 4, "W.a": 2, "W.b": 2}


CHAIN = """
places:
  deck:
    units:
      BOX: {kind: load, terminals: [hi, ret]}
      LB: {kind: load, terminals: [hi, ret], draws: {m: {ohm: 27, source: x}}}
    halves: {JX: p2 socket BOX.hi BOX.ret, JB: p2 pin LB.hi LB.ret}
paths: {way: {between: deck top, length_m: 10, tie_points: [t1]}}
harnesses:
  W: {legs: {WE: {hard_wired: SRC}, WA: ~, WX: {hard_wired: BOX}},
      runs: [SRC.hi BOX.hi, SRC.ret BOX.ret]}
  V: {gauge_awg: 20, length_m: 10, legs: {VX: {hard_wired: BOX}, VA: {hard_wired: LA}},
      runs: [BOX.hi LA.hi, BOX.ret LA.ret]}
  U: {gauge_awg: 20, length_m: 10, legs: {UX: p2 pin, UB: p2 socket}}
services: {b: {kind: power, load: LB, feeds: SRC}}
now: {mated: {UX: JX, UB: JB}, ties: {W.main: t1, V.main: t1}, people: {ada: deck}}
"""


def chain() -> Grid:
    more = CHAIN.replace("paths:", "  top: {}\npaths:", 1)
    return grid_of(more, BOTH_ENDS)


def test_a_box_between_two_fixed_cables_is_a_node_of_its_own() -> None:
    """W 1 ohm both ways, then V 1 + 13 = 14 ohm beside the mated U 1 + 27 = 28: as one trunk.

    The contacts of U have no size: no resistance.
    """
    grid = chain()
    split = 784 / 31
    assert volts(grid) == {
        "LA.m": pytest.approx(split * 13 / 14),
        "LB.m": pytest.approx(split * 27 / 28),
    }
    assert amps(grid)[("W.main", "SRC.hi BOX.hi")] == pytest.approx(84 / 31)
    assert amps(grid)[("V.main", "BOX.hi LA.hi")] == pytest.approx(split / 14)
    assert amps(grid)[("U.main", "UX.1 UB.1")] == pytest.approx(split / 28)


def test_fixed_cables_tied_together_are_one_bundle() -> None:
    grid = chain()
    bundles = Bundles(grid.config, grid.copper)
    (circuit,) = grid.circuits.values()
    found = {p.name: bundles.of(p) for p in circuit.pieces if p.is_wire}
    assert {name: (b.wires, b.tied) for name, b in found.items()} == {
        "W.main": (4, "V, W tied at t1"),
        "V.main": (4, "V, W tied at t1"),
        "U.main": (2, ""),
    }


BESIDE = """
places: {deck: {halves: {JS: p2 socket SRC.hi SRC.ret, JA: p2 pin LA.hi LA.ret}}}
harnesses: {V: {gauge_awg: 20, length_m: 30, legs: {VS: p2 pin, VA: p2 socket}}}
now: {mated: {VS: JS, VA: JA}}
electrical: {derating: {allowed_a: {20: 1}}}
"""


def test_a_mated_cable_beside_a_fixed_one_takes_its_share() -> None:
    """W 2 x 0.5 ohm beside V 2 x 1.5: 3/4 ohm, and 13: 28/13.75 A, three quarters of it by W."""
    grid = grid_of(BESIDE, BOTH_ENDS)
    whole = 28 / 13.75
    assert amps(grid)[("W.main", "SRC.hi LA.hi")] == pytest.approx(whole * 3 / 4)
    assert amps(grid)[("V.main", "VS.1 VA.1")] == pytest.approx(whole / 4)
    found = told(baseline(BOTH_ENDS, BESIDE), "[[inspect: JS]]")
    assert row(found, 0, "wire").value == pytest.approx(whole * 3 / 4)
    (over,) = [f for f in found.findings if f.rule == "wire-overloaded"]
    assert "W.main" in over.found


# -- structure -----------------------------------------------------------------------------

GROUNDED = BOTH_ENDS.replace(
    "SRC: {kind: source, terminals: [hi, ret], volts: 28, switches: SW1}",
    "SRC: {kind: source, terminals: [hi, ret], feeds: {F: {volts: 28, switches: SW1, "
    "grounded: true}}}",
).replace("feeds: SRC", "feeds: F")
MATED = """
places: {deck: {halves: {JA: p2 pin LA.hi LA.ret}}}
harnesses: {W: {legs: {WA: p2 socket}, runs: [SRC.hi WA.1, SRC.ret WA.2]}}
now: {mated: {WA: JA}}
"""


@pytest.mark.parametrize("more", ["{}", MATED])
def test_the_return_of_a_grounded_feed_is_wire_too(more: str) -> None:
    """Its terminal is structure; the cable's return still has 0.5 ohm before it: 28/14 = 2 A."""
    grid = grid_of(more, GROUNDED)
    (circuit,) = grid.circuits.values()
    assert not circuit.faults
    assert volts(grid) == {"LA.m": pytest.approx(26)}
    assert sorted(amps(grid).values()) == pytest.approx([2, 2])
    found = told(baseline(GROUNDED, more), OFF_ON)
    assert row(found, 0, "wire").value == pytest.approx(2)
    assert not [f for f in found.findings if f.severity is Severity.ERROR]


SHARED = """
places:
  deck:
    units:
      SRC: {terminals: [h1, h2, ret], feeds: {F: {hi: h1}, G: {hi: h2, ret: ret, volts: 28,
            switches: SW1, grounded: true}}}
      LB: {kind: load, terminals: [hi, ret], draws: {m: {amps: 1, source: x}}}
    halves: {JA: p2 pin LA.hi LA.ret, JB: p2 pin LB.hi LB.ret}
harnesses:
  W: {length_m: ~, legs: {WA: p2 socket, WB: p2 socket},
      runs: [SRC.h1 WA.1, SRC.h2 WB.1, SRC.ret WA.2 WB.2],
      segments: {trunk: {between: WE x, length_m: 10}, a: {between: x WA, length_m: 10},
                 b: {between: x WB, length_m: 10}}}
services: {b: {kind: power, load: LB, feeds: G}}
now: {mated: {WA: JA, WB: JB}}
"""


def test_two_grounded_feeds_share_one_return_wire() -> None:
    """Trunk's return 0.5 ohm carries both: x = 0.5 (I + 1); I = (28 - x)/(13 + 1.5) for LA, so
    I = 27.5/15 A; LB draws 1 A: 28 - 1 - 0.5 - 0.5 (I + 1) V, the return trunk I + 1 A.
    """
    grid = grid_of(SHARED, GROUNDED)
    assert len(grid.circuits) == 1
    one = 27.5 / 15
    assert volts(grid) == {
        "LA.m": pytest.approx(13 * one),
        "LB.m": pytest.approx(28 - 1.5 - 0.5 * (one + 1)),
    }
    assert amps(grid)[("W.trunk", "SRC.ret WA.2 WB.2")] == pytest.approx(one + 1)
    steps = "[[switch_off: SW1], [demate: WB], [switch_on: SW1]]"
    found = told(baseline(GROUNDED, SHARED), steps)
    (after,) = [m.margin.value for m in found.now if m.margin.kind == "volts"]
    assert after == pytest.approx(28 * 13 / 15), "LB taken off, LA has the trunk alone: 13 + 2"


TO_STRUCTURE = """
places: {deck: {halves: {JG: {interface: p2, gender: pin, wired: [-, G.ret]}},
                units: {G: {kind: source, isolated: [[hi, ret]],
                            feeds: {FG: {volts: 28, switches: SW1, grounded: true}}}}}}
harnesses: {W: {legs: {WG: p2 socket}, length_m: ~, segments: {e: {between: WE x, length_m: 10},
            a: {between: x WA, length_m: 10}, g: {between: x WG, length_m: 10}},
            runs: [SRC.hi WA.1, SRC.ret WA.2 WG.2]}}
now: {loose: {WG: deck}, people: {ada: deck}}
"""


def test_a_return_tied_to_structure_once_more_is_seen_as_it_is_mated() -> None:
    """High 1 ohm, return 0.5 + 0.5: 28/15 A. The breakout grounded by 0.5 ohm too: 28/14.75 A."""
    found = told(baseline(GROUNDED, both(MATED, TO_STRUCTURE)), "[[{mate: {WG: JG}}]]")
    assert row(found, 0, "volts").value == pytest.approx(28 * 13 / 15)
    (after,) = [m.margin.value for m in found.now if m.margin.kind == "volts"]
    assert after == pytest.approx(28 * 13 / 14.75)


# -- continuity ----------------------------------------------------------------------------


def test_a_service_over_wire_fixed_at_both_ends_is_up_and_goes_down() -> None:
    result = account(baseline(BOTH_ENDS), [procedure(OFF_ON)])
    (outage,) = result.outages
    assert (outage.from_s, outage.to_s) == (0, 120)
    grid = grid_of("{}", BOTH_ENDS)
    assert grid.continuity.verdicts[0].standing is Standing.UP


# -- the same with halves for the fixed ends -------------------------------------------------


def plugged(text: str) -> str:
    """Return a baseline whose hard-wired legs end in halves of no resistance, mated to the unit."""
    raw = text_of(text)
    mated = raw["now"].setdefault("mated", {})
    for harness in raw["harnesses"].values():
        runs = [run.split() if isinstance(run, str) else run for run in harness["runs"]]
        for name, leg in harness["legs"].items():
            if not isinstance(leg, dict):
                continue
            unit = leg["hard_wired"]
            ends = dict.fromkeys(e for run in runs for e in run if e.split(".")[0] == unit)
            raw["interfaces"][f"i{name}"] = str(len(ends))
            raw["places"]["deck"].setdefault("halves", {})[f"K{name}"] = " ".join(
                [f"i{name} socket", *ends]
            )
            harness["legs"][name] = f"i{name} pin"
            mated[name] = f"K{name}"
            number = {end: f"{name}.{n}" for n, end in enumerate(ends, start=1)}
            runs = [[number.get(end, end) for end in run] for run in runs]
        harness["runs"] = [" ".join(run) for run in runs]
    return json.dumps(raw)


SPLICED = THREE_UNITS.replace("RUNS", "[SRC.hi LA.hi LB.hi, SRC.ret LA.ret LB.ret]")


@pytest.mark.parametrize("base", [BOTH_ENDS, GROUNDED])
@pytest.mark.parametrize("more", ["{}", SPLICED, MATED])
def test_a_fixed_end_is_as_good_as_a_mated_one_without_resistance(base: str, more: str) -> None:
    text = both(base, more)
    if base == GROUNDED:
        text = text.replace('"feeds": "SRC"', '"feeds": "F"')
    fixed, mated = grid_of("{}", text), grid_of("{}", plugged(text))
    assert volts(fixed)
    assert volts(fixed) == {name: pytest.approx(v) for name, v in volts(mated).items()}
    names, currents = zip(
        *(
            zip(*sorted((n, a) for (n, _), a in amps(g).items()), strict=True)
            for g in (fixed, mated)
        ),
        strict=True,
    )
    assert names[0] == names[1]
    assert currents[0] == pytest.approx(currents[1])
    assert [v.standing for v in fixed.continuity.verdicts] == [
        v.standing for v in mated.continuity.verdicts
    ]
