"""``cablewalk halt``: every stop and one stop, as text and JSON, and what it cannot answer."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from small import LAMP
from test_foresight_stops import SWAP

from cablewalk.cli import commands

DEMO = ["configs/outpost.yaml", "configs/outing-1.yaml", "configs/outing-2.yaml"]
ROOT = Path(__file__).resolve().parents[1]


def halt(*arguments: str) -> Result:
    result = CliRunner().invoke(commands, ["halt", *arguments], prog_name="cablewalk")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    texts = {
        "base": LAMP.replace("feeds: SRC", "feeds: SRC, clocks: [{allowed_min: 60, source: s}]"),
        "plan": f"procedure: swap\n{SWAP}",
    }
    paths = []
    for name, text in texts.items():
        head = "cablewalk: 1\nbaseline: lamp\n" if name == "base" else "cablewalk: 1\n"
        (tmp_path / f"{name}.yaml").write_text(head + text, encoding="utf-8")
        paths.append(str(tmp_path / f"{name}.yaml"))
    return paths


def demo(*arguments: str) -> Any:
    result = halt(*(str(ROOT / name) for name in DEMO), "--json", *arguments)
    return json.loads(result.stdout)


def test_every_stop_by_hand(files: list[str]) -> None:
    """52 minutes to spare of 60: down from 0:00 to 0:08 (``SWAP``)."""
    words = " ".join(halt(*files).stdout.split())
    assert "GOOD STOPS: 2 of 5 0:00 before the first step 0:08 after light" in words
    assert "Farthest, after dark: 0:07 to the next" in words
    assert "Least room for a pause, after dark: 0:52, then light is overrun" in words
    assert "PET 0:03 after open: NOT A GOOD STOP" in words
    assert (
        "the next after light, 0:05 of work on; the last before the first step, 0:03 ago" in words
    )
    assert "light (power): reconnect by 1:00, in 0:57 (clock 1:00 by s); back by light" in words
    assert "The certified procedure and the flight rules decide." in words


def test_one_stop_in_full(files: list[str]) -> None:
    whole = halt(*files, "--after", "open")
    assert whole.stdout.count("STOP") == 1
    assert "way out     mate it, park it, or give it a cap" in whole.stdout
    assert "GOOD STOPS" not in whole.stdout


def test_too_late_is_loud_and_in_words(files: list[str]) -> None:
    base = Path(files[0])
    base.write_text(base.read_text("utf-8").replace("allowed_min: 60", "allowed_min: 2"), "utf-8")
    words = " ".join(halt(*files, "--after", "shut").stdout.split())
    assert "reconnect by 0:02, 0:05 too late (clock 0:02 by s); back by light" in words
    assert "pause none: light is overrun by 0:06 without one" in words


@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("opne", "there is no step 'opne'"),
        ("swap/nowhere", "there is no step 'swap/nowhere'"),
        ("", "there is no step ''"),
        ("\x1b[2J", "there is no step"),
    ],
)
def test_an_unknown_step_is_a_sentence(files: list[str], step: str, said: str) -> None:
    result = halt(*files, "--after", step)
    assert result.exit_code == 2
    assert said in result.stderr and "\x1b" not in result.stderr


def test_a_step_that_does_nothing_is_no_stop(files: list[str]) -> None:
    plan = Path(files[1])
    plan.write_text(plan.read_text("utf-8") + "- {id: idle, by: ada, do: []}\n", "utf-8")
    result = halt(*files, "--after", "idle")
    assert result.exit_code == 2 and "Traceback" not in result.output


def test_where_the_replay_stopped_nothing_after_it_is_known(files: list[str]) -> None:
    plan = Path(files[1])
    plan.write_text(plan.read_text("utf-8").replace("mate: {P1: J1}", "mate: {P2: J2}"), "utf-8")
    result = halt(*files)
    assert result.exit_code == 1
    assert "STOPPED" in result.stdout and "after shut" not in result.stdout
    assert "nothing brings it back" in result.stdout
    after = halt(*files, "--after", "shut")
    assert after.exit_code == 2 and "not known" in after.stderr


def test_the_demo_agrees_with_its_outages() -> None:
    """What is down at a stop is what ``outages`` has down then, with the same deadline."""
    report = demo()
    told = CliRunner().invoke(commands, ["outages", *(str(ROOT / f) for f in DEMO), "--json"])
    outages = json.loads(told.stdout)["outages"]
    assert len(report["stops"]) > 40
    seen = 0
    for stop in report["stops"]:
        for down in stop["down"]:
            rows = [
                row for row in outages
                if row["service"] == down["service"] and row["from_min"] == down["from_min"]
            ]  # fmt: skip
            (row,) = rows
            assert row["to_min"] is None or stop["at_min"] < row["to_min"]
            assert row["restored_by_step"] == down["restored_by_step"]
            if down["clock_runs"]:
                seen += 1
                deadlines = [clock["reconnect_by_min"] for clock in row["clocks"]]
                assert down["reconnect_by_min"] in deadlines
                assert down["left_min"] == pytest.approx(down["reconnect_by_min"] - stop["at_min"])
    assert seen > 5


def test_good_stops_are_pointed_to_from_both_sides() -> None:
    stops = demo()["stops"]
    good = [n for n, stop in enumerate(stops) if stop["good"]]
    assert good
    for n, stop in enumerate(stops):
        ahead = next((stops[k] for k in good if k >= n), None)
        behind = next((stops[k] for k in reversed(good) if k <= n), None)
        on = None if ahead is None else pytest.approx(ahead["at_min"] - stop["at_min"], abs=1e-3)
        ago = None if behind is None else pytest.approx(stop["at_min"] - behind["at_min"], abs=1e-3)
        assert (stop["next_good_min"], stop["last_good_min"]) == (on, ago)
        assert stop["next_good_steps"] == (ahead["after_steps"] if ahead else [])
        assert stop["last_good_steps"] == (behind["after_steps"] if behind else [])
