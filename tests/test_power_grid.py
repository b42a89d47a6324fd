"""Circuits of small hardware: numbers by hand, faults loud and with their path, kept up to date."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from generate import Bench, Driver, benches, runs
from hypothesis import given
from hypothesis import strategies as st
from small import BENCH, LAMP, baseline, merged, run, text_of

from cablewalk.continuity.services import Continuity
from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Severity
from cablewalk.power.bundles import Bundles
from cablewalk.power.copper import Copper
from cablewalk.power.grid import Grid
from cablewalk.power.limits import Limits, Margin
from cablewalk.power.ratings import margins
from cablewalk.timeline.electrical import Loading, loading
from cablewalk.walk.run import ready

WIRED = """
harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 10, gauge_awg: 20}}
electrical:
  wire: {conductor_c: 20, ohm_per_m: {20: 0.03}, source: bench}
  contacts: {"16": {resistance_mohm: 5, rating_a: 5, source: bench}}
  contact_sizes: {p2: "16"}
"""
LAMP_100_W = "draws: {lamp: {power_w: 100, min_volts: 24, source: bench}}"


def grid_of(more: str, base: str = LAMP) -> Grid:
    """Return the grid of a baseline as it stands."""
    document = baseline(base, more)
    ground = ready(document)
    assert not ground.findings.has_errors, [f.sentence() for f in ground.findings]
    continuity = Continuity(ground.config)
    return Grid(ground.config, continuity, Copper(document, ground.wiring))


def both(*texts: str) -> str:
    """Return YAML texts laid over one another, as text again (JSON is YAML)."""
    raw: Any = {}
    for text in texts:
        raw = merged(raw, text_of(text))
    return json.dumps(raw)


def lamp(draw: str = LAMP_100_W) -> str:
    return f"places: {{bench: {{units: {{LAMP: {{kind: load, {draw}}}}}}}}}"


def rules(grid: Grid) -> set[str]:
    return {f.rule for circuit in grid.circuits.values() for f in circuit.faults}


def test_a_lamp_by_hand() -> None:
    """28 V, two conductors of 0.3 + 2 x 0.005 ohm: 0.62 ohm; V² - 28 V + 62 = 0."""
    (circuit,) = grid_of(both(WIRED, lamp())).circuits.values()
    volts = 14 + (196 - 62) ** 0.5
    assert circuit.loads[0].volts == pytest.approx(volts, rel=1e-9)
    assert circuit.feeds[0] == pytest.approx(100 / volts, rel=1e-9)
    assert sorted(p.name for p in circuit.pieces) == [
        "J1.1/P1.1",
        "J1.2/P1.2",
        "J2.1/P2.1",
        "J2.2/P2.2",
        "W1.main",
        "W1.main",
    ]
    assert not circuit.missing


def test_what_is_missing_is_named_and_not_guessed() -> None:
    document = both(lamp(), "harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 10}}")
    (circuit,) = grid_of(document).circuits.values()
    assert circuit.loads[0].volts == 28
    assert circuit.missing == {
        "gauge_awg of W1.main",
        "the size of p2's contacts (electrical.contact_sizes)",
    }


THREE = """
interfaces: {p2: 2}
places:
  bench:
    units:
      SRC: {kind: source, volts: 28, switches: SW1}
      A: {kind: load, draws: {a: {ohm: 14, source: x}}}
      B: {kind: load, draws: {b: {ohm: 28, source: x}}}
      C: {kind: load, draws: {c: {amps: 1, source: x}}}
    switches: {SW1: }
    halves: {J1: p2 socket SRC.hi SRC.ret, JA: p2 pin A.hi A.ret, JB: p2 pin B.hi B.ret,
             JC: p2 pin C.hi C.ret}
harnesses:
  W1:
    legs: {P1: p2 pin, PA: p2 socket, PB: p2 socket, PC: p2 socket}
    gauge_awg: 20
    segments:
      trunk: {between: P1 x, length_m: 10}
      a: {between: x PA, length_m: 5}
      mid: {between: x y, length_m: 2}
      b: {between: y PB, length_m: 3}
      c: {between: y PC, length_m: 1}
electrical: {wire: {conductor_c: 20, ohm_per_m: {20: 0.05}, source: x}}
services: {light: {kind: power, load: A, feeds: SRC}, b: {kind: power, load: B, feeds: SRC},
           c: {kind: power, load: C, feeds: SRC}}
