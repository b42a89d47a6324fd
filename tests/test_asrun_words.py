"""What the commands of a log say: no word that is not so, and none too often."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from asrun_bench import plans
from asrun_quay import opened, quay
from test_asrun_commands import ZERO, asrun, done, log, shown
from test_asrun_impossible import views

from cablewalk.cli.asrun_telling import Telling
from cablewalk.logbook.log import Log
from cablewalk.logbook.run import run_of

__all__ = ["log", "quay"]  # the fixtures

LATER = """cablewalk: 1
procedure: later
roles: {ev: ann, gnd: gil}
minutes: {any: [1, 2, 3]}
gap_min: 60
steps:
  - {id: 2-01, by: ev, say: look, do: [{inspect: K1}]}
"""


def test_a_step_of_a_phase_to_come_is_begun_first(tmp_path: Path) -> None:
    opened(tmp_path)
    (tmp_path / "later.yaml").write_text(LATER, encoding="utf-8")
    path = tmp_path / "both.log"
    documents = [tmp_path / name for name in ("quay.yaml", "plan.yaml", "later.yaml")]
    done("open", path, *documents, "--zero", ZERO)
    for what in ("2-01", "2-01/1"):
        said = asrun("do", path, what, "--pet", "0:05")
        assert said.exit_code == 2
        assert f"{what} is of later, which has not begun: 'cablewalk asrun begin'" in said.stderr
    assert "there is no step" in asrun("do", path, "9-99", "--pet", "0:05").stderr


def test_what_recovers_counts_as_back_later(quay: Path) -> None:
    for number, pet in ((1, "0:07"), (2, "0:09"), (3, "0:11"), (4, "0:12")):
        done("do", quay, f"s2/{number}", "--pet", pet)
    done("do", quay, "s3/1", "--pet", "0:14")
    said = " ".join(done("do", quay, "s3/2", "--pet", "0:16").split())
    assert "BACK light (power): down → up unproven, recovers, and counts as back at 0:26" in said
    assert "BACK radio (data): down → up, recovers, and counts as back at 0:31" in said


def test_what_does_not_recover_is_back_at_once(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    said = done("also", log, "switch_on SW1", "--who", "gus", "--pet", "0:05")
    assert "BACK" in said and "recovers" not in said


def test_an_open_item_tells_what_it_is_about(log: Path) -> None:
    items = ("--item", "J1", "--item", "COV")
    done("note", log, "--open", *items, "pin 3 looks dark", "--pet", "0:03")
    for name, text in views(log).items():
        assert "pin 3 looks dark - about J1, COV" in text, name
    page = " ".join(
        asrun("handover", log, log.with_name("left.yaml"), "--pet", "0:04").stdout.split()
    )
    assert "pin 3 looks dark - about J1, COV" in page


def test_who_never_said_what_was_seen_is_told_what_others_recorded(log: Path) -> None:
    done("do", log, "ev1", "--by", "ann", "--pet", "0:05")
    said = asrun("do", log, "ev1", "--by", "bea", "--pet", "0:07")
    assert said.exit_code == 1 and "looked" not in said.stderr.partition("Look again")[0]
    assert "was recorded by others, and you may not know it:" in said.stderr
    said = asrun("do", log, "ev1", "--by", "bea", "--pet", "0:07", "--seen", "1")
    assert said.exit_code == 1 and "was recorded since then:" in said.stderr


def test_a_note_beside_a_record_is_made_once_however_often_it_is_drafted(
    log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Log(log) as file:
        run = run_of(file, plans())
    telling = Telling("", None, None, None, None, (), "", "", None, None, "ann", None)
    for _ in range(3):  # others were quicker, twice
        assert telling.last_if_far_off(run.tracked) is not None
    assert capsys.readouterr().err.count("nobody said when") == 1
    ahead = replace(telling, noted=set())
    assert ahead.last_if_far_off(run.tracked) is not None
    assert capsys.readouterr().err.count("nobody said when") == 1, "of another record, again"


def test_actions_of_a_step_whose_minutes_were_told_as_one_are_told_apart(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2", "--pet", "0:12", "--took", "9")
    left = log.with_name("left.yaml")
    report = shown("handover", log, left)
    assert (report["without_begin"], report["told_as_one"]) == (1, 3)
    page = " ".join(asrun("handover", log, left, "--force").stdout.split())
    assert "1 actions done count in no minutes: nobody said when they began" in page
    assert "3 actions done count in no minutes: it was said how long they took together" in page
