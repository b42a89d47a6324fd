"""What loads are worth: limits met exactly, who gave resistances, what is not known and when."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from small import LAMP, baseline
from test_power_grid import WIRED, both, lamp
from test_power_held import LOOK, by_rule, replayed, row, told

from cablewalk.cli import commands
from cablewalk.cli.power_page import loads_page
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.electrical import Draw
from cablewalk.files.place import Source
from cablewalk.findings import Finding, Severity
from cablewalk.power.limits import SAME, Margin
from cablewalk.reports.electrical import LoadsReport, loads_report
from cablewalk.walk.scene import find_spot

WORK = """
cablewalk: 1
procedure: p
minutes: 1
steps: [{id: s1, by: ada, do: [{inspect: J2}]}]
"""
DROP = "electrical: {drop_volts: {value: 2, source: rule 3}}"


def report_of(document: Baseline, steps: str = LOOK, at: str | None = None) -> LoadsReport:
    result = replayed(document, steps)
    spot = None if at is None else find_spot(result.trace, result.procedures, at)
    assert not isinstance(spot, str)
    return loads_report(result, [Source("b"), Source("p")], spot)


def text_of_page(report: LoadsReport) -> str:
    return loads_page(report).text


# -- counts and limits ---------------------------------------------------------------------


def test_a_drop_past_its_limit_counts_itself_alone() -> None:
    """100 W over 0.62 ohm from 28 V: 28 - (14 + sqrt(134)) = 2.424 V of 2, at one load."""
    found = told(baseline(LAMP, both(WIRED, lamp(), DROP)))
    assert by_rule(found, "drop-large").found == (
        "light, string light: 2.42 V lost on the way to LAMP.lamp"
    )


TWO = """
places: {bench: {halves: {J3: p2 socket SRC.hi SRC.ret, J4: p2 pin MORE.hi MORE.ret},
                 units: {MORE: {kind: load, draws: {m: {amps: 3, source: x}}}}}}
harnesses: {W2: {legs: {P3: p2 pin, P4: p2 socket}, length_m: 10, gauge_awg: 20}}
services: {light: {load: LAMP}, more: {kind: power, load: MORE, feeds: SRC}}
now: {mated: {P3: J3, P4: J4}}
"""


@pytest.mark.parametrize("length_m", [10, 20])
@pytest.mark.parametrize("ohm", [7, 9.3, 14])
def test_a_limit_met_exactly_is_not_passed(length_m: int, ohm: float) -> None:
    """A lamp of 3 A beside another: contacts rated 3 A carry 3 A, to the last bits or not.

    Without a tolerance these gave errors of 1e-15 to 1e-14 A past it.
    """
    more = TWO.replace("amps: 3", f"ohm: {ohm}").replace("length_m: 10", f"length_m: {length_m}")
    bearing = """
    electrical: {wire: {ohm_per_m: {20: 0.06}},
                 contacts: {"16": {rating_a: 3, resistance_mohm: 1}}}
    """
    three = lamp("draws: {lamp: {amps: 3, source: bench}}")
    found = told(baseline(LAMP, both(WIRED, three, more, bearing)))
    assert row(found, 0, "contact").value == pytest.approx(3, rel=1e-12)
    assert not [f for f in found.findings if f.found.startswith("light")]


def test_rounding_is_no_overload_and_more_than_rounding_is() -> None:
    for value, past in (
        (3 + 1.8e-15, False),
        (3 * (1 + SAME / 2), False),
        (3 * (1 + SAME * 2), True),
        (3.001, True),
    ):
        assert Margin("contact", "x", value, 3).is_past == past, value
    assert not Margin("volts", "x", 24 - 3.6e-15, 24).is_past
    assert Margin("volts", "x", 23.999, 24).is_past
    assert not Margin("drop", "x", 1.4, 0.05 * 28 - 2e-16).is_past


# -- sources -------------------------------------------------------------------------------

CATALOGUED = """
electrical:
  wire: {conductor_c: 20, ohm_per_m: ~, source: rule 1}
  contacts: {"16": {resistance_mohm: ~, catalogue: series-iii, source: rule 4}}