people: {ada: outside}
now: {on: [SW1], mated: {P1: J1, PA: JA, PB: JB, PC: JC}}
"""


def test_a_harness_is_a_tree_of_segments() -> None:
    """Both conductors are alike, so the return doubles each resistance. Nodes x and y by hand:
    28 - x = 1.0 I; x - y = 0.2 J; load A: x/(14 + 0.5); B: y/(28 + 0.3); C: 1 A.
    """
    grid = grid_of("{}", THREE)
    (circuit,) = grid.circuits.values()
    import numpy as np

    # unknown x and y: (28 - x)/1 = x/14.5 + (x - y)/0.2 ; (x - y)/0.2 = y/28.3 + 1
    x, y = np.linalg.solve(
        np.array([[1 + 1 / 14.5 + 5, -5], [5, -5 - 1 / 28.3]]), np.array([28.0, 1.0])
    )
    volts = {grid.copper.loads[n].name: r.volts for n, r in circuit.loads.items()}
    assert volts["A.a"] == pytest.approx(x * 14 / 14.5, rel=1e-9)
    assert volts["B.b"] == pytest.approx(y * 28 / 28.3, rel=1e-9)
    assert volts["C.c"] == pytest.approx(y - 2 * 0.05 * 1, rel=1e-9)
    mid = [abs(a) for p, a in circuit.pieces.items() if p.name == "W1.mid"]
    assert mid == pytest.approx([y / 28.3 + 1] * 2, rel=1e-9)


def test_conductors_in_a_bundle_are_counted_shields_left_out() -> None:
    grid = grid_of("{}", THREE)
    (circuit,) = grid.circuits.values()
    bundles = Bundles(grid.config, grid.copper)
    assert {bundles.of(p).wires for p in circuit.pieces if p.is_wire} == {2}


# -- faults --------------------------------------------------------------------------------


def loads_of(steps: str, more: str = "{}", base: str = BENCH) -> Loading:
    result = run(steps, more, base)
    return loading(result.ground.baseline, result.trace)


SHORTING = """
places: {bench: {halves: {JX: p2 socket SRC.hi SRC.ret}}}
caps: {CS: {fits: p2 socket, tethered: false, joins: [1 2]}}
now: {fitted: {CS: JX}}
"""


def test_a_short_through_a_cap_is_loud_and_named() -> None:
    grid = grid_of(both(WIRED, lamp(), SHORTING))
    (circuit,) = grid.circuits.values()
    assert not circuit.solved
    assert not circuit.loads
    (fault,) = circuit.faults
    assert fault.rule == "short-circuit"
    assert "SRC" in fault.text
    names = [grid.config.wiring.island_name(i) for i in fault.path]
    assert names[0] == "SRC.hi"
    assert names[-1] == "SRC.ret"
    assert any("CS" in name or "JX" in name for name in names)


def test_a_short_by_fitting_the_cap_is_told_at_the_step() -> None:
    more = both(WIRED, lamp(), SHORTING.replace("fitted: {CS: JX}", "held: {CS: ada}"))
    result = run("[[{fit_cap: {CS: JX}}]]", more, LAMP)
    (finding,) = [
        f
        for f in loading(result.ground.baseline, result.trace).findings
        if f.rule == "short-circuit" and "doubt" not in f.found
    ]
    assert finding.severity is Severity.ERROR
    assert finding.step == "s1"
    assert "SRC.hi" in finding.difference


REVERSED = """
harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, runs: [P1.1 P2.2, P1.2 P2.1], length_m: 10,
                 gauge_awg: 20}}
