"""What strings carry through a replay, and the command that tells it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from small import LAMP, baseline, procedure

from cablewalk.cli import commands
from cablewalk.cli.power_page import loads_page
from cablewalk.files.place import Source
from cablewalk.findings import Address, Severity
from cablewalk.reports.electrical import loads_report
from cablewalk.timeline.account import account
from cablewalk.timeline.electrical import Loading, loading
from cablewalk.timeline.overloads import Carried

DEMO = ["configs/outpost.yaml", "configs/outing-1.yaml"]

TWO_STRINGS = """
interfaces: {p2: 2}
places:
  bench:
    units:
      SA: {kind: source, volts: 28, limit_a: 6, switches: SW1}
      SB: {kind: source, volts: 28, limit_a: 3, switches: SW2}
      TANK:
        kind: load
        terminals: h1 r1 h2 r2
        isolated: [[h1, r1], [h2, r2]]
        draws:
          a: {hi: h1, ret: r1, ohm: 7, min_volts: 24, source: x}
          b: {hi: h2, ret: r2, ohm: OHM, min_volts: 24, source: x}
    switches: {SW1: , SW2: }
    halves: {J1: p2 socket SA.hi SA.ret, J2: p2 pin TANK.h1 TANK.r1,
             J3: p2 socket SB.hi SB.ret, J4: p2 pin TANK.h2 TANK.r2}
harnesses:
  W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 1, gauge_awg: 20}
  W2: {legs: {P3: p2 pin, P4: p2 socket}, length_m: 1, gauge_awg: 20}
electrical:
  wire: {conductor_c: 20, ohm_per_m: {20: 0.05}, source: x}
  derating: {profile: mil-std-975m, insulation_c: 200, source: x}
  contacts: {"20": {rating_a: 200, source: x}}
  contact_sizes: {p2: "20"}
services:
  heat: {kind: heater, need: 1, strings: {a: {load: TANK.h1 TANK.r1, feeds: SA},
                                          b: {load: TANK.h2 TANK.r2, feeds: SB}}}
