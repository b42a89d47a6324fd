"""What is done already is told so, and hinders nothing: a good join is never advised against."""

from __future__ import annotations

from pathlib import Path

import pytest
from asrun_quay import BASELINE, PROCEDURE, opened, quay
from test_asrun_commands import asrun, done, shown
from test_asrun_impossible import views

__all__ = ["quay"]  # the fixture


def half(log: Path, name: str, pet: str = "0:30") -> dict[str, object]:
    """Return the last row of a half in the connector log."""
    rows = [r for r in shown("connectors", log, "--pet", pet)["entries"] if r["half"] == name]
    last: dict[str, object] = rows[-1]
    return last


def test_the_lock_of_a_pair_that_was_mated_is_looked_at(quay: Path) -> None:
    done("do", quay, "s2/1", "--pet", "0:07")
    done("do", quay, "s2/2", "--pet", "0:09")
    push = ("--action", "mate P1 J1", "-m", "one push", "--pet", "0:11")
    said = done("do", quay, "s2/3", "differently", *push)
    assert "THE PLAN" not in said
    now = shown("now", quay, "--pet", "0:12")
    assert now["impossible"] == [] and now["to_come"] == []
    assert "demate" not in str(now["actors"][0]["next_text"])
    assert now["actors"][0]["next_impossible"] == now["actors"][0]["next_done_already"] == ""
    said = done("do", quay, "s2/4", "--pet", "0:13")
    assert "WARNING" not in said and "LOST" not in said


def test_what_was_overtaken_is_done_already_and_not_impossible(quay: Path) -> None:
    done("do", quay, "s2/1", "--pet", "0:07")
    found = ("--pet", "0:08", "--who", "ann", "-m", "it went home")
    said = done("also", quay, "found P1 mated J1", *found)
    assert "becomes impossible" not in said
    now = shown("now", quay, "--pet", "0:09")
    assert now["impossible"] == []
    (ann,) = [a for a in now["actors"] if a["person"] == "ann"]
    assert ann["next_text"] == "engage P1 to J1"
    assert ann["next_done_already"] == "P1 is mated with J1 already"
    for name, text in views(quay).items():
        assert "DONE ALREADY: P1 is mated with J1 already: record it skipped" in text, name
    ahead = shown("forecast", quay, "--pet", "0:09")
    assert not any(step["impossible"] for step in ahead["steps"])


def test_a_mate_beside_the_plan_with_the_rest_skipped_leaves_the_lock_to_look_at(
    quay: Path,
) -> None:
    done("do", quay, "s2/1", "--pet", "0:07")
    done("also", quay, "mate P1 J1", "--pet", "0:09", "--who", "ann")
    for action in ("s2/2", "s2/3"):
        said = done("do", quay, action, "skipped", "-m", "mated", "--pet", "0:10")
        assert "impossible" not in said
    assert shown("now", quay, "--pet", "0:11")["impossible"] == []


def test_a_lock_of_halves_that_are_apart_is_still_impossible(quay: Path) -> None:
    done("do", quay, "s2/1", "--pet", "0:07")
    for action in ("s2/2", "s2/3"):
        done("do", quay, action, "skipped", "-m", "no time", "--pet", "0:10")
    (row,) = shown("now", quay, "--pet", "0:11")["impossible"]
    assert (row["step"], row["action_number"]) == ("s2", 4)


# -- a lock that was verified as the halves were seated ----------------------------------


@pytest.mark.parametrize("also", [False, True])
def test_a_seat_with_its_lock_verified_is_mated(quay: Path, also: bool) -> None:
    done("do", quay, "s2/1", "--pet", "0:07")
    done("do", quay, "s2/2", "--pet", "0:09")
    what = ("also", quay, "seat P1 J1", "--who", "ann") if also else ("do", quay, "s2/3")
    said = done(*what, "--lock", "--pet", "0:11")
    assert "WARNING" not in said
    row = half(quay, "P1")
    assert (row["did"], row["state"], row["lock_verified"]) == ("seat", "mated", "yes")
    left = quay.with_name("left.yaml")
    asrun("handover", quay, left, "--pet", "0:12")
    text = left.read_text(encoding="utf-8")
    assert "unverified" not in text and "P1: J1" in text


def test_a_seat_of_which_nobody_said_it_stays_unverified(quay: Path) -> None:
    for number, pet in ((1, "0:07"), (2, "0:09"), (3, "0:11")):
        done("do", quay, f"s2/{number}", "--pet", pet)
    assert half(quay, "P1")["state"] == "unverified"


def test_part_engaged_with_its_lock_verified_is_a_slip_of_the_pen(quay: Path) -> None:
    done("do", quay, "s2/1", "--pet", "0:07")
    said = asrun("do", quay, "s2/2", "part-engaged", "--lock", "--pet", "0:09", "-m", "x")
    assert said.exit_code == 2
    assert "no lock can be verified of halves that are part-engaged" in said.stderr


def test_a_lock_is_said_of_what_has_one(quay: Path) -> None:
    for number in (1, 2):
        said = asrun("do", quay, f"s2/{number}", "--lock", "--pet", "0:07")
        assert said.exit_code == 2 and "no lock is verified as halves" in said.stderr
    done("do", quay, "s2", "--lock", "--pet", "0:12")
    rows = [r for r in shown("connectors", quay, "--pet", "0:12")["entries"] if r["half"] == "P1"]
    assert [(r["did"], r["lock_verified"], r["state"]) for r in rows] == [
        ("demate", "", "bare"), ("engage", "", "part_engaged"), ("seat", "yes", "mated"),
        ("lock", "yes", "mated"),
    ]  # fmt: skip


