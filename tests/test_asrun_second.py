"""What a second person at the same log is told."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from asrun_bench import DOCUMENTS
from test_asrun_demo import CONFIGS, asrun

from cablewalk.logbook.log import Log

ZERO = "2031-05-06T14:00:00Z"


@pytest.fixture
def log(tmp_path: Path) -> Path:
    for document in DOCUMENTS:
        (tmp_path / document.name).write_bytes(document.raw)
    path = tmp_path / "a.log"
    names = [tmp_path / document.name for document in DOCUMENTS]
    assert asrun("open", path, *names, "--zero", ZERO, "--by", "ann").exit_code == 0
    assert asrun("do", path, "s1", "--pet", "0:02", "--by", "ann").exit_code == 0
    assert asrun("do", path, "s2/1", "--pet", "0:05", "--by", "ann").exit_code == 0
    return path


def test_an_entry_taken_back_is_told_as_what_never_happened(log: Path) -> None:
    void = asrun("correct", log, "1.3", "--void", "-m", "was another", "--by", "ann")
    assert void.exit_code == 0, void.output
    again = asrun("do", log, "s2/1", "--pet", "0:06", "--by", "ben", "--seen", "3")
    assert again.exit_code == 1
    said = " ".join(again.stderr.split())
    assert "takes back 1.3, which never happened: demate P1" in said
    assert "demate P1: done" not in said
    rows = list(csv.DictReader(io.StringIO(asrun("export", log).stdout)))
    assert [row["outcome"] for row in rows[-2:]] == ["done", "never happened"]
    assert rows[-2]["corrected_by"] == "1.4"
    now = asrun("now", log, "--pet", "0:06").stdout
    assert "takes back 1.3, which never happened" in " ".join(now.split())


def test_more_events_than_there_are_cannot_have_been_seen(log: Path) -> None:
    said = asrun("do", log, "s2/2", "--pet", "0:06", "--seen", "99")
    assert said.exit_code == 2
    assert "you cannot have seen 99 events: the log has 3" in said.stderr
    with Log(log) as file:
        assert file.count() == 3
    assert asrun("do", log, "s2/2", "--pet", "0:06", "--seen", "3").exit_code == 0


def test_what_follows_for_the_plan_stands_beneath_its_cause_once(tmp_path: Path) -> None:
    log = tmp_path / "o.log"
    documents = (CONFIGS / "outpost.yaml", CONFIGS / "outing-1.yaml")
    asrun("open", log, *documents, "--zero", ZERO, "--by", "iv")
    for step, pet in (("1-10", "0:40"), ("1-11", "0:46"), ("1-20", "0:50"), ("1-21", "1:03")):
        asrun("do", log, step, "--pet", pet, "--by", "iv")
    tray = ("found", "TRAY", "part_fastened", "5", "--who", "ev2", "--by", "iv")
    said = asrun("also", log, *tray, "--pet", "1:04", "-m", "one stands proud").stdout
    assert said.count("THE PLAN: ") == 1
    text = " ".join(said.split())
    assert "step 1-23 becomes impossible: route: N1.N1-P3 is beneath TRAY" in text
    beneath = text[text.index("and what follows from it:") :]
    assert beneath.count("- step ") == beneath.count("- step 1-") >= 3
    for step in ("1-23: tie", "1-34: walk", "1-51: restore, close, fasten"):
        assert beneath.count(f"- step {step}") == 1
    ahead = " ".join(asrun("forecast", log, "--pet", "1:05").stdout.split())
    ahead = ahead[ahead.index("WHAT THE REST WILL BRING") :]
    assert ahead.count("ERROR refused") == 1 and "- step 1-34: refused: walk" in ahead
    again = asrun("also", log, *tray, "--pet", "1:06", "-m", "still so").stdout
    assert "found-otherwise" not in again and "THE PLAN" not in again, "nothing is new"


def test_items_of_a_finding_are_named_once(log: Path) -> None:
    said = asrun("also", log, "found COV released", "--who", "ev2", "--pet", "0:06", "-m", "so")
    assert "found-otherwise" in said.stdout
    rows = json.loads(asrun("now", log, "--json", "--pet", "0:07").stdout)["findings"]
    assert [row["items"] for row in rows if row["rule"] == "found-otherwise"] == [["COV"]]


def test_nobody_said_when_and_the_clock_is_years_away(log: Path) -> None:
    """The log begins in 2031 by its own word: this computer's clock is no time of it."""
    said = asrun("do", log, "s2/2")
    assert said.exit_code == 2
    assert "nobody said when" in said.stderr and "--pet" in said.stderr
    assert asrun("also", log, "inspect J1", "--who", "ev1").exit_code == 2
    assert asrun("correct", log, "1.3", "--void", "-m", "no").exit_code == 0, "it keeps its time"
    assert asrun("do", log, "s2/1", "--pet", "0:06").exit_code == 0


@pytest.mark.parametrize("hours", [-60, -40, 40, 60])
def test_the_clock_is_taken_up_to_two_days_outside_the_phase(log: Path, hours: int) -> None:
    zero = datetime.now(UTC) + timedelta(hours=hours)
    later = log.with_name("b.log")
    names = [log.with_name(document.name) for document in DOCUMENTS]
    asrun("open", later, *names, "--zero", f"{zero:%Y-%m-%dT%H:%M:%SZ}")
    assert asrun("do", later, "gnd").exit_code == (0 if abs(hours) < 48 else 2)


def test_a_moment_before_the_last_entry_is_told(log: Path) -> None:
    early, late = (asrun("now", log, "--pet", pet) for pet in ("0:01", "0:09"))
    assert "note: entries go on to PET 0:05: told as of then, not as of 0:01" in early.stderr
    assert "PET 0:05" in early.stdout
    assert late.stderr == ""
