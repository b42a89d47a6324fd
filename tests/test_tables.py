"""Wiring tables against golden files, looked at with one's own eyes before they were stored.

``python tests/test_tables.py`` (with ``src`` on the path) writes ``golden_tables/`` anew.
Invented: a Y cable W1 from a source to a heater and a fan gives way to W2, whose last end, Q3, is
left loose and bare, whose heater end is not locked, and beside which one old end is opened and
closed again.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import get_args

import pytest
from small import baseline, procedure
from test_reports_bench import replayed

from cablewalk.cli.tables import command
from cablewalk.documents.baseline import Baseline
from cablewalk.reports.table_change import SECTIONS, ChangeRow, Section
from cablewalk.reports.tables import TablesReport, tables_report
from cablewalk.reports.text import report_json
from cablewalk.sheets.cell import width
from cablewalk.sheets.comma import comma_text
from cablewalk.sheets.markdown import markdown_text
from cablewalk.sheets.plain import plain_text
from cablewalk.sheets.sheet import Sheet
from cablewalk.tables.book import sheets
from cablewalk.timeline.account import account
from cablewalk.walk.scene import find_spot

SHED = """
interfaces: {p3: 3}
places:
  shed:
    switches: {K1: {label: MAIN}}
    units: {SRC: {label: SOURCE BOX, kind: source, volts: 28, switches: K1}}
    panels:
      PA:
        label: WALL
        halves:
          J1: p3 socket SRC.hi SRC.ret -
          J9: {label: DUMMY, interface: p3, gender: socket, parking: true}
  yard:
    units:
      HTR: {kind: load, halves: {J2: p3 pin HTR.hi HTR.ret -}}
      FAN: {kind: load, halves: {J3: p3 pin FAN.hi FAN.ret -}}
paths: {walk: {between: shed yard, length_m: 5, tie_points: [T1, T2]}}
harnesses:
  W1: {label: OLD Y, legs: {P1: p3 pin, P2: p3 socket, P3: p3 socket}}
  W2: {label: NEW Y, legs: {Q1: p3 pin, Q2: p3 socket, Q3: p3 socket}}
caps: {C1: P1, C2: Q1, C3: {on: Q2, tethered: false}}
bags: [kit]
people: {ada: outside, gus: ground}
services:
  heat: {kind: heater, load: HTR, feeds: SRC}
  fan: {kind: power, load: FAN, feeds: SRC}
now:
  on: K1
  mated: {P1: J1, P2: J2, P3: J3}
  along: {W1.P2: walk}
  packed: {W2: kit}
  bags: {kit: shed}
  people: {ada: shed}
"""

SWAP = """
planned_outages: {heat: the cable goes, fan: it shares the cable}
steps:
  - {id: s1, by: gus, do: {switch_off: K1}}
  - id: s2
    after: s1
    do: [demate: P1, {fit_cap: {C1: P1}}, take: W2, remove_cap: C2, {mate: {Q1: J1}}, restrain: Q1]
  - id: s3
    do:
      - walk: yard
      - {route: {W2.Q2: walk}}
      - {tie: {W2.Q2: T1}}
      - demate: P2
      - pick_up: P2
      - {stow: {P2: yard}}
      - remove_cap: C3
      - {seat: {Q2: J2}}
      - let_go: Q3
      - demate: P3
      - {mate: {P3: J3}}