# -- long after ---------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["now", "forecast", "watch", "handover"])
def test_a_log_of_years_ago_can_be_looked_at(tmp_path: Path, command: str) -> None:
    log = opened(tmp_path, zero="2023-01-01T00:00:00Z")
    more: dict[str, object] = {"watch": "--once", "handover": tmp_path / "left.yaml"}
    said = asrun(command, log, *[more[name] for name in more if name == command])
    assert said.exit_code in (0, 1) and "PET 3" in said.stdout
    assert asrun("now", log, "--pet", "90000:00").exit_code in (0, 1)
    for year in ("9999", "0001"):
        never = asrun("forecast", log, "--utc", f"{year}-12-31T23:59:59Z")
        assert never.exit_code == 2 and "in no year from 1900 to 8999" in never.stderr


# -- what was done off the plan ------------------------------------------------------------


def test_a_planned_demate_done_off_the_plan_is_done_already(quay: Path) -> None:
    said = done("also", quay, "demate P1", "--pet", "0:06", "--who", "ann")
    assert "impossible" not in said
    now = shown("now", quay, "--pet", "0:07")
    assert now["impossible"] == []
    (ann,) = [a for a in now["actors"] if a["person"] == "ann"]
    assert (ann["next_text"], ann["next_impossible"]) == ("demate P1", "")
    assert ann["next_done_already"] == "P1 is bare already"
    for name, text in views(quay).items():
        assert "DONE ALREADY: P1 is bare already: record it skipped" in text, name
    ahead = shown("forecast", quay, "--pet", "0:07")
    assert not any(step["impossible"] for step in ahead["steps"])
    done("do", quay, "s2/1", "skipped", "-m", "done before", "--pet", "0:08")
    (ann,) = [a for a in shown("now", quay, "--pet", "0:09")["actors"] if a["person"] == "ann"]
    assert (ann["next_text"], ann["next_done_already"]) == ("engage P1 to J1", "")


MORE = (
    ("people: {ann: outside,", "caps: {C1: K2}\npeople: {ann: outside,"),
    ("      K1: {", "      K2: p2 socket\n      K1: {"),
    ("places:\n  dock:\n", "places:\n  dock:\n    covers: {LID: {fasteners: 4}}\n"),
)


def begun(path: Path, steps: str, *found: str) -> Path:
    """Begin a log of the quay, with a cap and a cover more, whose things were found so."""
    text = BASELINE
    for old, new in MORE:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    log = opened(path, PROCEDURE[: PROCEDURE.index("steps:")] + steps, baseline=text)
    for words in found:
        done("also", log, f"found {words}", "--pet", "0:01", "--who", "ann", "-m", "it was so")
    return log


@pytest.mark.parametrize(
    ("found", "planned", "so"),
    [
        ("P1 bare", "demate: P1", "P1 is bare already"),
        ("SW1 off", "unblock: SW1", "SW1 is off already"),
        ("LID open", "open: LID", "LID is open already"),
        ("LID removed", "open: LID", "LID is removed already"),
        ("LID released", "release: LID", "LID is released already"),
        ("LID open", "release: {LID: 4}", "LID is open already"),
        ("LID fastened", "fasten: LID", "LID is fastened already"),
        ("K2 capped C1", "fit_cap: {C1: K2}", "K2 is capped with C1 already"),
        ("C1 tethered", "remove_cap: C1", "C1 is tethered to K2 already"),
        ("SRC2 removed", "remove: SRC2", "SRC2 is removed already"),
        ("P1 routed", "restore: P1", "P1 is routed at dock already"),
    ],
)
def test_whatever_holds_already_is_not_impossible(
    tmp_path: Path, found: str, planned: str, so: str
) -> None:
    steps = f"steps:\n  - {{id: a1, by: ev, say: x, do: [{{{planned}}}]}}\n"
    log = begun(tmp_path, steps, found)
    now = shown("now", log, "--pet", "0:03")
    (ann,) = [a for a in now["actors"] if a["person"] == "ann"]
    assert (now["impossible"], ann["next_done_already"]) == ([], so)


def test_what_does_not_hold_yet_is_still_impossible(tmp_path: Path) -> None:
    steps = "steps:\n  - {id: a1, by: ev, say: x, do: [{open: LID}]}\n"
    (row,) = shown("now", begun(tmp_path, steps), "--pet", "0:03")["impossible"]
    assert (row["step"], row["is_next"]) == ("a1", True)


def test_what_an_impossible_action_left_so_is_not_done_already(tmp_path: Path) -> None:
    """P1 stays bare for the cap on J1: nobody did the demate that comes after the mate."""
    steps = """steps:
  - {id: a1, by: ev, say: x, do: [{mate: {P1: J1}}]}
  - {id: a2, by: ev, say: x, do: [{demate: P1}]}
"""
    log = begun(tmp_path, steps, "P1 bare", "J1 capped C1")
    (row,) = shown("now", log, "--pet", "0:03")["impossible"]
    assert (row["step"], row["follows"]) == ("a1", ["a2"])


def test_a_demate_done_already_takes_nothing_down_that_was_found_up(quay: Path) -> None:
    done("also", quay, "demate P1", "--pet", "0:06", "--who", "ann")
    done("also", quay, "found light up", "--pet", "0:07", "--who", "gil", "-m", "it shines")
    rows = shown("forecast", quay, "--pet", "0:08")["outages"]
    lost = [row["from_pet"]["pet"] for row in rows if row["service"] == "light"]
    assert "0:08" not in lost, "nothing is parted as the demate comes"
