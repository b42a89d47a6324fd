"""What is told of circuits through a replay: what comes back, what grows, what nothing draws."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from generate import Driver, benches, runs
from hypothesis import given
from hypothesis import strategies as st
from small import LAMP, baseline
from test_power_grid import WIRED, both, grid_of, lamp, loaded
from test_power_held import LOOK, replayed, row, told
from test_power_loads import SHORTED, WRONG_MATE

from cablewalk.cli import commands
from cablewalk.cli.beside import SHORTS
from cablewalk.findings import Finding
from cablewalk.power.bundles import Bundles
from cablewalk.power.copper import Copper
from cablewalk.power.grid import Grid
from cablewalk.replay.change import Change
from cablewalk.timeline.could_short import could_short
from cablewalk.timeline.electrical import Loading
from cablewalk.walk.run import ready

ROOT = Path(__file__).resolve().parents[1]

# -- shorts that come and go ---------------------------------------------------------------

CAPS = """
places: {bench: {halves: {JX: p2 socket SRC.hi SRC.ret, JY: p2 socket SRC.hi SRC.ret}}}
caps: {CS: {fits: p2 socket, tethered: false, joins: [1 2]},
       CT: {fits: p2 socket, tethered: false, joins: [1 2]}}
now: {held: {CS: ada, CT: ada}}
"""


def shorts(steps: str, more: str = CAPS) -> list[Finding]:
    found = told(baseline(LAMP, both(WIRED, lamp(), more)), steps)
    return [f for f in found.findings if f.rule == "short-circuit"]


def test_a_second_short_is_told_where_it_is_made() -> None:
    """The same feed shorted through one cap, put right, and shorted through another."""
    found = shorts("[[{fit_cap: {CS: JX}}], [{remove_cap: CS}], [{fit_cap: {CT: JY}}]]")
    assert [(f.step, "(by a join in doubt)" in f.found) for f in found] == [
        ("s1", False),
        ("s3", False),
    ]
    assert "CS.1" in found[0].difference
    assert "CT.1" in found[1].difference


def test_the_same_short_made_again_is_told_again() -> None:
    found = shorts("[[{fit_cap: {CS: JX}}], [{remove_cap: CS}], [{fit_cap: {CS: JX}}]]")
    assert [f.step for f in found] == ["s1", "s3"]


def test_a_short_that_lasts_is_told_once() -> None:
    """Nor twice for one action: in doubt while the cap goes on, and beyond doubt when it is."""
    found = shorts("[[{fit_cap: {CS: JX}}], [{wait: 5}], [{switch_off: SW1}]]")
    assert [f.step for f in found] == ["s1"]


# -- an overload that grows ----------------------------------------------------------------

TWO_WAYS = """
interfaces: {p2: 2}
places:
  bench:
    units:
      SRC: {kind: source, volts: 28, switches: SW1}
      LAMP: {kind: load, draws: {d: {amps: AMPS, min_volts: 20, source: x}}}
    switches: {SW1: }
    halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin LAMP.hi LAMP.ret,
             J3: p2 socket SRC.hi SRC.ret, J4: p2 pin LAMP.hi LAMP.ret}
harnesses:
  W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 10, gauge_awg: 20}
  W2: {legs: {P3: p2 pin, P4: p2 socket}, length_m: 10, gauge_awg: 20}
electrical:
  wire: {conductor_c: 20, ohm_per_m: {20: 0.03}, source: x}
  derating: {allowed_a: {20: 1.5}, source: me}
services:
  light: {kind: power, need: 1, strings: {a: {load: LAMP, feeds: SRC, through: [P1]},
                                          b: {load: LAMP, feeds: SRC, through: [P3]}}}
people: {ada: outside}
now: {on: [SW1], mated: {P1: J1, P2: J2, P3: J3, P4: J4}}
"""


def wires(found: Loading) -> list[tuple[str | None, str]]:
    return [(f.step, f.found) for f in found.findings if f.rule == "wire-overloaded"]


def test_an_overload_that_grows_is_told_of_the_surviving_string() -> None:
    """4 A over two like ways: 2 A in each of 1.5 A; with W1 off, 4 A in W2."""
    found = told(baseline(TWO_WAYS.replace("AMPS", "4")), "[[{demate: P1}]]")
    start, later = [row for row in wires(found) if "string light.b" in row[1]]
    assert start[0] is None
    assert "2 A in a wire of W2.main" in start[1]
    assert later[0] == "s1"
    assert later[1].startswith("light, string light.b: 4 A in a wire of W2.main")
    assert later[1].endswith("a sister string being down")


def test_an_overload_that_does_not_grow_is_told_once() -> None:
    found = told(baseline(TWO_WAYS.replace("AMPS", "4")), "[[{demate: P1}], [{demate: P2}]]")
    assert len([row for row in wires(found) if "string light.b" in row[1]]) == 2


# -- margins -------------------------------------------------------------------------------


def test_two_draws_on_the_same_terminals_are_both_judged() -> None:
    """1 A and 2 A over 0.62 ohm: 26.14 V, enough for the one's 24 V, not for the other's 27."""
    draws = """draws: {one: {amps: 1, min_volts: 24, source: x},
                       two: {amps: 2, min_volts: 27, source: x}}"""
    found = told(baseline(LAMP, both(WIRED, lamp(draws))))
    least = row(found, 0, "volts")
    assert (least.on, least.limit) == ("LAMP.two", 27)
    assert least.value == pytest.approx(28 - 3 * 0.62)
    assert [f.found for f in found.findings if f.rule == "volts-low"] == [
        "light, string light: 26.1 V at LAMP.two"
    ]


def test_currents_have_the_caveat_of_a_cable_of_unknown_resistance() -> None:
    """W2's length is not given: it seems to take all of the 4 A, and W1 none."""
    found = told(baseline(TWO_WAYS.replace("AMPS", "4"), "harnesses: {W2: {length_m: ~}}"))
    for kind in ("feed", "wire", "volts"):
        assert "counted as no resistance: " in row(found, 0, kind).missing, kind
        assert "length_m of W2.main" in row(found, 0, kind).missing, kind
    assert row(found, 0, "wire").value == pytest.approx(0, abs=1e-9)


