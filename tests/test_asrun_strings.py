"""One string of a redundant service found down, or up again: the service is what the others make.

The sensors' service has two strings, one and two, and needs one of them.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from asrun_shelf import BASELINE, PROCEDURE, opened
from test_asrun_commands import asrun, done, shown

SHOWN = "  shown: {kind: data, needs: sens, lines: [CPU.d1 to PMP.d1]}\nnow:\n"
"""A service that needs the sensors."""

LATER = PROCEDURE.replace("do: [inspect: P3]", "do: [demate: D2-B, mate: {D2-B: P4}]")
"""As the procedure, but the second string is parted and joined again at its end."""


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    return opened(tmp_path)


def found(log: Path, words: str, pet: str = "0:00") -> str:
    return done("also", log, f"found {words}", "-m", "seen on the screen", "--pet", pet)


def state(log: Path, service: str = "sens", pet: str = "0:10") -> str:
    now = shown("now", log, "--pet", pet)
    own = [row["state"] for row in now["not_whole"] if row["service"] == service]
    return (
        "down"
        if service in {row["outage"]["service"] for row in now["down"]}
        else (own or ["up"])[0]
    )


def strings(log: Path) -> dict[str, str]:
    (row,) = [
        row for row in shown("now", log, "--pet", "0:10")["not_whole"] if row["service"] == "sens"
    ]
    return {s["string"]: s["standing"] for s in row["strings"]}


def test_a_string_found_down_leaves_the_service_reduced(shelf: Path) -> None:
    said = " ".join(found(shelf, "sens.one down").split())
    assert "REDUCED" in said and "sens" in said
    assert "log 1.2: found sens.one down: seen on the screen" in said
    assert "expected: sens.one up" in said
    assert state(shelf) == "reduced"
    assert strings(shelf) == {"one": "down", "two": "up"}


def test_the_last_string_found_down_takes_the_service_down(shelf: Path) -> None:
    found(shelf, "sens.one down")
    assert "LOST" in found(shelf, "sens.two down", "0:01")
    assert state(shelf) == "down"
    assert "BACK" in found(shelf, "sens.one up", "0:02")
    assert state(shelf).startswith("reduced")


def test_a_string_found_up_again_owes_a_test(shelf: Path) -> None:
    found(shelf, "sens.one down")
    found(shelf, "sens.one up", "0:01")
    assert state(shelf) == "up unproven"
    done("also", shelf, "verify sens", "--who", "in", "--pet", "0:02")
    assert state(shelf) == "up"


def test_a_test_of_the_service_does_not_revive_a_dead_string(shelf: Path) -> None:
    found(shelf, "sens.one down")
    done("also", shelf, "verify sens", "--who", "in", "--pet", "0:01")
    assert state(shelf) == "reduced"
    found(shelf, "sens.one up", "0:02")
    assert state(shelf) == "up unproven"


def test_a_service_all_of_whose_strings_were_found_down_is_back_as_it_is_tested(
    shelf: Path,
) -> None:
    found(shelf, "sens.one down")
    found(shelf, "sens.two down", "0:01")
    done("also", shelf, "verify sens", "--who", "in", "--pet", "0:02")
    assert state(shelf) == "up"


def test_a_service_found_up_has_all_its_strings_up(shelf: Path) -> None:
    found(shelf, "sens.one down")
    found(shelf, "sens up", "0:01")
    assert state(shelf) == "up unproven"


def test_the_other_string_parted_takes_the_service_down_and_what_needs_it(tmp_path: Path) -> None:
    log = opened(tmp_path, baseline=BASELINE.replace("now:\n", SHOWN))
    done("do", log, "a1", "--pet", "0:04")
    done("do", log, "a3", "--pet", "0:06")
    found(log, "sens.one down", "0:06")
    assert state(log, "shown", "0:06") == "reduced"
    said = done("also", log, "demate D2-B", "--who", "e2", "--began", "0:07", "--pet", "0:08")
    assert "!! NOT PLANNED !! LOST" in said and "shown" in said
    assert state(log) == state(log, "shown") == "down"


def test_the_rest_of_the_plan_goes_by_the_dead_string(tmp_path: Path) -> None:
    """The plan parts the second string later: harmless, but for the first that was found down."""
    log = opened(tmp_path, LATER)
    quiet = shown("forecast", log, "--pet", "0:00")
    assert not [f for f in quiet["to_come"] if "sens" in f["items"] and f["severity"] == "error"]
    assert "THE PLAN" in found(log, "sens.one down")
    ahead = shown("forecast", log, "--pet", "0:00")
    lost = [f for f in ahead["to_come"] if f["rule"] == "unplanned-loss"]
    assert [f["items"] for f in lost] == [["sens"]]


def test_found_reduced_says_that_it_changed_nothing_and_how_to_record_it(shelf: Path) -> None:
    said = " ".join(found(shelf, "sens reduced").split())
    assert "which of its strings is down is not said" in said
    assert "'found sens.one down' or 'found sens.two down'" in said
    assert "the model stays as it was" in said
    assert state(shelf) == "up"


def test_no_such_string(shelf: Path) -> None:
    words = ("-m", "seen", "--pet", "0:00")
    told = asrun("also", shelf, "found sens.three down", *words)
    assert told.exit_code == 2 and "did you mean sens.two?" in told.output
    told = asrun("also", shelf, "found sens.one reduced", *words)
    assert told.exit_code == 2 and "up or down" in told.output
    told = asrun("also", shelf, "verify sens.one down", *words, "--who", "in")
    assert told.exit_code == 2 and "Traceback" not in told.output


def test_a_correction_takes_a_dead_string_back(shelf: Path) -> None:
    found(shelf, "sens.one down")
    done("correct", shelf, "1.2", "--void", "-m", "the other screen")
    assert state(shelf) == "up"


def test_a_dead_string_that_no_baseline_can_carry_is_told_as_it_is_handed_over(shelf: Path) -> None:
    found(shelf, "sens.one down")
    left = shelf.with_name("left.yaml")
    told = asrun("handover", shelf, left, "--pet", "0:10")
    words = " ".join(told.output.split())
    assert "string-not-handed-over" in words and "'found sens.one down' in the next log" in words
    done("also", shelf, "found sens.one up", "-m", "after a reset", "--pet", "0:11")
    again = asrun("handover", shelf, left, "--pet", "0:12", "--force")
    assert "string-not-handed-over" not in again.output


def test_of_a_joint_action_recorded_for_one_the_other_is_told(tmp_path: Path) -> None:
    """The plan has both walk; the log cannot know that the other did."""
    day = opened(tmp_path, PROCEDURE)
    done("do", day, "a1/1", "--pet", "0:01")
    told = done("do", day, "a1/2", "--who", "e1", "--pet", "0:02")
    assert "JOINT: the plan has penn in it too; they stay as the log had them" in told
    assert "JOINT" not in done("do", day, "a1/3", "--pet", "0:03")
    (tmp_path / "both").mkdir()
    both = opened(tmp_path / "both", PROCEDURE)
    done("do", both, "a1/1", "--pet", "0:01")
    assert "JOINT" not in done("do", both, "a1/2", "--pet", "0:02")


def test_what_has_no_states_is_told_so(shelf: Path) -> None:
    told = asrun("also", shelf, "found K2 lost", "-m", "seen", "--pet", "0:00")
    words = " ".join(told.output.split())
    assert told.exit_code == 2
    assert "a harness has no states; say the id of an item that has states" in words