"""

GOLDEN = Path(__file__).parent / "golden_tables"
OUTPOST = [
    str(Path(__file__).parents[1] / "configs" / f"{name}.yaml")
    for name in ("outpost", "outing-1", "outing-2", "outing-3")
]


def report(
    base: Baseline | str = SHED, work: str = SWAP, since: str | None = None, at: str | None = None
) -> TablesReport:
    """Return the tables of a baseline and one procedure, with no files behind them."""
    from cablewalk.files.place import Source

    model = baseline(base) if isinstance(base, str) else base
    result = account(model, [procedure(work)], True)
    spots = [find_spot(result.trace, result.procedures, text) if text else None
             for text in (since, at)]  # fmt: skip
    assert not any(isinstance(spot, str) for spot in spots), spots
    sources = (Source("shed.yaml"), Source("swap.yaml"))
    return tables_report(result, sources, *spots)  # type: ignore[arg-type]


def golden() -> dict[str, str]:
    """Return file name to text of all that is stored."""
    made = report()
    found = {"tables.json": report_json(made) + "\n"}
    for sheet in sheets(made):
        for ending, write in (("txt", plain_text), ("csv", comma_text), ("md", markdown_text)):
            found[f"{sheet.name}.{ending}"] = write(sheet)
    return found


def stable(text: str) -> str:
    """Return the text of a report without the version of the program."""
    raw = json.loads(text)
    return json.dumps({**raw, "cablewalk": "", "findings": []}, indent=1)


@pytest.mark.parametrize("name", sorted(golden()))
def test_golden(name: str) -> None:
    stored = (GOLDEN / name).read_bytes().decode("utf-8")
    made = golden()[name]
    if name.endswith(".json"):
        made, stored = stable(made), stable(stored)
    assert made == stored.replace("\r\n", "\n").replace("\n", "\r\n" if ".csv" in name else "\n")


def test_every_golden_file_is_made() -> None:
    assert {path.name for path in GOLDEN.iterdir()} == set(golden())


# -- what the words mean --------------------------------------------------------------


def things(made: TablesReport) -> dict[str, list[str]]:
    """Return section to the items in it."""
    assert made.difference is not None and made.difference.things is not None
    found: dict[str, list[str]] = {}
    for row in made.difference.things:
        found.setdefault(row.section, []).append(row.item)
    return found


def thing(made: TablesReport, section: str, item: str) -> ChangeRow:
    assert made.difference is not None and made.difference.things is not None
    (row,) = (r for r in made.difference.things if (r.section, r.item) == (section, item))
    return row


def test_sections_of_the_swap() -> None:
    assert things(report()) == {
        "removed": ["P1", "P2"],
        "added": ["Q1", "Q2"],
        "moved": ["J1", "J2", "Q3"],
        "newly capped": ["P1"],
        "newly uncapped": ["Q1", "Q2"],
        "stowed": ["P2"],
        "set otherwise": ["K1"],
        "disturbed": ["P3"],
    }


def test_a_remated_pair_is_disturbed_and_its_retest_owed() -> None:
    work = "[{by: gus, do: {switch_off: K1}}, {after: s1, do: [demate: P1, {mate: {P1: J1}}]}]"
    made = report(work=work)
    assert thing(made, "disturbed", "P1").retest == ("heat", "fan")
    assert thing(made, "disturbed", "heat").kind == "string"


def test_once_verified_no_retest_is_owed() -> None:
    work = """
      - {by: gus, do: {switch_off: K1}}
      - {after: s1, do: [demate: P1, {mate: {P1: J1}}]}
      - {by: gus, after: s2, do: [switch_on: K1, verify: heat, verify: fan]}
    """
    made = report(work=work)
    assert things(made) == {"disturbed": ["P1"]}
    row = thing(made, "disturbed", "P1")
    assert (row.strings, row.retest) == (("heat", "fan"), ())


def test_a_parked_half_has_moved() -> None:
    work = "[{by: gus, do: {switch_off: K1}}, {after: s1, do: [demate: P1, {park: {P1: J9}}]}]"
    made = report(work=work)
    row = thing(made, "moved", "P1")
    assert (row.was, row.now) == ("on J1", "parked on J9")
    assert made.after is not None and made.after.halves is not None
    stands = {h.half: (h.state, h.parked, h.mated_to) for h in made.after.halves}
    assert stands["P1"] == ("mated", True, "J9")
    assert stands["J9"] == ("mated", True, "P1")


def test_other_ties_are_a_rerouting() -> None:
    row = thing(report(work="[[walk: yard, {tie: {W1.P2: T2}}]]"), "re-routed", "W1.P2")
    assert (row.was, row.now) == ("along walk", "along walk, tied T2")


def test_between_two_steps() -> None:
    made = report(since="s1", at="s2")
    assert things(made) == {
        "removed": ["P1"],
        "added": ["Q1"],
        "moved": ["J1", "Q2", "Q3"],
        "newly capped": ["P1"],
        "newly uncapped": ["Q1"],
    }
    assert made.difference is not None
    assert made.difference.after.words == "after step s2"


def test_a_moment_against_itself_is_empty() -> None:
    made = report(since="s2", at="s2")
    assert things(made) == {}
    assert made.difference is not None and made.difference.ways == ()


def test_a_splice_gives_a_way_to_each_end() -> None:
    made = report()
    assert made.before is not None and made.before.ways is not None
    ends = [row.end for row in made.before.ways.rows if row.start == ("SRC.hi",)]
    assert ends == [("HTR.hi",), ("FAN.hi",)]
    assert made.after is not None and made.after.ways is not None
    opens = [(r.start, r.end, r.end_state) for r in made.after.ways.rows if r.end_kind == "open"]
    assert (("FAN.hi",), ("P1.1",), "capped by C1") in opens
    assert (("SRC.hi",), ("Q3.1",), "bare") in opens
    doubtful = [h.near for r in made.after.ways.rows for h in r.hops if not h.sure]
    assert set(doubtful) == {"Q2", "J2"}


# -- hostile labels -------------------------------------------------------------------

LABELS = {
    "W1": "=cmd|' /C calc'!A0",
    "W2": "<b>bold</b> a|b ends in \\",
    "J9": "two\nlines \x1b[31m \u202e back",
    "PA": "@SUM(A1)|",
    "K1": "-1\t+1",
}


def hostile() -> TablesReport:
    model = baseline(SHED)
    harnesses = {
        name: harness.model_copy(update={"label": LABELS[name]})
        for name, harness in model.harnesses.items()
    }
    shed = model.places["shed"]
    panel = shed.panels["PA"]
    parked = panel.halves["J9"].model_copy(update={"label": LABELS["J9"]})
    panel = panel.model_copy(
        update={"label": LABELS["PA"], "halves": {**panel.halves, "J9": parked}}
    )
    switch = shed.switches["K1"].model_copy(update={"label": LABELS["K1"]})
    shed = shed.model_copy(update={"panels": {"PA": panel}, "switches": {"K1": switch}})
    places = {**model.places, "shed": shed}
    return report(model.model_copy(update={"harnesses": harnesses, "places": places}))


def test_hostile_labels_are_inert_in_every_form() -> None:
    made = hostile()
    for sheet in sheets(made):
        for line in plain_text(sheet).split("\n"):
            assert line.isprintable() and width(line) <= 120
        for line in markdown_text(sheet).split("\n"):
            assert line.isprintable() and "<b>" not in line
            if line.startswith("|"):
                heads = len(sheet.columns) - min(1, sheet.groups)
                assert line.count("|") == heads + 1
        for line in comma_text(sheet).split("\r\n"):
            assert line.isprintable()
            assert not any(cell.startswith(("=", "@", "-")) for cell in line.split(","))
    assert report_json(made).isascii()


def test_hostile_labels_stay_legible() -> None:
    text = "".join(comma_text(sheet) for sheet in sheets(hostile()))
    assert "'=cmd|' /C calc'!A0" in text
    assert "<b>bold</b> a|b ends in \\" in text
    assert "two\\nlines \\x1b[31m \\u202e back" in text


def test_a_label_of_a_megabyte_is_refused_by_the_model() -> None:
    with pytest.raises(ValueError, match="200 characters"):
        baseline(SHED, f"harnesses: {{W1: {{label: {'x' * 1_000_000}}}}}")


# -- the demo -------------------------------------------------------------------------


def demo_sheets() -> list[Sheet]:
    result, sources = replayed(OUTPOST)
    return sheets(tables_report(result, sources))


def test_the_demo_fits_120_columns_uncut() -> None:
    for sheet in demo_sheets():
        text = plain_text(sheet)
        assert max(map(width, text.splitlines())) <= 120
        assert "…" not in text


def test_the_demo_tells_the_job() -> None:
    """As the outings' titles say: L1, L7 and L8 come off, the terminator moves, ROOST comes."""
    result, sources = replayed(OUTPOST)
    found = things(tables_report(result, sources))
    # LP-J1 is the lamp's own half: its cable comes off and nothing takes its place.
    assert {n.partition("-")[0] for n in found["removed"]} == {"L1", "L7", "L8", "LP"}
    assert "ROOST" in found["added"]
    assert "TERM" in found["moved"]
    assert {"tank-heat.a", "cam-heat", "valve-heat", "bus-cam"} <= set(found["re-routed"])