BUNDLE = """
paths: {way: {between: bench hatch, length_m: 10, tie_points: [t1, t2, t3]}}
places: {hatch: {}}
harnesses: {W2: [N1 p2 pin, N2 p2 socket], W3: [M1 p2 pin, M2 p2 socket]}
now: {people: {ada: bench, bob: bench}, loose: {N1: bench, N2: bench, M1: bench, M2: bench},
      ties: {W1.main: t1 t2, W2.main: t1 t3, W3.main: t1 t3}}
electrical: {derating: {profile: mil-std-975m, insulation_c: 200, source: me}}
"""


def test_a_bundle_counts_what_is_tied_at_the_same_point() -> None:
    """At t1 three cables of two conductors: 6, 6.5 x (29 - 6)/28 A; at t2 W1's own two alone."""
    document = both(WIRED, lamp(), BUNDLE)
    wire = row(told(baseline(LAMP, document)), 0, "wire")
    assert wire.limit == pytest.approx(6.5 * 23 / 28)
    assert wire.basis == "20 AWG, 6 in the bundle: W1, W2, W3 tied at t1, 200 °C insulation"
    grid = grid_of(document)
    (circuit,) = grid.circuits.values()
    alone = Bundles(grid.config, grid.copper)
    grid.config.ties = [()] * len(grid.config.ties)
    alone.look()
    assert {(alone.of(p).wires, alone.of(p).tied) for p in circuit.pieces if p.is_wire} == {(2, "")}


def test_a_tie_cut_is_seen() -> None:
    """With W1 untied at t1, its own two are left, at t2: 6.5 x 27/28 A."""
    found = told(baseline(LAMP, both(WIRED, lamp(), BUNDLE)), "[[{cut_tie: {W1.main: t1}}]]")
    (wire,) = [one.margin for one in found.now if one.margin.kind == "wire"]
    assert wire.limit == pytest.approx(6.5 * 27 / 28)
    assert row(found, 0, "wire").limit == pytest.approx(6.5 * 23 / 28), "at worst"


# -- shorts where nothing draws ------------------------------------------------------------


@pytest.mark.parametrize("command", ["check", "outages"])
def test_a_short_is_told_where_no_draws_are_given(command: str, tmp_path: Path) -> None:
    bare = SHORTED.replace(", draws: {main: {power_w: 40, source: x}}", "")
    assert "draws" not in bare
    files = [tmp_path / "base.yaml", tmp_path / "work.yaml"]
    for file, text in zip(files, (bare, WRONG_MATE), strict=True):
        file.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(commands, [command, *map(str, files), "--json"])
    assert done.exit_code == 1
    found = json.loads(done.stdout)["findings"]
    (short,) = [f for f in found if f["rule"] == "short-circuit"]
    assert short["difference"] == "path: SRC.hi / Q1.1 / SRC.ret"
    assert "load-not-judged" not in {f["rule"] for f in found}


def test_a_baseline_by_itself_is_judged(tmp_path: Path) -> None:
    """Its feed of 1 A gives the 40 W at 28 V as it stands."""
    file = tmp_path / "base.yaml"
    limited = SHORTED.replace("SRC: {kind: source,", "SRC: {kind: source, limit_a: 1,")
    file.write_text(limited, encoding="utf-8")
    done = CliRunner().invoke(commands, ["check", str(file), "--json"])
    found = json.loads(done.stdout)["findings"]
    assert [f["found"] for f in found if f["rule"] == "feed-overloaded"] == [
        "light, string light: 1.43 A drawn from feed SRC"
    ]


def test_what_cannot_short_is_told_without_numpy() -> None:
    """The lamp bench: no join ever ties the source's high to its return."""
    for more, steps, expected in (("{}", LOOK, False), (CAPS, "[[{fit_cap: {CS: JX}}]]", True)):
        trace = replayed(baseline(LAMP, more), steps).trace
        changes = [change for event in trace.events for change in event.changes]
        assert could_short(trace.start, changes) == expected
    script = """
import sys
from pathlib import Path
from small import LAMP, baseline, procedure
from cablewalk.cli.beside import told_of_shorts
from cablewalk.timeline.account import account
told_of_shorts(account(baseline(LAMP), [procedure("[[{wait: 5}]]")]))
assert "numpy" not in sys.modules
"""
    paths = [str(ROOT / "src"), str(ROOT / "tests")]
    before = f"import sys; sys.path[:0] = {paths!r}\n"
    done = subprocess.run([sys.executable, "-c", before + script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@runs(60)
@given(st.data())
def test_no_short_is_passed_over(data: st.DataObject) -> None:
    """Random hardware and random legal actions: whatever any moment has, the glance foresees."""
    document = loaded(data.draw(benches()))
    driver = Driver(data.draw, ready(document))
    start = driver.config.copy()
    changes: list[Change] = []
    copper = Copper(document, driver.wiring)
    grids = [Grid(driver.config, driver.continuity, copper, sure) for sure in (True, False)]
    found = _rules(grids)
    for happened in driver.events(6):
        changes += happened.changes
        for grid in grids:
            grid.update(happened.changes)
        found |= _rules(grids)
    if found & set(SHORTS):
        assert could_short(start, changes)


def _rules(grids: list[Grid]) -> set[str]:
    return {f.rule for grid in grids for c in grid.circuits.values() for f in c.faults}
