"""Everything energised is held against its limit: above converters, in parallel, in no service.

Every number is worked by hand from Ohm's and Kirchhoff's laws in the test that wants it.
"""

from __future__ import annotations

import pytest
from small import LAMP, baseline, procedure
from test_power_grid import CONVERTER, WIRED, both, lamp

from cablewalk.cli.power_page import loads_page
from cablewalk.documents.baseline import Baseline
from cablewalk.files.place import Source
from cablewalk.findings import Finding, Severity
from cablewalk.power.limits import Margin
from cablewalk.reports.electrical import loads_report
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.electrical import Loading, loading
from cablewalk.walk.scene import find_spot

LOOK = "[[{inspect: J2}]]"


def replayed(document: Baseline, steps: str = LOOK) -> Account:
    result = account(document, [procedure(steps)], keep_going=True)
    assert not result.trace.unusable, [f.sentence() for f in result.findings]
    return result


def told(document: Baseline, steps: str = LOOK) -> Loading:
    return loading(document, replayed(document, steps).trace)


def by_rule(found: Loading, rule: str) -> Finding:
    (finding,) = [f for f in found.findings if f.rule == rule]
    return finding


def row(found: Loading, string: int, kind: str, surviving: bool = False) -> Margin:
    return found.worst[(string, kind, surviving)].margin


# -- above a converter ---------------------------------------------------------------------

ABOVE = """
places: {bench: {units: {SRC: {limit_a: 0.5},
                         CON: {draws: {in: {min_volts: 99.5}}}}}}
electrical: {derating: {allowed_a: {20: 0.6}, source: me}}
"""


def test_a_string_is_limited_by_what_is_above_its_converter() -> None:
    """56 W at 80 % is 70 W; over 1 ohm from 100 V: 50 + sqrt(2500 - 70) V and 70 W over that."""
    volts = 50 + (2500 - 70) ** 0.5
    found = told(baseline(CONVERTER, ABOVE))
    feed, wire, least = (row(found, 0, kind) for kind in ("feed", "wire", "volts"))
    assert (feed.on, feed.limit) == ("SRC", 0.5)
    assert feed.value == pytest.approx(70 / volts)
    assert (wire.on, wire.limit) == ("W1.main", 0.6)
    assert wire.value == pytest.approx(70 / volts)
    assert (least.on, least.limit) == ("CON.in", 99.5)
    assert least.value == pytest.approx(volts)
    over = [f for f in found.findings if f.severity is Severity.ERROR]
    assert sorted(f.rule for f in over) == ["feed-overloaded", "volts-low", "wire-overloaded"]
    assert "light, string light: 0.705 A drawn from feed SRC" in {f.found for f in over}


def test_what_is_above_is_looked_at_when_only_that_changes() -> None:
    """A second load of 5 A on the source: 5.7 A of 5.5 A, told as it is mated."""
    more = """
    places: {bench: {units: {SRC: {limit_a: 5.5},
                             MORE: {kind: load, draws: {m: {amps: 5, source: x}}}},
      halves: {J5: p2 socket SRC.hi SRC.ret, J6: p2 pin MORE.hi MORE.ret}}}
    harnesses: {W3: [P5 p2 pin, P6 p2 socket]}
    now: {mated: {P5: J5}, loose: {P6: bench}}
    """
    found = told(baseline(CONVERTER, more), "[[{mate: {P6: J6}}]]")
    finding = by_rule(found, "feed-overloaded")
    assert finding.step == "s1"
    assert finding.found.startswith("light, string light: 5.7 A drawn from feed SRC")


def test_a_converter_above_without_numbers_leaves_its_string_not_judged() -> None:
    """The cable above has 1000 ohm and passes 2.5 W at most of the 70: nothing is known there."""
    found = told(baseline(CONVERTER, "harnesses: {W1: {length_m: 10000}}"))
    feed = row(found, 0, "feed")
    assert feed.value == pytest.approx(2)
    assert "the circuit of SRC has no solution" in feed.missing


# -- in no service -------------------------------------------------------------------------

NO_SERVICE = """
places: {bench: {units: {SRC: {limit_a: 3}}}}
electrical: {derating: {allowed_a: {20: 3.5}, source: me}, contacts: {"16": {rating_a: 3.2}}}
services: {light: ~, bond: {kind: bonding, lines: LAMP.ret to SRC.ret}}
"""