people: {ada: outside}
now: {on: [SW1, SW2], mated: {P1: J1, P2: J2, P3: J3, P4: J4}}
"""


def carried(ohm: str, steps: str) -> Loading:
    base = TWO_STRINGS.replace("OHM", ohm)
    result = account(baseline(base), [procedure(steps)])
    assert not result.trace.unusable, [f.sentence() for f in result.findings]
    return loading(result.ground.baseline, result.trace)


def worst(found: Loading, string: int, kind: str, surviving: bool) -> Carried:
    return found.worst[(string, kind, surviving)]


LOSE_A = "[[{switch_off: SW1}, {demate: P1}]]"


def test_the_surviving_string_stands_against_its_ratings() -> None:
    """28 V over 0.1 + 13.9 ohm: 2 A; feed of 3 A; 20 AWG, two in the bundle: 6.5 x 27/28 A."""
    found = carried("13.9", LOSE_A)
    feed = worst(found, 1, "feed", True)
    assert feed.margin.value == pytest.approx(2)
    assert feed.margin.limit == 3
    assert feed.event is not None
    assert feed.event.task.verb == "switch_off"
    wire = worst(found, 1, "wire", True)
    assert wire.margin.limit == pytest.approx(6.5 * 27 / 28)
    assert wire.margin.value == pytest.approx(2)
    assert (0, "feed", True) not in found.worst, "a was never alone"
    assert not found.findings


def test_a_surviving_string_past_its_feed_is_an_error() -> None:
    found = carried("6.9", LOSE_A)
    (finding,) = found.findings
    assert finding.rule == "feed-overloaded"
    assert finding.severity is Severity.ERROR
    assert "4 A drawn from feed SB" in finding.found
    assert finding.expected == "at most 3 A"


def test_low_volts_are_an_error() -> None:
    found = carried("0.3", LOSE_A)
    assert {f.rule for f in found.findings} == {"feed-overloaded", "wire-overloaded", "volts-low"}


def test_only_circuits_that_changed_are_solved_again() -> None:
    """Two circuits, both readings of doubtful joins: each event touches one of them at most."""
    found = carried("13.9", "[[{switch_off: SW1}, {demate: P1}, {walk: bench, minutes: 1}]]")
    quiet = carried("13.9", "[[{wait: 5}]]")
    assert quiet.solved == 0
    assert found.solved == 0, "what is switched off is not solved, the other is not touched"
    again = carried("13.9", "[[{switch_off: SW1}, {switch_on: SW1}]]")
    assert again.solved == 2


def test_a_string_without_a_draw_is_not_judged() -> None:
    result = account(baseline(LAMP), [procedure("[[{wait: 5}]]")])
    found = loading(result.ground.baseline, result.trace)
    assert found.worst
    for row in found.worst.values():
        assert row.margin.value is None
        assert "draws" in row.margin.missing
    (finding,) = found.findings
    assert (finding.rule, finding.severity) == ("load-not-judged", Severity.NOTE)
    assert finding.address == Address(0, ("places", "bench", "units", "LAMP"))
    assert "LAMP" in finding.found
    assert "light" in finding.found


# -- bad input -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        ("{power_w: 5, ohm: 3, source: x}", "a draw is one of"),
        ("{source: x}", "a draw is one of"),
        ("{power_w: 5}", "source"),
        ("{power_w: 5, efficiency: 0.5, source: x}", "efficiency belongs"),
        ("{power_w: 5, hi: a, source: x}", "lacks"),
        ("{hi: ret, power_w: 5, source: x}", "two different terminals"),
        ("{passes: F9, efficiency: 0.5, source: x}", "no feed of this unit"),
        ("{power_w: 0, source: x}", "greater than 0"),
        ("{power_w: nan, source: x}", "finite"),
    ],
)
def test_bad_draws(draw: str, words: str) -> None:
    more = f"places: {{bench: {{units: {{LAMP: {{kind: load, draws: {{d: {draw}}}}}}}}}}}"
    with pytest.raises(ValueError, match=words):
        baseline(LAMP, more)


@pytest.mark.parametrize(
    ("electrical", "words"),
    [
        ("{derating: {source: x}}", "a profile, or your own table"),
        ("{derating: {profile: mil-std-975m, source: x}}", "insulation_c"),
        ("{contact_sizes: {p2: '16'}}", "contacts has none"),
        ("{wire: {conductor_c: 500, source: x}}", "300"),
        ("{wire: {conductor_c: 20, ohm_per_m: {99: 1}, source: x}}", "pattern"),
        ("{drop_volts: {value: 1}}", "source"),
        ("{contacts: {c: {source: x}}, contact_sizes: {p9: c}}", "no interface"),
    ],
)
def test_bad_electrical_data(electrical: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        baseline(LAMP, f"electrical: {electrical}")


def test_a_limit_source_without_a_limit() -> None:
    with pytest.raises(ValueError, match="limit_source says who set limit_a"):
        baseline(LAMP, "places: {bench: {units: {SRC: {limit_source: x}}}}")


@pytest.mark.parametrize("own", [True, False])
def test_who_set_a_feeds_limit(own: bool) -> None:
    """At the unit or among feeds; else it is said that the baseline names nobody."""
    feed = "limit_a: 6, limit_source: flight rule 9"
    more = f"places: {{bench: {{units: {{SA: {{{feed}}}}}}}}}"
    document = baseline(TWO_STRINGS.replace("OHM", "13.9"), more if own else "{}")
    result = account(document, [procedure("[[{wait: 5}]]")])
    report = loads_report(result, [Source("b"), Source("p")])
    text = loads_page(report).text
    by = {row.string: row.margins[0].limit_source for row in report.strings}
    assert by == {
        "heat.a": "flight rule 9" if own else "limit_a of feed SA",
        "heat.b": "limit_a of feed SB",
    }
    assert ("feed      flight rule 9" in text) == own
    silent = "SB" if own else "SA, SB"
    assert f"says no source (limit_source) for {silent}" in text
    assert "wire      MIL-STD-975M" in text


# -- the command ---------------------------------------------------------------------------


def test_the_demo_shows_surviving_strings_against_their_ratings() -> None:
    result = CliRunner().invoke(commands, ["loads", *DEMO, "--json"])
    assert result.exit_code == 0, result.output
    report: dict[str, Any] = json.loads(result.stdout)
    alone = [row for row in report["strings"] if row["surviving"]]
    assert "tank-heat.b" in {row["string"] for row in alone}
    for row in alone:
        for margin in row["margins"]:
            assert margin["left"] > 0
            assert margin["limit_source"]


def test_the_page_fits_and_names_the_step() -> None:
    result = CliRunner().invoke(commands, ["loads", *DEMO, "--at", "1-02"])
    assert result.exit_code == 0, result.output
    assert "How it stands after step 1-02." in result.stdout
    assert "SURVIVING STRINGS" in result.stdout
    assert not [line for line in result.stdout.splitlines() if len(line) > 100]


def test_an_unknown_step_is_bad_usage() -> None:
    result = CliRunner().invoke(commands, ["loads", *DEMO, "--at", "9-99"])
    assert result.exit_code == 2
    assert "there is no step" in result.output


SHORTED = """
cablewalk: 1
baseline: shorted
interfaces: {p2: 2}
places:
  bench:
    halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin LAMP.hi LAMP.ret,
             J3: p2 socket SRC.hi SRC.ret}
    units: {SRC: {kind: source, volts: 28, switches: SW1},
            LAMP: {kind: load, draws: {main: {power_w: 40, source: x}}}}
    switches: {SW1: }
