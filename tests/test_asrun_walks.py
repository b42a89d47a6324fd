"""What is still to do takes its walks from where people really are, and without get-aheads."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from asrun_shelf import BASELINE, PROCEDURE, lived, opened
from test_asrun_commands import done, shown

HOME = PROCEDURE.replace("[walk: mid, tie: {K2.main: T2}]", "[walk: lock]")
"""As the procedure, but a get-ahead takes penn home, 20 m further than he is then."""

FAR = BASELINE.replace("lock box, length_m: 10", "lock box, length_m: 200")


@pytest.fixture
def far(tmp_path: Path) -> Path:
    return opened(tmp_path, HOME, FAR)


def step(report: dict[str, Any], name: str) -> tuple[str, str]:
    (row,) = [row for row in report["steps"] if row["step"] == name]
    return row["begin_pet"], row["end_pet"]


def test_a_fresh_log_is_not_behind_for_a_get_ahead_nobody_does(far: Path) -> None:
    (phase,) = shown("forecast", far, "--pet", "-0:10")["phases"]
    assert phase["behind_min"] == 0


def test_a_get_ahead_that_enters_has_its_walks(far: Path) -> None:
    """Home, 220 m at 10 m/min from 1:25, and out again and home, 200 m each: over at 2:27."""
    rows = {r["id"]: r for r in shown("forecast", far, "--pet", "-0:10")["get_aheads"]}
    assert rows["ga1"]["adds_min"] == 35  # without it at 1:52


def test_who_went_elsewhere_walks_from_there(tmp_path: Path) -> None:
    log = lived(opened(tmp_path), "g3")
    done("also", log, "walk lock", "--who", "e1", "--began", "0:46", "--pet", "0:49")
    # 10 m to the box at 10 m/min, a minute to close the cover, three to fasten it.
    assert step(shown("forecast", log, "--pet", "0:49"), "a9") == ("0:49", "0:54")


def test_what_is_planned_to_take_a_walk_is_without_get_aheads(far: Path) -> None:
    rows = {(r["step"], r["action_number"]): r for r in shown("compare", far)["actions"]}
    assert rows["a11", 1]["planned_min"] == 2  # from the pump, for penn
    assert rows["a11", 2]["planned_min"] == 20