def test_help_text_and_json_sort_into_the_same_sections() -> None:
    assert list(SECTIONS) == list(get_args(Section))
    (sheet,) = [s for s in sheets(report()) if s.name == "difference-by-half"]
    assert dict(sheet.captions) == SECTIONS
    assert sheet.sections == tuple(SECTIONS)
    listed = re.findall(r"^ +(\S.*?)  +(\S.*)$", command.help or "", re.MULTILINE)
    assert {name: meaning for name, meaning in listed if name in SECTIONS} == SECTIONS
    schema = ChangeRow.model_json_schema()["properties"]["section"]
    assert schema["enum"] == list(SECTIONS)
    for name, meaning in SECTIONS.items():
        assert f"{name}: {meaning}" in schema["description"]


def test_a_fixed_half_tells_its_new_mate() -> None:
    made = report()
    row = thing(made, "moved", "J1")
    assert (row.was, row.now, row.facts) == ("mated with P1", "mated with Q1", ())
    work = "[{by: gus, do: {switch_off: K1}}, {after: s1, do: [demate: P1, {park: {P1: J9}}]}]"
    made = report(work=work)
    assert thing(made, "removed", "J1").now == "bare"
    assert thing(made, "added", "J9").now == "P1 parked on it"


def test_caps_put_on_and_taken_off_stand_apart_and_empty_sections_say_none() -> None:
    (sheet,) = [s for s in sheets(report()) if s.name == "difference-by-half"]
    heads = {row[2]: row[0] for row in sheet.rows if row[0].startswith("newly")}
    assert heads == {"P1": "newly capped", "Q1": "newly uncapped", "Q2": "newly uncapped"}
    text, marks = plain_text(sheet), markdown_text(sheet)
    for section in SECTIONS:
        there = any(row[0] == section for row in sheet.rows)
        assert (f"\n{section}: none\n" in text) != there
        assert (f"### {section}\n\nnone\n" in marks) != there
        assert (f"\n{section}\n" in text) == there
    assert "re-routed: none" in text


def test_the_retest_column_is_never_blank() -> None:
    (sheet,) = [s for s in sheets(report()) if s.name == "difference-by-half"]
    assert {row[-1] for row in sheet.rows} == {"-", "OWED: fan"}
    assert any("'-'" in note for note in sheet.notes)


if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for name, text in golden().items():
        (GOLDEN / name).write_bytes(text.encode("utf-8"))