"""


def test_a_reversed_load_has_no_number() -> None:
    grid = grid_of(both(WIRED, lamp(), REVERSED))
    (circuit,) = grid.circuits.values()
    assert rules(grid) == {"reversed-load"}
    assert not circuit.loads
    assert circuit.feeds[0] == pytest.approx(0)


OPEN = "harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, runs: [P1.1 P2.1], length_m: 10}}"


def test_a_load_with_an_open_return_floats() -> None:
    grid = grid_of(both(lamp(), OPEN))
    (circuit,) = grid.circuits.values()
    (fault,) = circuit.faults
    assert fault.rule == "floating-circuit"
    assert "return leads nowhere" in fault.text
    assert fault.path
    assert not circuit.loads


TWO_SOURCES = """
interfaces: {p2: 2, p4: 4}
places:
  bench:
    units:
      SA: {kind: source, volts: 28, switches: SW1}
      SB: {kind: source, volts: VOLTS, switches: SW1}
      LAMP: {kind: load, draws: {lamp: {ohm: 10, source: x}}}
      MORE: {kind: load, draws: {more: {ohm: 10, source: x}}}
    switches: {SW1: }
    halves:
      J1: p4 socket SA.hi SA.ret SB.hi SB.ret
      J2: p4 pin LAMP.hi LAMP.ret MORE.hi MORE.ret
harnesses:
  W1: {legs: {P1: p4 pin, P2: p4 socket}, runs: RUNS, length_m: 10, gauge_awg: 20}
electrical: {wire: {conductor_c: 20, source: x}}
services: {light: {kind: power, load: LAMP, feeds: SA}, more: {kind: power, load: MORE, feeds: SB}}
people: {ada: outside}
now: {on: [SW1], mated: {P1: J1, P2: J2}}
"""


@pytest.mark.parametrize(
    ("runs", "expected"),
    [
        ("[P1.1 P2.1, P1.2 P2.2, P1.3 P2.3, P1.4 P2.4]", set()),
        ("[P1.1 P1.3 P2.1 P2.3, P1.2 P2.2, P1.4 P2.4]", {"feeds-tied"}),
        ("[P1.1 P1.4 P2.1, P1.2 P2.2, P1.3 P2.3, ]", {"feeds-in-series"}),
        ("[P1.1 P2.1, P1.4 P2.2, P1.3 P2.3, P1.2 P2.4]", {"floating-circuit"}),
        ("[P1.1 P2.1, P2.2 P2.3, P1.4 P2.4]", {"floating-circuit"}),
        ("[P1.1 P2.1, P2.2 P2.3, P1.2 P2.4]", {"floating-circuit"}),
    ],
)
def test_two_sources(runs: str, expected: set[str]) -> None:
    """Loads in series through a net that nothing refers to float; so do crossed returns."""
    grid = grid_of("{}", TWO_SOURCES.replace("RUNS", runs).replace("VOLTS", "28"))
    assert rules(grid) == expected
    numbers = [r for c in grid.circuits.values() for r in c.loads.values()]
    assert len(numbers) == (2 if not expected else 0)


@pytest.mark.parametrize(("volts", "solved"), [("28", True), ("27", False)])
def test_parallel_feeds_without_resistance_between(volts: str, solved: bool) -> None:
    """Of equal volts: the load is known, the shares are not. Of unequal volts: nothing is."""
    base = TWO_SOURCES.replace("VOLTS", volts).replace(
        "J1: p4 socket SA.hi SA.ret SB.hi SB.ret", "J1: p4 socket SA.hi SA.ret"
    )
    base = base.replace("RUNS", "[P1.1 P2.1 P2.3, P1.2 P2.2 P2.4]")
    document = text_of(base)
    document["places"]["bench"]["units"] = {
        "SA": {
            "kind": "source",
            "terminals": "hi ret",
            "feeds": {
                "FA": {"volts": "28", "switches": "SW1", "parallel_with": "FB"},
                "FB": {"volts": volts, "switches": "SW1"},
            },
        },
        "LAMP": document["places"]["bench"]["units"]["LAMP"],
        "MORE": document["places"]["bench"]["units"]["MORE"],
    }
    document["services"] = {
        "light": {"kind": "power", "load": "LAMP", "feeds": ["FA", "FB"]},
        "more": {"kind": "power", "load": "MORE", "feeds": ["FA", "FB"]},
    }
    grid = grid_of("{}", json.dumps(document))
    (circuit,) = grid.circuits.values()
    assert rules(grid) == {"zero-resistance-loop"}
    assert len(circuit.loads) == (2 if solved else 0)
    assert not circuit.feeds


def test_a_loop_without_resistance_tells_volts_but_not_shares() -> None:
    """Two harness conductors without length side by side: nothing says how they share."""
    base = both(
        LAMP,
        lamp(),
        """
        interfaces: {p4: 4}
        places: {bench: {halves: {J1: p4 socket SRC.hi SRC.ret SRC.hi -,
                                  J2: p4 pin LAMP.hi LAMP.ret LAMP.hi -}}}
        harnesses: {W1: {legs: {P1: p4 pin, P2: p4 socket},
                         runs: [P1.1 P2.1, P1.2 P2.2, P1.3 P2.3]}}
        """,
    )
    grid = grid_of("{}", base)
    (circuit,) = grid.circuits.values()
    assert rules(grid) == {"zero-resistance-loop"}
    assert circuit.loads[0].volts == 28
    assert circuit.feeds[0] == pytest.approx(100 / 28)
    known = {p.name for p in circuit.pieces}
    assert "J1.2/P1.2" in known
    assert not {"J1.1/P1.1", "J1.3/P1.3"} & known


def test_too_much_load_is_a_finding_not_a_number() -> None:
    """28 V over 0.62 ohm passes at most 28²/(4 x 0.62) = 316.1 W."""
    for watts, rule in ((316, set()), (317, {"no-convergence"})):
        grid = grid_of(both(WIRED, lamp(f"draws: {{lamp: {{power_w: {watts}, source: x}}}}")))
        assert rules(grid) == rule
        (circuit,) = grid.circuits.values()
        assert bool(circuit.loads) == (not rule)


CONVERTER = """
interfaces: {p2: 2}
places:
  bench:
    units:
      SRC: {kind: source, volts: 100, switches: SW1}
      CON: {kind: converter, volts: 28, draws: {in: {hi: in_hi, ret: in_ret, passes: self,
            efficiency: 0.8, source: x}}, isolated: [[in_hi, in_ret], [out_hi, out_ret]]}
      LAMP: {kind: load, draws: {lamp: {power_w: 56, source: x}}}
    switches: {SW1: }
    halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin CON.in_hi CON.in_ret,
             J3: p2 socket CON.out_hi CON.out_ret, J4: p2 pin LAMP.hi LAMP.ret}
