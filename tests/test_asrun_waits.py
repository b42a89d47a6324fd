"""Who waits for what: also behind a step that was recorded too soon."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from asrun_shelf import opened
from test_asrun_commands import done, shown


def actor(log: Path, person: str, pet: str = "0:08") -> dict[str, Any]:
    (row,) = [a for a in shown("now", log, "--pet", pet)["actors"] if a["person"] == person]
    found: dict[str, Any] = row
    return found


def test_a_go_given_too_soon_lets_nobody_begin(tmp_path: Path) -> None:
    log = opened(tmp_path)
    for step, pet in (("a1", "0:04"), ("a2", "0:07"), ("a3", "0:06"), ("i1", "0:08")):
        done("do", log, step, "--pet", pet)
    assert actor(log, "orla")["next_step"] == "a4"
    assert actor(log, "orla")["waits_for"] == ["g2"]
    assert actor(log, "penn")["waits_for"] == ["g2"]
    assert "OUT OF ORDER: step a4 waits for g2" in done("do", log, "a4/1", "--pet", "0:10")
    (row,) = [
        r for r in shown("compare", log)["actions"] if (r["step"], r["action_number"]) == ("a4", 1)
    ]
    assert "out of order: before step g2 was over" in row["deviations"]
    # Once the switch is off, nobody waits for it; and what is only next in turn never did.
    done("do", log, "g2", "--pet", "0:11")
    assert actor(log, "orla")["waits_for"] == actor(log, "penn")["waits_for"] == []


def test_the_order_within_a_step_is_compared_and_told(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("do", log, "g1", "--pet", "-0:07")
    done("do", log, "a1", "--pet", "0:04")
    done("do", log, "a2", "--pet", "0:07")
    done("do", log, "a3", "--pet", "0:06")
    said = done("do", log, "g2/2", "--pet", "0:08")
    assert "OUT OF ORDER: g2/2 comes after g2/1, not recorded as over" in said
    assert "OUT OF ORDER" not in done("do", log, "g2/1", "--pet", "0:09")
    rows = {(r["step"], r["action_number"]): r for r in shown("compare", log)["actions"]}
    assert rows["g2", 2]["deviations"] == ["out of order: before g2/1 was over"]
    assert rows["g2", 1]["deviations"] == []
    assert rows["g2", 3]["deviations"] == []


def test_what_is_recorded_in_one_go_is_in_order(tmp_path: Path) -> None:
    log = opened(tmp_path)
    assert "OUT OF ORDER" not in done("do", log, "g1", "--pet", "-0:07")
    assert "OUT OF ORDER" not in done("do", log, "a1", "--pet", "0:04")
    done("do", log, "a2/1", "skipped", "-m", "no fasteners", "--pet", "0:05")
    assert "OUT OF ORDER" not in done("do", log, "a2/2", "--pet", "0:06")
    rows = shown("compare", log)["actions"]
    assert not [r for r in rows if "out of order" in " ".join(r["deviations"])]
