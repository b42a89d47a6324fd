"""What was seen otherwise than thought, was tried in vain, or is of a phase before: told aright."""

from __future__ import annotations

from pathlib import Path

from asrun_shelf import BASELINE, PROCEDURE, lived, opened
from test_asrun_commands import asrun, done, shown


def test_found_parked_says_with_what(tmp_path: Path) -> None:
    """K1-A is mated with no parking half: where it is parked nobody can know."""
    words = ("-m", "seen", "--pet", "0:00")
    log = opened(tmp_path)
    said = " ".join(done("also", log, "found K1-A parked", *words).split())
    assert "is found parked, but with what is not said" in said
    assert "'parked ID' with the id of a parking half" in said
    assert "UNPROVEN" not in said


def test_a_look_that_sets_the_model_right_is_no_error(tmp_path: Path) -> None:
    log = lived(opened(tmp_path), "a2")
    done("also", log, "found D1-A unverified", "-m", "seen", "--pet", "0:07", "--who", "e1")
    who = ("--who", "e1", "--pet", "0:08")
    said = done("also", log, "verify D1-A mated B3", *who)
    assert "WARNING found-otherwise" in said and "ERROR" not in said
    assert {f["rule"] for f in shown("now", log, "--pet", "0:08")["findings"]} == {
        "found-otherwise"
    }


def test_a_mate_the_model_held_impossible_and_that_failed_counts(tmp_path: Path) -> None:
    """The model has the cover closed; the halves met all the same. B1 had two mates before."""
    log = lived(opened(tmp_path), "a1")
    done("also", log, "found K1-A bare", "-m", "seen", "--pet", "0:05", "--who", "e1")
    said = done("do", log, "a4/6", "failed", "-m", "it stops", "--pet", "0:08", "--who", "e1")
    assert "the model too has it impossible" in " ".join(said.split())
    assert "B1: 3 mates in all (2 before)" in asrun("connectors", log, "--pet", "0:09").stdout


def test_a_step_of_a_phase_before_is_named(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(BASELINE, encoding="utf-8")
    (tmp_path / "day.yaml").write_text(PROCEDURE, encoding="utf-8")
    second = PROCEDURE.replace("procedure: p1", "procedure: p2\ngap_min: 0")
    second = second.replace("assumes: marrow", "assumes: p1").replace("id: a9", "id: z9")
    second = second.replace("after: a9", "after: z9")
    (tmp_path / "next.yaml").write_text(second, encoding="utf-8")
    log = tmp_path / "d.log"
    names = [tmp_path / f"{name}.yaml" for name in ("shelf", "day", "next")]
    done("open", log, *names, "--zero", "2031-03-01T10:00:00Z")
    done("begin", log, "--zero", "2031-03-02T10:00:00Z")
    told = asrun("do", log, "a9/1", "--pet", "0:01")
    assert told.exit_code == 2
    assert "a9/1 is of p1, a phase before" in told.output and "asrun also" in told.output