harnesses:
  W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 10, gauge_awg: 20}
  W2: [P3 p2 pin, P4 p2 socket]
electrical: {wire: {conductor_c: 20, ohm_per_m: {20: 0.05}, source: x}}
services: {light: {kind: power, load: LAMP, feeds: CON}}
people: {ada: outside}
now: {on: [SW1], mated: {P1: J1, P2: J2, P3: J3, P4: J4}}
"""


def test_a_converter_passes_its_load_on() -> None:
    """56 W at 80 % is 70 W at its input: V² - 100 V + 70 = 0 over 1 ohm."""
    grid = grid_of("{}", CONVERTER)
    volts = 50 + (2500 - 70) ** 0.5
    readings = {
        grid.copper.loads[n].name: r for c in grid.circuits.values() for n, r in c.loads.items()
    }
    assert readings["CON.in"].volts == pytest.approx(volts, rel=1e-9)
    assert readings["LAMP.lamp"].volts == 28


def test_a_converter_whose_load_is_gone_draws_nothing() -> None:
    result = run("[[{switch_off: SW1}], [{demate: P4}], [{switch_on: SW1}]]", "{}", CONVERTER)
    found = loading(result.ground.baseline, result.trace)
    readings = [r for c in found.circuits for r in c.loads.values()]
    assert [(r.volts, r.amps) for r in readings] == [(100, 0)]


# -- kept up to date -----------------------------------------------------------------------


def same(kept: Grid, fresh: Grid) -> None:
    """Assert that two grids know the same, to rounding."""

    def known(grid: Grid) -> dict[tuple[int, ...], tuple[object, ...]]:
        return {
            tuple(c.network.feeds): (
                sorted((f.rule, f.text) for f in c.faults),
                {n: pytest.approx(r.volts, abs=1e-7) for n, r in c.loads.items()},
                {f: pytest.approx(a, abs=1e-7) for f, a in c.feeds.items()},
                {p.name + str(p.island): pytest.approx(a, abs=1e-7) for p, a in c.pieces.items()},
            )
            for c in grid.circuits.values()
        }

    def plain(grid: Grid) -> dict[tuple[int, ...], tuple[object, ...]]:
        return {
            tuple(c.network.feeds): (
                sorted((f.rule, f.text) for f in c.faults),
                {n: r.volts for n, r in c.loads.items()},
                dict(c.feeds),
                {p.name + str(p.island): a for p, a in c.pieces.items()},
            )
            for c in grid.circuits.values()
        }

    assert plain(kept) == known(fresh)


def loaded(bench: Bench) -> Baseline:
    """Return a drawn baseline with loads, lengths and converters' inputs given."""
    document = copy.deepcopy(bench.document)
    for place in document["places"].values():
        for n, unit in enumerate(place["units"].values()):
            if unit["kind"] == "load" and "hi" in unit.get("terminals", "").split():
                power = {"ohm": 20} if n % 3 == 0 else {"power_w": 20 + n}
                unit["draws"] = {"d": {**power, "source": "drawn"}}
            if unit["kind"] == "converter":
                (feed,) = unit["feeds"]
                ends = unit["feeds"][feed]["input"]
                hi, ret = ends.split() if isinstance(ends, str) else ends
                more = {"passes": feed, "efficiency": 0.9, "source": "drawn"}
                unit["draws"] = {"d": {"hi": hi, "ret": ret, **more}}
    document["electrical"] = {
        "wire": {"conductor_c": 20, "source": "drawn"},
        "contacts": {"c": {"resistance_mohm": 5, "source": "drawn"}},
        "contact_sizes": {"k3": "c"},
    }
    for n, harness in enumerate(document["harnesses"].values()):
        if n % 2 == 0 and isinstance(harness, dict):
            harness.update(gauge_awg=20, length_m=3)
    return Baseline.model_validate(document)


