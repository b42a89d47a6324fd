"""The baseline as left is one the next phase can be replayed from, and says so where it is not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from asrun_bench import new_log
from test_asrun_demo import CONFIGS, ZERO, asrun

from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.logbook.log import Log
from cablewalk.logbook.run import run_of
from cablewalk.reports.asrun_left import faults_of
from cablewalk.walk.run import ready, replay

REST = (
    ("1-22", "1:05"), ("1-23", "1:19"), ("1-30", "1:24"), ("1-31", "1:25"), ("1-32", "1:58"),
    ("1-33", "2:20"), ("1-34", "2:45"), ("1-40", "3:00"), ("1-41", "3:05"), ("1-50", "3:10"),
    ("1-51", "3:20"), ("1-52", "3:25"), ("1-60", "4:10"),
)  # fmt: skip


@pytest.fixture(scope="module")
def surprised(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the log of an outing whose tray was found fastened, and all was done all the same."""
    log = tmp_path_factory.mktemp("left") / "o1.log"
    documents = (CONFIGS / "outpost.yaml", CONFIGS / "outing-1.yaml")
    asrun("open", log, *documents, "--zero", ZERO, "--by", "iv")
    for step, pet in (("1-01", "-0:26"), ("1-02", "-0:19"), ("1-10", "0:40"), ("1-11", "0:46")):
        asrun("do", log, step, "--pet", pet, "--by", "iv")
    for step, pet in (("1-20", "0:50"), ("1-21", "1:03")):
        asrun("do", log, step, "--pet", pet, "--by", "iv")
    found = ("found", "TRAY", "part_fastened", "5", "--who", "ev2", "-m", "one stands proud")
    result = asrun("also", log, *found, "--pet", "1:04", "--by", "iv")
    assert result.exit_code == 0, result.output
    for step, pet in REST:
        result = asrun("do", log, step, "--pet", pet, "--by", "iv")
        assert result.exit_code == 0, result.output
    return log


def test_after_a_surprise_the_second_outing_can_be_replayed(surprised: Path) -> None:
    left = surprised.with_name("left1.yaml")
    result = asrun("handover", surprised, left, "--utc", "2031-05-06T18:30:00Z")
    assert result.exit_code == 0, result.output
    assert "N1-P3: rurik" not in left.read_text(), "who went away had let it go"
    now = json.loads(asrun("now", surprised, "--json", "--pet", "4:30").stdout)
    assert all("N1-P3" not in actor["holds"] for actor in now["actors"])
    baseline = load_baseline(left).model
    procedure = load_procedure(CONFIGS / "outing-2.yaml", 1).model
    assert baseline is not None and procedure is not None
    trace = replay(ready(baseline), [procedure])
    assert not trace.stopped and not trace.findings.has_errors


def test_what_cannot_be_at_once_is_told_before_it_is_handed_on(tmp_path: Path) -> None:
    """A baseline that says so itself: nothing recorded can lead there."""
    text = (CONFIGS / "outpost.yaml").read_text()
    wrong = text.replace("\nnow:\n", "\nnow:\n  in_hand: {L1-P3: rurik}\n", 1)
    assert wrong != text
    base, log, left = (tmp_path / name for name in ("b.yaml", "o.log", "left.yaml"))
    base.write_text(wrong)
    opened = asrun("open", log, base, CONFIGS / "outing-1.yaml", "--zero", ZERO)
    assert opened.exit_code == 0, opened.output
    result = asrun("handover", log, left, "--pet", "0:00", "--json")
    assert result.exit_code == 1
    rows = [f for f in json.loads(result.stdout)["findings"] if f["file"] == str(left)]
    assert [row["rule"] for row in rows] == ["as-left-contradicts"]
    assert "L1-P3 is mated with KP-J1 at keel, and its leg is in_hand rurik" in rows[0]["found"]
    assert "cannot be replayed on as it is" in result.stderr


def test_a_text_that_reads_otherwise_is_told(tmp_path: Path) -> None:
    with Log(new_log(tmp_path / "a.log")) as log:
        tracked = run_of(log).tracked
        text = log.documents[0].raw.decode()
    assert faults_of(text, "x", tracked) == ()
    (row,) = faults_of(text.replace("on: [SW1]", "off: [SW1]"), "x", tracked)
    assert (row.rule, "SW1" in row.found) == ("as-left-differs", True)
    rows = faults_of(text.replace("P1: J1", "P1: J99"), "x", tracked)
    assert {row.severity for row in rows} == {"error"} and rows


def test_what_was_dark_for_more_than_a_baseline_can_say_is_handed_over_all_the_same(
    tmp_path: Path,
) -> None:
    """The heater is off since the first step, and the log is handed over four years later."""
    log, left = tmp_path / "o1.log", tmp_path / "left.yaml"
    documents = (CONFIGS / "outpost.yaml", CONFIGS / "outing-1.yaml")
    asrun("open", log, *documents, "--zero", "2020-05-06T14:00:00Z", "--by", "iv")
    for step, pet in (("1-01", "-0:26"), ("1-02", "-0:19")):
        assert asrun("do", log, step, "--pet", pet, "--by", "iv").exit_code == 0
    result = asrun("handover", log, left, "--utc", "2024-05-06T14:00:00Z")
    assert result.exit_code in (0, 1), result.output
    model = load_baseline(left).model
    assert model is not None
    assert model.now.dark_min["cam-power"] == 1_000_000
    words = " ".join(result.stdout.split())
    assert "as-left-clipped" in words and "the baseline as left says 1,000,000" in words


def test_what_was_found_up_against_its_joins_is_said_as_it_is_handed_over(tmp_path: Path) -> None:
    """Its switch is recorded off: the baseline can only have it down, and that is told."""
    log, left = tmp_path / "o1.log", tmp_path / "left.yaml"
    documents = (CONFIGS / "outpost.yaml", CONFIGS / "outing-1.yaml")
    asrun("open", log, *documents, "--zero", ZERO, "--by", "iv")
    for step, pet in (("1-01", "-0:26"), ("1-02", "-0:19")):
        assert asrun("do", log, step, "--pet", pet, "--by", "iv").exit_code == 0
    plain = asrun("handover", log, tmp_path / "before.yaml", "--pet", "-0:18")
    assert "up-against-joins" not in plain.output
    found = ("found", "cam-power", "up", "--who", "gnd", "-m", "the camera answers")
    assert asrun("also", log, *found, "--pet", "-0:10", "--by", "iv").exit_code == 0
    result = asrun("handover", log, left, "--pet", "0:05")
    assert "up-against-joins" in result.output, result.output
    words = " ".join(result.output.split())
    assert "cam-power was found up, and as everything else is recorded it is down" in words
