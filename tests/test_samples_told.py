"""What sampling finds and likely minutes do not, as the outages, the findings and the book tell it.

A heater with two strings, each switched off for some minutes: by likely minutes one is back before
the other goes.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from cablewalk.cli import commands

TWO_STRINGS = """
cablewalk: 1
baseline: base
interfaces: {p2: {contacts: 2, family: f, insert: a}}
places:
  deck:
    switches: [SW1, SW2]
    units:
      SRC: {kind: source, terminals: [hi, ret], volts: 28, switches: SW1}
      SR2: {kind: source, terminals: [hi, ret], volts: 28, switches: SW2}
      LA: {kind: load, terminals: [h1, r1, h2, r2], isolated: [[h1, r1], [h2, r2]]}
    halves:
      {J1: p2 socket SRC.hi SRC.ret, J2: p2 socket SR2.hi SR2.ret, JA: p2 pin LA.h1 LA.r1,
       JB: p2 pin LA.h2 LA.r2}
harnesses:
  W: {legs: {WP: p2 pin, WA: p2 socket}}
  V: {legs: {VP: p2 pin, VA: p2 socket}}
people: {ada: outside, bea: outside}
services:
  h:
    kind: heater
    strings: {a: {load: LA.h1 LA.r1, feeds: SRC}, b: {load: LA.h2 LA.r2, feeds: SR2}}
    need: 1
    clocks: [{allowed_min: 60, source: made up 1}, {allowed_min: 2, source: made up 2}]
now:
  on: [SW1, SW2]
  mated: {WP: J1, WA: JA, VP: J2, VA: JB}
  people: {ada: deck, bea: deck}
"""
OVERLAP = """
cablewalk: 1
procedure: overlap
minutes: {any: 1}
spread: triangular
planned_outages: {h: bench}
steps:
- {id: s1, by: ada, do: [{switch_off: SW1}, {inspect: J1, minutes: [20, 30, 50]}, {switch_on: SW1}]}
- {id: s2, by: bea, do: [{inspect: J2, minutes: [25, 40, 45]}, {switch_off: SW2},
   {inspect: J2, minutes: [5, 6, 9]}, {switch_on: SW2}]}
"""
ONE_STRING = TWO_STRINGS.replace("b: {load: LA.h2 LA.r2, feeds: SR2}", "").replace("SRC}, ", "SRC}")
TWICE = """
cablewalk: 1
procedure: twice
minutes: {any: 1}
spread: triangular
planned_outages: {h: bench}
steps:
- {id: s1, by: ada, do: [{switch_off: SW1}, {inspect: J1, minutes: [1, 4, 9]}, {switch_on: SW1}]}
- {id: s2, by: ada, do: [{inspect: J1, minutes: 5}, {switch_off: SW1},
   {inspect: J1, minutes: [1, 4, 9]}, {switch_on: SW1}]}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (
        ("two", TWO_STRINGS),
        ("overlap", OVERLAP),
        ("one", ONE_STRING),
        ("twice", TWICE),
        ("off", "\n".join(TWICE.splitlines()[:7]) + "\n- {id: s1, by: ada, do: [switch_off: SW1]}"),
    ):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def told(folder: Path, command: str, *names: str, more: tuple[str, ...] = ()) -> str:
    files = [str(folder / f"{name}.yaml") for name in names]
    result = CliRunner().invoke(commands, [command, *files, *more])
    assert result.exit_code in (0, 1), result.output
    return " ".join(result.stdout.split())


def data(folder: Path, command: str, *names: str) -> dict[str, Any]:
    found = json.loads(told(folder, command, *names, more=("--json",)))
    assert isinstance(found, dict)
    return found


def test_an_outage_in_some_samples_only_is_held_against_its_clocks(folder: Path) -> None:
    """The outages tell what the spread does of it; of two clocks, the one overrun more often."""
    (row,) = data(folder, "outages", "two", "overlap")["in_some_runs"]
    (same,) = data(folder, "spread", "two", "overlap")["spread_outages"]
    assert [clock["clock_min"] for clock in same["clocks"]] == [60, 2]
    assert 0.02 < row["chance_over"] < row["chance"] < 0.5
    assert (row["chance_over"], row["over_clock_min"]) == (same["clocks"][1]["chance_over"], 2)
    assert row["chance_not_back"] == same["not_back"] == 0
    page = told(folder, "outages", "two", "overlap")
    over = f"{100 * row['chance_over']:.1f} %"
    assert f"dark, overruns its clock of 0:02 in {over} of the samples" in page