"""
OWN_WIRE = "wire of gauge 20 at 20 °C: ohm_per_m, chosen by bench"
OWN_CONTACT = "contacts of size 16: resistance_mohm by bench"
SOLID = (
    "wire of gauge 20 at 20 °C: solid annealed copper by ASTM B258 and NBS Circular 31, "
    "chosen by rule 1"
)
CATALOGUE = (
    "contacts of size 16: highest drop at the test current, a maker's MIL-DTL-38999 series III "
    "catalogue, chosen by rule 4"
)


@pytest.mark.parametrize(
    ("more", "expected"),
    [("{}", {OWN_WIRE, OWN_CONTACT}), (CATALOGUED, {SOLID, CATALOGUE})],
)
def test_who_gave_the_resistances_is_told(more: str, expected: set[str]) -> None:
    document = baseline(LAMP, both(WIRED, lamp(), DROP, more))
    report = report_of(document)
    assert set(report.resistances) == expected
    (string,) = report.strings
    told_of = {margin.kind: set(margin.resistances) for margin in string.margins}
    assert told_of == {
        "feed": set(),
        "wire": set(),
        "contact": set(),
        "volts": expected,
        "drop": expected,
    }
    assert {c.ohm_source for c in report.currents} == expected
    page = " ".join(text_of_page(report).split())
    _, _, after = page.partition("WHO GAVE THE RESISTANCES")
    assert all(text in after for text in expected)


def test_a_finding_of_volts_names_them_too(tmp_path: Path) -> None:
    """So `check` and `outages --json` have them."""
    files = [tmp_path / "base.yaml", tmp_path / "work.yaml"]
    document = both(LAMP, WIRED, lamp(), DROP, "{cablewalk: 1, baseline: lamp}")
    files[0].write_text(document, encoding="utf-8")
    files[1].write_text(
        "cablewalk: 1\nprocedure: p\nminutes: 1\nsteps: [{id: s1, by: ada, do: [{inspect: J2}]}]\n",
        encoding="utf-8",
    )
    for command in ("check", "outages"):
        done = CliRunner().invoke(commands, [command, *map(str, files), "--json"])
        data = json.loads(done.stdout)
        (drop,) = [f for f in data["findings"] if f["rule"] == "drop-large"]
        assert drop["source"] == f"rule 3; {OWN_CONTACT}; {OWN_WIRE}"
    margins = {m["kind"]: m for m in data["loads"][0]["margins"]}
    assert margins["volts"]["resistances"] == [OWN_CONTACT, OWN_WIRE]


# -- not known, and when -------------------------------------------------------------------


def test_what_was_not_known_before_the_end_is_told() -> None:
    """W1 carried the lamp at the start; at the end nothing is fed any more."""
    document = baseline(LAMP, lamp())
    steps = "[[switch_off: SW1], [demate: P2]]"
    whole = report_of(document, steps)
    assert whole.not_known == (
        "gauge_awg and length_m of W1.main",
        "the size of p2's contacts (electrical.contact_sizes)",
    )
    assert "gauge_awg and length_m of W1.main: counted" in " ".join(text_of_page(whole).split())
    assert report_of(document, steps, at="s2").not_known == ()
    assert len(report_of(document, f"[[{{inspect: J2}}], {steps[1:]}", at="s1").not_known) == 2


def test_no_finding_is_made_of_a_limit_met() -> None:
    """28 V less 2 A over 0.62 ohm: 26.76 V, and exactly that is what the lamp needs."""
    least = 28 - 2 * 0.62
    draw = lamp(f"draws: {{lamp: {{amps: 2, min_volts: {least!r}, source: bench}}}}")
    found = told(baseline(LAMP, both(WIRED, draw)))
    assert row(found, 0, "volts").value == pytest.approx(26.76, rel=1e-12)
    assert not [f for f in found.findings if f.severity is Severity.ERROR]


# -- what is not judged --------------------------------------------------------------------


def note(document: Baseline, steps: str = LOOK) -> Finding | None:
    found = [f for f in told(document, steps).findings if f.rule == "load-not-judged"]
    assert len(found) <= 1, "one note, whatever is missing"
    return found[0] if found else None


BARE = "{places: {bench: {units: {MORE: {draws: ~}}}}, services: {light: {load: LAMP}}}"


def test_one_note_says_what_is_not_judged_and_what_is_missing() -> None:
    """Of the lamp 100 W are given, of MORE nothing; of three kinds there is no limit at all."""
    document = baseline(
        LAMP, both(WIRED, lamp(), TWO, BARE, "electrical: {contacts: ~, contact_sizes: ~}")
    )
    told_of = note(document)
    assert told_of is not None
    assert told_of.severity is Severity.NOTE
    assert told_of.items == ("MORE",)
    assert told_of.found == (
        "not judged: what is drawn by MORE (more); what feeds give; what wires carry; "
        "what contacts carry"
    )
    assert told_of.difference == (
        "missing: draws of MORE; limit_a of feed SRC; electrical.derating; "
        "the size of p2's contacts (electrical.contact_sizes)"
    )


ALL = """
places: {bench: {units: {SRC: {limit_a: 9}}}}
electrical: {derating: {allowed_a: {20: 9}, source: x}, drop_volts: {value: 9, source: x}}
"""


def test_where_all_is_judged_there_is_no_note() -> None:
    document = baseline(LAMP, both(WIRED, lamp(), ALL))
    assert all(r.margin.limit is not None for r in told(document).worst.values())
    assert note(document) is None


def test_a_kind_that_some_string_is_judged_of_is_not_noted() -> None:
    """The lamp's volts have a limit, MORE's have none: `loads` tells that beside MORE."""
    found = note(baseline(LAMP, both(WIRED, lamp(), TWO, ALL)))
    assert found is None


def test_many_missing_things_are_counted() -> None:
    """Five sources without limit_a, a lamp each: three are named."""
    units: dict[str, object] = {}
    halves: dict[str, str] = {}
    harnesses: dict[str, object] = {}
    services: dict[str, object] = {}
    mated: dict[str, str] = {}
    for n in range(5):
        units[f"S{n}"] = {"kind": "source", "volts": 28, "switches": "SW1"}
        units[f"L{n}"] = {"kind": "load", "draws": {"m": {"amps": 1, "source": "x"}}}
        halves |= {f"A{n}": f"p2 socket S{n}.hi S{n}.ret", f"B{n}": f"p2 pin L{n}.hi L{n}.ret"}
        harnesses[f"H{n}"] = [f"P{n} p2 pin", f"Q{n} p2 socket"]
        services[f"s{n}"] = {"kind": "power", "load": f"L{n}", "feeds": f"S{n}"}
        mated |= {f"P{n}": f"A{n}", f"Q{n}": f"B{n}"}
    raw = {
        "interfaces": {"p2": 2},
        "places": {"bench": {"units": units, "halves": halves, "switches": {"SW1": ""}}},
        "harnesses": harnesses,
        "people": {"ada": "outside"},
        "services": services,
        "now": {"on": ["SW1"], "mated": mated, "people": {"ada": "bench"}},
    }
    told_of = note(baseline(json.dumps(raw), "{}"), "[[{inspect: A0}]]")
    assert told_of is not None
    assert "limit_a of feed S0, limit_a of feed S1, limit_a of feed S2, and 2 more" in (
        told_of.difference
    )


@pytest.mark.parametrize("command", ["check", "outages", "loads"])
def test_every_command_tells_the_one_note(command: str, tmp_path: Path) -> None:
    """The lamp draws, MORE says nothing: `check` and plain `outages` say so as `loads` does."""
    files = [tmp_path / "base.yaml", tmp_path / "work.yaml"]
    more = both(WIRED, lamp(), TWO, BARE, ALL, "{cablewalk: 1, baseline: lamp}")
    for file, text in zip(files, (both(LAMP, more), WORK), strict=True):
        file.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(commands, [command, *map(str, files), "--json"])
    found = [f for f in json.loads(done.stdout)["findings"] if f["rule"] == "load-not-judged"]
    assert [f["found"] for f in found] == ["not judged: what is drawn by MORE (more)"]


def test_the_readme_names_every_key_of_a_draw() -> None:
    text = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    (said,) = [part for part in text.split("\n\n") if part.startswith("What it takes stands in")]
    words = set(re.findall(r"\w+", said))
    assert set(Draw.model_fields) <= words
