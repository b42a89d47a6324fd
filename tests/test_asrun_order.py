"""Entries that touch in time: what had to come first did, and nothing overlaps."""

from __future__ import annotations

import random
from pathlib import Path

from asrun_shelf import lived, opened
from test_asrun_commands import asrun, done, shown

from cablewalk.units import parse_clock


def test_a_day_recorded_as_planned_gives_no_finding(tmp_path: Path) -> None:
    log = lived(opened(tmp_path))
    assert shown("now", log, "--pet", "0:55")["findings"] == []


def test_a_day_recorded_action_by_action_gives_no_finding(tmp_path: Path) -> None:
    """Actions are recorded as each is over; of those over at once in no order anybody chose."""
    log = opened(tmp_path)
    rows = [row for row in shown("compare", log)["actions"] if not row["get_ahead"]]
    random.Random(7).shuffle(rows)
    for row in sorted(rows, key=lambda row: parse_clock(row["planned_end_pet"])):
        name = f"{row['step']}/{row['action_number']}"
        done("do", log, name, "--pet", row["planned_end_pet"], "--began", row["planned_begin_pet"])
    assert shown("now", log, "--pet", "0:55")["findings"] == []


def test_entries_on_one_item_that_only_touch_do_not_overlap(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("do", log, "a1", "--pet", "0:04")
    done("do", log, "a2/1", "--began", "0:04", "--pet", "0:06")
    said = done("do", log, "a2/2", "--began", "0:06", "--pet", "0:07", "--who", "e2")
    assert "WARNING" not in said
    assert shown("now", log, "--pet", "0:07")["findings"] == []


def test_entries_on_one_item_that_do_overlap_are_told(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("do", log, "a1", "--pet", "0:04")
    done("do", log, "a2/1", "--began", "0:04", "--pet", "0:06")
    said = asrun("do", log, "a2/2", "--began", "0:05", "--pet", "0:07", "--who", "e2").stdout
    assert "overlapping-entries" in said


def test_what_opens_a_cover_as_another_reaches_under_it_came_first(tmp_path: Path) -> None:
    """Nothing in the plan has the one wait for the other, and they name no common item."""
    log = opened(tmp_path)
    done("do", log, "a1", "--pet", "0:04")
    done("do", log, "a2/1", "--pet", "0:06")
    done("also", log, "open CVB", "--who", "e1", "--began", "0:06", "--pet", "0:07")
    under = ("--who", "e2", "--began", "0:07", "--pet", "0:08")
    assert "WARNING" not in done("also", log, "inspect B1", *under)