@runs(40)
@given(st.data())
def test_kept_up_to_date_equals_found_anew(data: st.DataObject) -> None:
    """Random hardware and random legal actions; both readings of doubtful joins."""
    document = loaded(data.draw(benches()))
    driver = Driver(data.draw, ready(document))
    copper = Copper(document, driver.wiring)
    kept = [Grid(driver.config, driver.continuity, copper, sure) for sure in (True, False)]
    for happened in driver.events(6):
        for grid in kept:
            grid.update(happened.changes)
            same(grid, Grid(driver.config, driver.continuity, copper, grid.surveyor.sure))


# -- margins -------------------------------------------------------------------------------


def margin(kind: str, *more: str) -> Margin:
    grid = grid_of(both(WIRED, lamp(), *more))
    verdict = grid.continuity.verdicts[0]
    string = grid.config.wiring.strings[0]
    limits = Limits(grid.config, grid.copper)
    return next(m for m in margins(limits, grid, string, verdict) if m.kind == kind)


DERATED = """
electrical: {derating: {profile: mil-std-975m, insulation_c: 150, ambient_c: AMBIENT, source: me}}
"""


def test_wire_margin_by_the_named_profile() -> None:
    """20 AWG 6.5 A, two in the bundle 27/28, 150 °C insulation 0.8 (MIL-STD-975M)."""
    found = margin("wire", DERATED.replace("AMBIENT", "70"))
    assert found.limit == pytest.approx(6.5 * 27 / 28 * 0.8)
    assert "MIL-STD-975M" in found.source
    assert "chosen by me" in found.source


def test_wire_outside_the_profile_is_not_judged() -> None:
    found = margin("wire", DERATED.replace("AMBIENT", "90"))
    assert found.limit is None
    assert "90 °C" in found.missing


def test_own_table_goes_before_the_profile() -> None:
    own = "electrical: {derating: {allowed_a: {20: 3.7}, source: me}}"
    assert margin("wire", own).limit == 3.7


@pytest.mark.parametrize(
    ("kind", "lacking"),
    [("feed", "limit_a"), ("wire", "electrical.derating"), ("drop", "drop_volts")],
)
def test_a_missing_limit_is_named(kind: str, lacking: str) -> None:
    found = margin(kind)
    assert found.value is not None
    assert found.limit is None
    assert lacking in found.missing


def test_the_tighter_of_two_drops_counts() -> None:
    limits = """
    electrical: {drop_volts: {value: 1, source: a}, drop_percent: {value: 2, source: b}}
    """
    found = margin("drop", limits)
    assert found.limit == pytest.approx(0.56)
    assert found.source == "b"
    assert found.left is not None
    assert found.left < 0


def test_low_volts_and_contact_rating() -> None:
    assert margin("volts").limit == 24
    assert margin("contact").limit == 5
    assert margin("contact").value == pytest.approx(3.909, abs=0.001)