def test_what_is_in_no_service_is_judged_too() -> None:
    """100 W over 0.62 ohm from 28 V: 14 + sqrt(134) = 25.576 V and 3.910 A, against each limit."""
    draw = "draws: {lamp: {power_w: 100, min_volts: 26, source: bench}}"
    found = told(baseline(LAMP, both(WIRED, lamp(draw), NO_SERVICE)))
    over = {f.rule: f for f in found.findings if f.severity is Severity.ERROR}
    assert {rule: (f.found, f.expected) for rule, f in over.items()} == {
        "feed-overloaded": ("3.91 A drawn from feed SRC", "at most 3 A"),
        "wire-overloaded": (
            "3.91 A in a wire of W1.main (P1.1 P2.1), and past it at 1 more",
            "at most 3.5 A",
        ),
        "contact-overloaded": (
            "3.91 A through J1.1/P1.1, and past it at 3 more",
            "at most 3.2 A",
        ),
        "volts-low": ("25.6 V at LAMP.lamp", "at least 26 V"),
    }


def test_what_a_string_tells_is_not_told_again_of_the_circuit() -> None:
    draw = "draws: {lamp: {power_w: 100, min_volts: 26, source: bench}}"
    with_service = NO_SERVICE.replace("light: ~, ", "")
    found = told(baseline(LAMP, both(WIRED, lamp(draw), with_service)))
    over = [f for f in found.findings if f.severity is Severity.ERROR]
    assert len(over) == 4
    assert all(f.found.startswith("light, string light: ") for f in over)


# -- feeds in parallel ---------------------------------------------------------------------

PARALLEL = """
interfaces: {p2: 2}
places:
  den:
    switches: [S1, S2]
    units:
      PA: {kind: source, isolated: [[hi, ret]], feeds: {FA: {volts: VOLTS, limit_a: 5,
           switches: S1, parallel_with: FB}}}
      PB: {kind: source, isolated: [[hi, ret]], feeds: {FB: {volts: 28, limit_a: 5,
           switches: S2, parallel_with: FA}}}
      B: {kind: load, draws: {main: {power_w: 60, min_volts: 20, source: x}}}
    halves: {JA: p2 socket PA.hi PA.ret, J2: p2 socket PB.hi PB.ret, B1: p2 pin B.hi B.ret,
             B2: {interface: p2, gender: pin, wired: [B.hi, B.ret]}}
harnesses:
  W1: {gauge_awg: 20, length_m: 5, legs: {W1-A: p2 pin, W1-B: p2 socket}}
  W2: {gauge_awg: 20, length_m: 5, legs: {W2-A: p2 pin, W2-B: p2 socket}}
people: {ada: outside}
services: {pow: {kind: power, load: B, feeds: [FA, FB]}}
now: {on: [S1, S2], mated: {W1-A: JA, W1-B: B1, W2-A: J2, W2-B: B2}}
"""
COPPER = """
electrical:
  wire: {conductor_c: 20, ohm_per_m: {20: 0.02}, source: x}
  contacts: {"20": {rating_a: 7, resistance_mohm: 5, source: x}}
  contact_sizes: {p2: "20"}
"""


def test_unequal_parallel_feeds() -> None:
    """Each way 2 x 0.1 + 4 x 0.005 = 0.22 ohm: (54 - 2V)V = 60 x 0.22, V = 26.7533;
    FA (26 - V)/0.22 = -3.4241 A, FB (28 - V)/0.22 = 5.6668 A of 5.
    """
    volts = (54 + (54**2 - 8 * 13.2) ** 0.5) / 4
    found = told(baseline(PARALLEL.replace("VOLTS", "26"), COPPER))
    (circuit,) = found.circuits
    assert circuit.feeds[0] == pytest.approx((26 - volts) / 0.22, rel=1e-9)
    feed = row(found, 0, "feed")
    assert (feed.on, feed.limit) == ("FB", 5)
    assert feed.value == pytest.approx((28 - volts) / 0.22, rel=1e-9)
    assert "5.67 A drawn from feed FB" in by_rule(found, "feed-overloaded").found
    backwards = by_rule(found, "feed-driven-backwards")
    assert backwards.severity is Severity.ERROR
    assert "FA" in backwards.found
    drop = row(found, 0, "drop")
    assert drop.value == pytest.approx(26 - volts)


