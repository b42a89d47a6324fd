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


def fills(root: ET.Element) -> set[str]:
    """Return what rectangles are filled with, patterns by their names alone."""
    return {patternless(node.get("fill")) for node in root.iter(f"{SVG}rect")}


def patternless(fill: str | None) -> str:
    return re.sub(r"#timeline-[0-9a-f]+-", "#", fill or "")


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
    assert {patternless(n.get("fill")) for n in bars} >= {"url(#planned)", "url(#over)"}


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


def boxes(root: ET.Element, look: str) -> list[tuple[float, float, float, float]]:
    """Return (left, top, right, bottom) of the rectangles of one look."""
    rects = [n for n in root.iter(f"{SVG}rect") if n.get("class") == look]
    found = []
    for node in rects:
        x, y, wide, high = (float(node.get(k, "nan")) for k in ("x", "y", "width", "height"))
        found.append((x, y, x + wide, y + high))
    return found


@pytest.mark.parametrize("minutes", [5, 30, 200])
def test_no_label_lies_over_the_bar_of_an_outage(minutes: int) -> None:
    """Dark from early on to the end, over its clock and planned by nobody: no room on its row."""
    steps = (
        "[{by: ada, do: [{switch_off: SW1}]}, {by: ada, do: [{inspect: J1, minutes: "
        f"{minutes}}}, {{switch_on: SW1}}]}}]"
    )
    more = "{services: {light: {clock: {allowed_min: 4, source: made up}}}}"
    root = drawn(steps, more)
    (label,) = (n for n in root.iter(f"{SVG}text") if "NOBODY PLANNED IT" in (n.text or ""))
    assert label.text is not None
    assert "OVER by" in label.text
    wide, x, y = width_pt(label.text, 9, bold=True), *(float(label.get(k, "nan")) for k in "xy")
    left = x - wide if label.get("text-anchor") == "end" else x
    for bar in boxes(root, "lost"):
        apart = left >= bar[2] or left + wide <= bar[0] or y - 7 >= bar[3] or y + 2 <= bar[1]
        assert apart, (label.text, bar)
    assert left + wide <= float(root.get("width", "nan"))


WAITS = """[{by: ada, do: [{inspect: J1, minutes: 40}]},
 {by: bob, after: s1, do: [{inspect: J2, minutes: 10}]},
 {by: gus, do: [{wait: 90}, {go_call: go-1}]},
 {by: bob, go: go-1, do: [{inspect: J2, minutes: 10}]},
 {by: ada, not_before: "2:00", do: [{inspect: J1, minutes: 5}]},
 {by: ivy, lead_min: {s1: 30}, do: [{verify: light, minutes: 5}]},
 {by: [ivy, bob], do: [{verify: light, minutes: 5}]}]"""


def test_what_an_idle_actor_waits_for_is_drawn() -> None:
    """Bob waits for s1 and for the GO, ivy for half an hour after s1 and then for bob."""
    root = drawn(WAITS, minutes={"any": "1", "go_call": "0"})
    found = [text for text in texts(root) if text.startswith("waits for ")]
    assert sorted(found) == [
        "waits for 0:30 after s1",
        "waits for GO go-1",
        "waits for PET 2:00",
        "waits for bob",
        "waits for s1",
    ]
    lines = [n for n in root.iter(f"{SVG}path") if n.get("class") == "idle"]
    assert len(lines) == 5 + 1, "and one in the legend"
    assert "idle, waits" in texts(root)


def test_nobody_waits_who_works_without_a_break_or_has_done_all() -> None:
    root = drawn("[[{inspect: J1, minutes: 9}], [{inspect: J2, minutes: 30}]]")
    assert classes(root).count("idle") == 1, "in the legend"


def test_a_wait_without_room_has_no_words() -> None:
    steps = (
        "[{by: ada, do: [{inspect: J1, minutes: 300}]}, {by: bob, do: [{inspect: J2, minutes: "
        "297}]}, {by: bob, after: s1, do: [{inspect: J2, minutes: 100}]}]"
    )
    root = drawn(steps)
    assert classes(root).count("idle") == 2
    assert not [text for text in texts(root) if "waits for" in text]


def test_two_pictures_in_one_page_share_no_name() -> None:
    """Neither ids, nor rules of style: each stands under its own picture's name."""
    one, other = drawn(), drawn(STEPS.replace("minutes: 30", "minutes: 31"))
    ids = [{n.get("id") for n in root.iter() if n.get("id")} for root in (one, other)]
    assert len(ids[0]) == len(ids[1]) > 5
    assert not ids[0] & ids[1]
    for root, names in zip((one, other), ids, strict=True):
        text = ET.tostring(root, encoding="unicode")
        used = set(re.findall(r"url\(#([^)]*)\)", text))
        assert used <= names
        (style,) = (n.text or "" for n in root.iter(f"{SVG}style"))
        rules = [line for line in style.splitlines() if line.strip()]
        assert all(line.startswith(f"#{root.get('id')} ") for line in rules)
    same = drawn()
    assert ET.tostring(one) == ET.tostring(same), "the same picture has the same names"


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
