"""The timeline as SVG: well-formed, everything on it once, nothing told by colour alone."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner
from small import BENCH, baseline, procedure

from cablewalk.cli import commands
from cablewalk.drawings.lanes import timeline_svg
from cablewalk.drawings.lanes_holds import go_labels
from cablewalk.drawings.metrics import width_pt
from cablewalk.timeline.account import account

ROOT = Path(__file__).resolve().parents[1]
SVG = "{http://www.w3.org/2000/svg}"

STEPS = """[{by: ada, loses: light, do: [{switch_off: SW1, minutes: 9}]},
 {by: gus, do: [{go_call: go-1}]},
 {by: [ada, bob], go: go-1, say: 'Both <look> & wait', do: [{inspect: J1, minutes: 30}]},
 {by: ada, do: [{switch_on: SW1, minutes: 9}]}]"""


def drawn(steps: str = STEPS, more: str = "{}", **head: object) -> ET.Element:
    result = account(baseline(BENCH, more), [procedure(steps, **head)], keep_going=True)
    return ET.fromstring(timeline_svg(result))


def texts(root: ET.Element) -> list[str]:
    return ["".join(node.itertext()) for node in root.iter(f"{SVG}text")]


def classes(root: ET.Element) -> list[str]:
    return [node.get("class", "") for node in root.iter() if node.get("class")]


def fills(root: ET.Element) -> set[str | None]:
    return {node.get("fill") for node in root.iter(f"{SVG}rect")}


def test_every_actor_step_call_and_outage_is_there() -> None:
    found = texts(drawn())
    for word in ("ada", "bob", "gus", "ground", "outside", "s1", "GO go-1", "light", "OUTAGES"):
        assert word in found, word
    assert sum(text.startswith("s3") for text in found) == 2, "a joint step stands in both lanes"
    assert any(text.startswith("dark 0:48") for text in found)
    assert "joint" in classes(drawn())
    assert "go" in classes(drawn())


CALLS = """[{by: ada, loses: light, do: [{switch_off: SW1, minutes: 9}]},
 {by: gus, do: [{go_call: go-1}]}, {by: gus, do: [{go_call: go-2}]},
 {by: ada, go: go-1, do: [{inspect: J1, minutes: 30}]},
 {by: bob, go: go-2, do: [{inspect: J1, minutes: 30}]},
 {by: gus, after: s4, do: [{go_call: go-3}]},
 {by: ada, go: go-3, do: [{switch_on: SW1, minutes: 9}]}]"""


def test_go_calls_at_one_moment_share_a_label() -> None:
    """No text of a lane lies over another; a call half an hour later has its own."""
    root = drawn(CALLS, minutes={"any": "1", "go_call": "0"})
    assert [text for text in texts(root) if text.startswith("GO go")] == [
        "GO go-1, go-2",
        "GO go-3",
    ]


def test_labels_of_go_calls_join_only_where_they_would_meet() -> None:
    wide = 9 + width_pt("GO a", 8.5, bold=True) + 6
    apart, close = (go_labels([(0, "a"), (at, "b")]) for at in (wide + 1, wide - 1))
    assert apart == [(9, "GO a"), (wide + 10, "GO b")]
    assert close == [(wide + 8, "GO a, b")]


def test_a_users_text_is_inert() -> None:
    root = drawn()
    assert any("Both <look> & wait" in text for text in texts(root))
    assert not list(root.iter(f"{SVG}script"))


def test_planned_and_unplanned_differ_in_words_and_pattern() -> None:
    planned, unplanned = drawn(), drawn(STEPS.replace("loses: light, ", ""))
    assert "url(#planned)" in fills(planned)
    assert not any("NOBODY PLANNED" in text for text in texts(planned))
    assert any("NOBODY PLANNED IT" in text for text in texts(unplanned))


def test_a_clock_and_its_margin() -> None:
    more = "{services: {light: {clock: {allowed_min: 60, source: made up}}}}"
    root = drawn(more=more)
    assert any("of 1:00, 0:12 left" in text for text in texts(root))
    tight = more.replace("60", "40")
    over = drawn(more=tight)
    assert any("OVER by 0:08" in text for text in texts(over))
    bars = [n for n in over.iter(f"{SVG}rect") if n.get("class") == "lost"]
    assert {n.get("fill") for n in bars} >= {"url(#planned)", "url(#over)"}


@pytest.mark.parametrize("room", [True, False])
def test_a_reconnect_mark_beyond_the_edge_is_told(room: bool) -> None:
    """Ten hours and forty seconds from PET 0:00 on: by 10:00, rounded down, at the edge or beside.

    There is no room at the edge where the outage lasts to the end, on a quarter of an hour.
    """
    more = "{services: {light: {clock: {allowed_min: 600.67, source: made up}}}}"
    steps = (
        STEPS if room else STEPS.replace("minutes: 30", "minutes: 27").replace("switch_on", "block")
    )
    told = [text for text in texts(drawn(steps, more)) if "by 10:00 →" in text]
    assert len(told) == 1
    assert (told[0] == "by 10:00 →") == room


def test_bars_stand_where_their_minutes_are() -> None:
    """s1 lasts 9 min and s4 the same, 39 min after it began; widths and places in proportion."""
    bars = [n for n in drawn().iter(f"{SVG}rect") if n.get("class") == "bar" and len(n)]
    at = {n[0].text.split()[0]: n for n in bars if n[0].text}
    x = {name: float(node.get("x", "nan")) for name, node in at.items()}
    wide = {name: float(node.get("width", "nan")) for name, node in at.items()}
    assert wide["s1"] == pytest.approx(wide["s4"], abs=0.02)
    assert wide["s3"] == pytest.approx(wide["s1"] * 30 / 9, abs=0.05)
    assert x["s4"] - x["s1"] == pytest.approx(wide["s1"] * 39 / 9, abs=0.05)


def test_inhibits_stand_beneath() -> None:
    inhibit = {"id": "dead", "requires": "SW1 off", "owner": "gus", "set_by": "s1", "until": "s4"}
    assert "dead: SW1 off" in texts(drawn(inhibits=[inhibit]))


def test_where_it_stopped() -> None:
    steps = "[[{inspect: J1}, {demate: J3}], [{inspect: J2}]]"
    result = account(baseline(), [procedure(steps)])
    assert result.trace.stopped
    found = texts(ET.fromstring(timeline_svg(result)))
    assert any("REPLAY STOPPED" in text for text in found)
    assert "s2" not in found


def test_nothing_is_outside_the_sheet() -> None:
    root = drawn()
    wide, high = (float(root.get(name, "0")) for name in ("width", "height"))
    for node in root.iter(f"{SVG}rect"):
        if node.get("x") and "%" not in node.get("width", ""):
            assert 0 <= float(node.get("x", "0")) <= wide
            assert 0 <= float(node.get("y", "0")) + float(node.get("height", "0")) <= high


def test_the_demo(tmp_path: Path) -> None:
    configs = [str(ROOT / "configs" / f"{n}.yaml") for n in ("outpost", "outing-1", "outing-2")]
    out = tmp_path / "sub" / "t.svg"
    done = CliRunner().invoke(commands, ["timeline", *configs, "--out", str(out)])
    assert done.exit_code in (0, 1), done.stderr
    first = out.read_bytes()
    ET.fromstring(first)
    again = CliRunner().invoke(commands, ["timeline", *configs, "--out", str(out)])
    assert again.exit_code == 2
    assert "there already" in again.stderr
    CliRunner().invoke(commands, ["timeline", *configs, "--out", str(out), "--force"])
    assert out.read_bytes() == first
    assert re.search(rb'font-family: "DejaVu Sans"', first)
    wrong = CliRunner().invoke(commands, ["timeline", *configs, "--out", str(tmp_path / "t.png")])
    assert wrong.exit_code == 2
    assert ".svg" in wrong.stderr
