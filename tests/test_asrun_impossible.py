"""What cannot be done as planned after what really happened: told by ``now`` and the live view."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from asrun_bench import BASELINE, ZERO_S, begin, folded, plans
from asrun_quay import BASELINE as BASELINE_OF_QUAY
from asrun_quay import TWO_THINGS, opened
from test_asrun_commands import ZERO, asrun, done, log, shown
from test_asrun_forecast import AGAIN

from cablewalk.cli.asrun_now_page import IMPOSSIBLE
from cablewalk.cli.asrun_wall import wall_rows
from cablewalk.cli.asrun_watch import View
from cablewalk.cli.asrun_web import html_of
from cablewalk.documents.actions import Action
from cablewalk.files.load import parse_procedure
from cablewalk.timeline.forecast import forecast
from cablewalk.timeline.trouble import by_cause, trouble_ahead
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry
from cablewalk.walk.asrun_state import Tracked

__all__ = ["log"]  # the fixture

CONFIGS = Path(__file__).resolve().parents[1] / "configs"


def impossible(path: Path, *options: object) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = shown("now", path, *options)["impossible"]
    return rows


def views(path: Path) -> dict[str, str]:
    """Return what each view of a log says, blanks and line ends taken together."""
    report = View(path).report()
    wall = "\n".join(row.text for row in wall_rows(report, 60, 200))
    texts = {"now": asrun("now", path).stdout, "wall": wall, "page": html_of(report, 5)}
    return {name: " ".join(text.split()) for name, text in texts.items()}


def test_a_plan_that_can_be_done_warns_of_nothing(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    assert impossible(log) == []
    assert not any(IMPOSSIBLE.lower() in text.lower() for text in views(log).values())


def test_the_next_action_that_cannot_be_done_is_told_with_why_and_what_is_legal(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:03")
    done("do", log, "s2/2", "--pet", "0:03")
    done("also", log, "fit_cap CP P1", "--pet", "0:04", "--who", "ev1")
    (row,) = impossible(log)
    assert row == {
        "phase": "swap", "phase_number": 1, "step": "s2", "action_number": 3, "people": ["ada"],
        "text": "mate P1 to J1", "is_next": True, "why": "P1 is capped with CP",
        "expected": "a bare half",
        "way_out": "legal now: remove_cap", "follows": ["s3"],
    }  # fmt: skip
    for name, text in views(log).items():
        assert IMPOSSIBLE.lower() in text.lower(), name
        assert "P1 is capped with CP" in text, name
        assert "legal now: remove_cap" in text, name
        cell = "<span class='tag'>NEXT</span></td><td data-head='What'>"
        mark = cell if name == "page" else "NEXT "
        assert f"{mark}s2/3 mate P1 to J1 [ada]" in text, name


def test_the_warning_goes_once_it_is_recorded_what_was_done_instead(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:03")
    done("also", log, "fit_cap CP P1", "--pet", "0:04", "--who", "ev1")
    assert impossible(log) != []
    done("do", log, "s2/3", "skipped", "-m", "it stays off", "--pet", "0:05")
    assert impossible(log) == []


def test_an_action_that_is_not_next_is_told_too_and_stands_behind(log: Path) -> None:
    # The mate is the third action of s2; the cover was to be released next.
    done("also", log, "found J1 capped C3", "-m", "a cap", "--pet", "0:01", "--who", "ev1")
    done("also", log, "walk hatch", "--pet", "0:02", "--who", "ev2")
    rows = impossible(log)
    assert {(r["step"], r["action_number"], r["is_next"]) for r in rows} == {
        ("s4", 1, True), ("s2", 3, False),
    }, "the cap on J1 stands in the way of the mate, not of a demate that is done"  # fmt: skip
    done("do", log, "s2/1", "skipped", "-m", "it was off", "--pet", "0:03")
    rows = impossible(log)
    assert [(r["step"], r["action_number"], r["is_next"]) for r in rows] == [
        ("s4", 1, True), ("s2", 3, False),
    ]  # fmt: skip
    text = views(log)["now"]
    assert f"s4/1 release COV (planned 0:00) - {IMPOSSIBLE}" in text
    assert f"s2/2 inspect J1 (planned 0:04) - {IMPOSSIBLE}" not in text


def test_steps_that_fail_for_want_of_it_are_named_with_it(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:04")
    done("also", log, "found J1 capped C3", "-m", "a cap", "--pet", "0:05", "--who", "ev1")
    (row,) = impossible(log)
    assert (row["step"], row["action_number"], row["why"]) == ("s2", 3, "J1 is capped with C3")
    assert row["follows"] == ["s3"], "the lamp cannot be verified"
    assert shown("now", log)["to_come"] == []


def test_what_a_phase_to_come_cannot_do_is_told_with_its_name() -> None:
    found = Entry(
        0, 2, "action", ZERO_S + 180, 180, ZERO_S, "t", None, (),
        Action(found={"P2": "bare", "J2": "capped CP"}, reason="off"), "found",
    )  # fmt: skip
    second = parse_procedure(AGAIN.encode(), "again.yaml", 2).model
    assert second is not None
    tracked = track(plans().ground, [*plans().procedures, second], [begin(), found])
    (row,) = trouble_ahead(tracked, 240).obstacles
    assert (row.phase.procedure.procedure, row.refused.task.step_id, row.place) == (
        "again",
        "a2",
        1,
    )


def test_what_becomes_live_and_bare_in_the_rest_is_told_as_soon_as_it_is_known(log: Path) -> None:
    """A mate left out: the switch-on that follows finds its contacts bare, and the test fails."""
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:04")
    said = done("do", log, "s2/3", "skipped", "-m", "no time", "--pet", "0:05")
    live, dark = "live-exposed: switch_on leaves bare contacts live: J1.1", "verify-failed: light"
    assert f"THE PLAN: step s3: {live}" in said and f"THE PLAN: step s3: {dark}" in said
    rows = shown("now", log)["to_come"]
    assert [(r["rule"], r["step"], r["severity"]) for r in rows] == [
        ("live-exposed", "s3", "error"), ("verify-failed", "s3", "error"),
    ]  # fmt: skip
    for name, text in views(log).items():
        assert f"step s3: {live}" in text and f"step s3: {dark}" in text, name
    again = done("do", log, "s2/2", "--pet", "0:06")
    assert "THE PLAN" not in again, "it is news once"
    done("also", log, "mate P1 to J1", "--who", "ev1", "--pet", "0:08")
    assert shown("now", log)["to_come"] == []


@pytest.mark.parametrize("which", ["P1", "P2", "J1", "ada", "SW1", "COV"])
def test_what_is_told_is_what_the_forecast_has(which: str) -> None:
    words = {"ada": "at hatch", "SW1": "blocked", "COV": "removed", "J1": "capped C3"}
    found = Entry(
        0, 2, "action", ZERO_S + 60, 60, ZERO_S, "t", None, (),
        Action(found={which: words.get(which, "bare")}, reason="seen"), "found",
    )  # fmt: skip
    tracked: Tracked = folded([begin(), found])
    ahead = forecast(tracked, 120)
    groups = by_cause(ahead.refused, ahead.guilty)
    told = trouble_ahead(tracked, 120).obstacles
    assert [row.refused for row in told] == [group[0] for group in groups]
    # Switched off and blocked it cannot be switched on; s2 is ada's at the bench, and mates J1.
    # A demate of what came off, and a cover opened that is gone, are done already.
    assert {which: len(told)} == {which: {"P1": 0, "P2": 0, "COV": 0}.get(which, 1)}


def test_two_things_in_the_way_of_one_step_are_told_both(tmp_path: Path) -> None:
    yard = BASELINE_OF_QUAY.replace("harnesses:", f"{YARD}harnesses:", 1)
    log = opened(tmp_path, TWO_THINGS, baseline=yard.replace("places:", "places:\n  yard: {}", 1))
    done("do", log, "t1", "--pet", "0:02")
    done("also", log, "demate Q1", "--who", "ann", "--pet", "0:05")
    done("also", log, "walk yard", "--who", "ann", "--pet", "0:06")
    said = done("also", log, "found SW1 tripped", "-m", "so", "--who", "gil", "--pet", "0:08")
    assert said.count("THE PLAN: step t2 becomes impossible") == 1
    rows = [(r["step"], r["action_number"], r["is_next"]) for r in impossible(log)]
    assert rows == [("t2", 1, True), ("t2", 3, True)]
    actors = shown("now", log)["actors"]
    assert {a["person"]: a["next_impossible"] for a in actors} == {
        "ann": "P1 is at dock, and ann at yard", "gil": "SW1 is tripped: it cannot switch_on",
    }  # fmt: skip
    for name, text in views(log).items():
        assert "SW1 is tripped: it cannot switch_on" in text, name
        assert text.upper().count(IMPOSSIBLE) == 3, f"{name}: the heading, and each of them"


YARD = "paths: {dock-yard: {between: [dock, yard], length_m: 3}}\n"
FOLLOWING = """steps:
  - {id: t1, by: gnd, say: free it, do: [{unblock: SW1}]}
  - {id: t2, by: ev, after: t1, say: on, do: [{switch_on: SW1}]}