harnesses:
  W1: [P1 p2 pin, P2 p2 socket]
  W2: {legs: {Q1: p2 pin, Q2: p2 pin}, runs: ["Q1.1 Q1.2 Q2.1 Q2.2"]}
people: {ada: outside}
services: {light: {kind: power, load: LAMP, feeds: SRC}}
now: {on: [SW1], mated: {P1: J1, P2: J2}, loose: {Q1: bench, Q2: bench}, bare: [J3, Q1, Q2]}
"""
WRONG_MATE = """
cablewalk: 1
procedure: wrong
minutes: 1
steps:
- {id: s1, by: ada, do: [{mate: {Q1: J3}}]}
"""


def test_what_the_estimates_find_is_among_the_findings_of_outages(tmp_path: Path) -> None:
    """A short through a wrong mate, its path named; with --no-estimates nothing is solved."""
    files = [tmp_path / "base.yaml", tmp_path / "work.yaml"]
    for file, text in zip(files, (SHORTED, WRONG_MATE), strict=True):
        file.write_text(text, encoding="utf-8")
    arguments = ["outages", *map(str, files), "--json"]
    plain = json.loads(CliRunner().invoke(commands, [*arguments, "--no-estimates"]).stdout)
    done = CliRunner().invoke(commands, arguments)
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert "short-circuit" not in {f["rule"] for f in plain["findings"]}
    paths = [f["difference"] for f in told["findings"] if f["rule"] == "short-circuit"]
    assert paths and set(paths) == {"path: SRC.hi / Q1.1 / SRC.ret"}
    assert told["findings"][: len(plain["findings"])] == plain["findings"]
    asked = CliRunner().invoke(commands, [*arguments, "--estimates"])
    assert json.loads(asked.stdout)["loads"] == told["loads"]


def test_outages_names_who_set_the_limits() -> None:
    done = CliRunner().invoke(commands, ["outages", *DEMO, "--estimates"])
    assert "WHO SET THE LIMITS" in done.stdout
    assert "MIL-STD-975M" in done.stdout