def test_of_several_clocks_the_one_overrun_is_named(folder: Path) -> None:
    first, _ = data(folder, "outages", "one", "twice")["outages"]
    assert first["clock_min"] == 2
    assert (first["over_clock_min"], first["chance_not_back"]) == (2, 0)
    assert "overruns its clock of 0:02 in" in told(folder, "outages", "one", "twice")


def test_a_clock_that_several_outages_may_overrun_says_so(folder: Path) -> None:
    """The share of runs in which any of them does is more than that of either alone."""
    wide = ONE_STRING.replace("allowed_min: 2", "allowed_min: 8, resets_after_up_min: 1")
    (folder / "one.yaml").write_text(wide, encoding="utf-8")
    found = data(folder, "outages", "one", "twice")
    (finding,) = [f for f in found["findings"] if f["rule"] == "clock-overrun-likely"]
    both = data(folder, "spread", "one", "twice")["spread_clocks"]
    (share,) = [row["chance_over"] for row in both if row["clock_min"] == 8]
    assert all(row["chance_over"] < share for row in found["outages"])
    assert finding["found"].startswith(
        f"h overruns its clock of 0:08 in {100 * share:.1f} % of the samples, in one or another of "
        "its outages: at P90 the one that does so most often is dark 0:"
    )


def test_an_outage_that_never_ends_has_no_last_minute(folder: Path) -> None:
    (row,) = data(folder, "outages", "one", "off")["outages"]
    assert row["chance_not_back"] == 1
    page = told(folder, "outages", "one", "off")
    assert "not back at the end in 100.0 % of the samples" in page


def test_limits_that_are_not_given_are_told(folder: Path) -> None:
    """Clocks are judged, the end of the work is not: nobody may take silence for within limits."""
    missing = (
        "Phase limits not judged: consumables of overlap: phase_limits.consumables is not given; "
        "turn-back of overlap: phase_limits.turn_back is not given."
    )
    for command in ("check", "outages"):
        page = told(folder, command, "two", "overlap")
        assert missing in page
        rows = data(folder, command, "two", "overlap")["limits_not_judged"]
        assert [row["what"] for row in rows] == ["consumables", "turn-back"]
    page = told(folder, "check", "two", "overlap")
    assert "Clocks: by likely minutes and 10,000 samples." in page
    assert "Clocks and phase limits" not in page
    given = OVERLAP.replace(
        "steps:", "phase_limits: {consumables: {by_pet: '3:00', source: me}}\nsteps:", 1
    )
    (folder / "overlap.yaml").write_text(given, encoding="utf-8")
    page = told(folder, "check", "two", "overlap")
    assert "Clocks and phase limits: by likely minutes and 10,000 samples." in page
    assert "Phase limits not judged: turn-back of overlap: phase_limits.turn_back is not" in page
    assert data(folder, "check", "two", "overlap")["limits_judged"] == 1


def test_the_book_tells_what_is_dark_in_some_samples_only(folder: Path) -> None:
    (row,) = data(folder, "outages", "two", "overlap")["in_some_runs"]
    told(folder, "book", "two", "overlap", more=("--out", str(folder / "book.html")))
    book = (folder / "book.html").read_text(encoding="utf-8")
    share, over = (f"{100 * row[name]:.1f} %" for name in ("chance", "chance_over"))
    for text in (
        "No connector moves, nothing goes dark by likely minutes.",
        "Nothing goes dark by likely minutes.",
        "No service goes down by likely minutes.",
        "Dark in some samples only",
        f"in {share} of the samples, by step s2: dark at most",
        f"overruns its clock of 0:02 in {over} of all samples",
    ):
        assert text in book, text


def test_the_book_of_what_is_dark_in_no_sample_says_so(folder: Path) -> None:
    early = OVERLAP.replace("[20, 30, 50]", "[20, 22, 24]")
    (folder / "overlap.yaml").write_text(early, encoding="utf-8")
    told(folder, "book", "two", "overlap", more=("--out", str(folder / "book.html")))
    book = (folder / "book.html").read_text(encoding="utf-8")
    assert "No service goes down." in book
    assert "Dark in some samples" not in book