"""


def test_what_is_next_and_cannot_be_done_for_the_sake_of_another_step_is_marked(
    tmp_path: Path,
) -> None:
    plan = TWO_THINGS[: TWO_THINGS.index("steps:")] + FOLLOWING
    log = opened(tmp_path, plan)
    done("also", log, "found SW1 tripped", "-m", "so", "--who", "gil", "--pet", "0:01")
    (row,) = impossible(log)
    assert (row["step"], row["follows"]) == ("t1", ["t2"])
    actors = {a["person"]: a["next_impossible"] for a in shown("now", log)["actors"]}
    assert actors["ann"] == "SW1 is tripped: it cannot switch_on"
    for name, text in views(log).items():
        assert f"{IMPOSSIBLE}: SW1 is tripped: it cannot switch_on" in text, name


def test_what_is_beneath_a_cover_that_stays_shut_follows_from_it(tmp_path: Path) -> None:
    log = tmp_path / "o.log"
    documents = (CONFIGS / "outpost.yaml", CONFIGS / "outing-1.yaml")
    asrun("open", log, *documents, "--zero", ZERO)
    for step, pet in (("1-10", "0:40"), ("1-11", "0:46"), ("1-20", "0:50")):
        asrun("do", log, step, "--pet", pet)
    said = asrun("do", log, "1-23", "--pet", "1:03").stdout  # before 1-21, which opens CVR-G
    assert said.count("becomes impossible") == 1 and "step 1-34: demate" in " ".join(said.split())
    (row,) = impossible(log, "--pet", "1:04")
    assert row["step"] == "1-21" and "1-34" in row["follows"]


def test_what_is_left_part_engaged_is_told_before_and_at_the_hand_over(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:04")
    done("do", log, "s2/3", "part-engaged", "-m", "stuck", "--pet", "0:06")
    assert [f["rule"] for f in shown("now", log)["to_come"]] == []
    skipped = done("do", log, "s2/3", "skipped", "-m", "no time", "--pet", "0:08")
    said = " ".join(skipped.split())
    assert "THE PLAN: part-engaged-at-end: J1 is left part-engaged with P1" in said
    assert "part-engaged-at-end" in [f["rule"] for f in shown("forecast", log)["to_come"]]
    told = [f for f in shown("now", log)["to_come"] if f["rule"] == "part-engaged-at-end"]
    assert [(f["severity"], f["items"]) for f in told] == [("error", ["J1", "P1"])]
    handed = asrun("handover", log, log.with_name("left.yaml"), "--json")
    assert handed.exit_code == 1 and "part-engaged-at-end" in handed.stdout


GO = """cablewalk: 1
procedure: swap
roles: {ev1: ada, gnd: gus}
minutes: {any: [1, 2, 4]}
planned_outages: {light: it is being worked on}
steps:
  - {id: g1, by: gnd, do: [switch_off: SW1, go_call: go-1]}
  - {id: g2, by: ev1, go: go-1, do: [demate: P1]}