def test_a_feed_driven_backwards_is_judged_by_absolute_amperes() -> None:
    """20 V beside 28 V: (48 - 2V)V = 13.2, V = 23.72; FA takes 16.9 A, more than its 5 A."""
    volts = (48 + (48**2 - 8 * 13.2) ** 0.5) / 4
    found = told(baseline(PARALLEL.replace("VOLTS", "20"), COPPER))
    (circuit,) = found.circuits
    assert circuit.feeds[0] == pytest.approx((20 - volts) / 0.22, rel=1e-9)
    worst = row(found, 0, "feed")
    assert worst.used == pytest.approx(abs((28 - volts) / 0.22) / 5)
    (other,) = [f for f in found.findings if f.found.endswith("drawn from feed FA")]
    assert other.rule == "feed-overloaded"


def test_equal_parallel_feeds_drive_nothing_backwards() -> None:
    found = told(baseline(PARALLEL.replace("VOLTS", "28"), COPPER))
    assert not [f for f in found.findings if f.severity is Severity.ERROR]


def test_a_negative_share_and_not_judged_are_two_things() -> None:
    assert Margin("drop", "x", -2.6, 2.6).used == -1
    assert Margin("drop", "x", -2.6).used is None
    assert Margin("drop", "x", -2.6, 2.6).rank > Margin("drop", "x", -2.6).rank


# -- loops without resistance through sources ----------------------------------------------


def test_a_loop_through_two_sources_has_volts_and_no_currents() -> None:
    """No resistance is given: 28 V at the load for sure; how two sources share is not known."""
    result = replayed(baseline(PARALLEL.replace("VOLTS", "28")))
    found = loading(result.ground.baseline, result.trace)
    (circuit,) = found.circuits
    assert circuit.loads[0].volts == 28
    assert not circuit.feeds
    assert not circuit.pieces
    for kind in ("feed", "wire", "contact"):
        assert row(found, 0, kind).value is None
        assert "without resistance" in row(found, 0, kind).missing
    sources = [Source("b"), Source("p")]
    spot = find_spot(result.trace, result.procedures, "s1")
    assert not isinstance(spot, str)
    report = loads_report(result, sources, spot)
    assert [feed.amps for feed in report.feeds] == [None, None]
    text = "\n".join(str(line) for line in loads_page(report).rows)
    assert text.count("NOT JUDGED") >= 5
    assert "-0.00" not in text
    assert "-0 %" not in text


def test_a_loop_of_unequal_sources_has_no_number_at_all() -> None:
    found = told(baseline(PARALLEL.replace("VOLTS", "26")))
    (circuit,) = found.circuits
    assert not circuit.loads
    assert not circuit.feeds
    assert any("2 V apart" in f.found for f in found.findings)
    assert row(found, 0, "feed").value is None


LOOP = """
interfaces: {p4: 4}
places: {bench: {halves: {J1: p4 socket SRC.hi SRC.ret SRC.hi -,
                          J2: p4 pin LAMP.hi LAMP.ret LAMP.hi -}}}
harnesses: {W1: {legs: {P1: p4 pin, P2: p4 socket}, runs: [P1.1 P2.1, P1.2 P2.2, P1.3 P2.3]}}
"""


def test_a_loop_and_the_currents_name_the_conductor() -> None:
    """Three conductors in one segment: which of them is meant is said."""
    result = replayed(baseline(LAMP, both(lamp(), LOOP)))
    (fault,) = [
        f
        for f in loading(result.ground.baseline, result.trace).findings
        if f.rule == "zero-resistance-loop"
    ]
    assert fault.found.startswith(("W1.main (P1.1 P2.1) closes", "W1.main (P1.3 P2.3) closes"))
    spot = find_spot(result.trace, result.procedures, "s1")
    assert not isinstance(spot, str)
    report = loads_report(result, [Source("b"), Source("p")], spot)
    wires = {(r.name, r.conductor) for r in report.currents if r.kind == "wire"}
    assert wires == {("W1.main", "P1.2 P2.2")}
    assert {r.conductor for r in report.currents if r.kind == "contact"} == {""}