"""


def test_a_go_that_was_skipped_is_no_go(tmp_path: Path) -> None:
    (tmp_path / "bench.yaml").write_text(BASELINE, encoding="utf-8")
    (tmp_path / "go.yaml").write_text(GO, encoding="utf-8")
    log = tmp_path / "go.log"
    done("open", log, tmp_path / "bench.yaml", tmp_path / "go.yaml", "--zero", ZERO)
    done("do", log, "g1/1", "--pet", "0:02")
    done("do", log, "g1/2", "skipped", "-m", "no voice", "--pet", "0:03")
    (ada,) = [a for a in shown("now", log)["actors"] if a["person"] == "ada"]
    assert ada["waits_for"] == ["g1"]
    said = " ".join(done("do", log, "g2", "--pet", "0:05").split())
    assert (
        "OUT OF ORDER: step g2 waits for the GO that step g1 was to give, and that was skipped"
        in said
    )
    row = next(r for r in shown("compare", log)["actions"] if r["step"] == "g2")
    assert row["deviations"] == ["out of order: step g1 skipped the GO it waits for"]
    done("also", log, "go_call go-1", "--who", "gus", "--pet", "0:04")
    row = next(r for r in shown("compare", log)["actions"] if r["step"] == "g2")
    assert row["deviations"] == []
