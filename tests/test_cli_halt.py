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
    assert "GOOD STOPS: 2 of 5" in words
    assert "PET 0:00 before the first step of swap PET 0:08 after light" in words
    assert "Farthest, after dark: 0:07 to the next." in words
    assert "Least room for a pause, after dark: 0:52 to light." in words
    assert "PET 0:03 after open: NOT A GOOD STOP good stops next 0:08; last 0:00" in words
    assert "light (power): reconnect by 1:00 (clock 1:00 by s); back by light" in words
    assert "Not judged: consumables of swap: phase_limits.consumables is not given." in words
    assert "The certified procedure and the flight rules decide." in words


def test_stops_at_which_everything_stands_alike_are_told_together(files: list[str]) -> None:
    told = halt(*files).stdout
    assert "PET 0:00  before the first step of swap: GOOD STOP" in told
    assert told.count("NOT A GOOD STOP") == 3
    plan = Path(files[1])
    rest = "- {id: r1, by: ada, do: [{wait: 1}]}\n- {id: r2, by: ada, do: [{wait: 1}]}\n"
    plan.write_text(plan.read_text("utf-8") + rest, "utf-8")
    assert "PET 0:08 → 0:10  after light, to after r2: GOOD STOP" in halt(*files).stdout


def test_what_is_worse_within_a_step_is_told_on_the_way(files: list[str]) -> None:
    plan = Path(files[1])
    one = "procedure: swap\nminutes: {switch_off: 1, switch_on: 1, demate: 2, mate: 4}\n"
    steps = "steps: [{id: s, by: ada, do: [{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, "
    plan.write_text(f"cablewalk: 1\n{one}{steps}{{switch_on: SW1}}]}}]\n", "utf-8")
    short = " ".join(halt(*files).stdout.split())
    assert "on the way PET 0:01 → 0:07 light is down (after s/1 switch off SW1)" in short
    assert "GOOD STOPS: 2 of 5" in short
    every = " ".join(halt(*files, "--every-action").stdout.split())
    assert "PET 0:03 after s/2 demate P1: NOT A GOOD STOP" in every and "on the way" not in every
    step = " ".join(halt(*files, "--after", "s").stdout.split())
    assert step.count("GOOD STOP") == 4
    assert "begun s: 2 of 4 done, next mate P1 to J1 (ada)" in step
    assert "people ada at bench" in step


def test_one_stop_in_full(files: list[str]) -> None:
    whole = halt(*files, "--after", "open")
    assert whole.stdout.count("NOT A GOOD STOP") == 1
    assert "way out     mate it, park it, or give it a cap" in whole.stdout
    assert "GOOD STOPS" not in whole.stdout


def test_too_late_is_loud_and_in_words(files: list[str]) -> None:
    base = Path(files[0])
    base.write_text(base.read_text("utf-8").replace("allowed_min: 60", "allowed_min: 2"), "utf-8")
    words = " ".join(halt(*files, "--after", "shut").stdout.split())
    assert "reconnect by 0:02, which is past (clock 0:02 by s); back by light" in words
    assert "pause none: light is overrun by 0:06 without one" in words


def test_deadlines_are_on_the_clock_of_the_phase_under_way(files: list[str]) -> None:
    """If work stops in the first phase, the second never begins: it has no clock."""
    plan = Path(files[1])
    text = plan.read_text("utf-8").split("- {id: open")[0]
    plan.write_text(text, "utf-8")
    second = plan.with_name("second.yaml")
    second.write_text(
        text.replace("swap", "two\ngap_min: 9").replace("switch_off: SW1", "wait: 1"), "utf-8"
    )
    result = halt(*files, str(second), "--json")
    report = json.loads(result.stdout)
    pets = [(s["phase_number"], d["reconnect_by_pet"]) for s in report["stops"] for d in s["down"]]
    assert [(n, pet["phase_number"], pet["pet"]) for n, pet in pets] == [
        (1, 1, "1:00"), (2, 2, "0:50"), (2, 2, "0:50"),
    ]  # fmt: skip


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
    assert "the plan does not bring it" in result.stdout
    after = halt(*files, "--after", "shut")
    assert after.exit_code == 2 and "not known" in after.stderr


def test_the_demo_agrees_with_its_outages() -> None:
    """Every outage of ``outages`` is told at each stop within it, and nothing else is down."""
    report = demo()
    told = CliRunner().invoke(commands, ["outages", *(str(ROOT / f) for f in DEMO), "--json"])
    outages = json.loads(told.stdout)["outages"]
    assert len(report["stops"]) > 200 and outages
    seen = set()
    for stop in report["stops"]:
        at = stop["at_min"]
        names = [row["service"] for row in (*stop["down"], *stop["recovering"])]
        lasting = [r for r in outages if r["from_min"] < at and (r["to_min"] or 1e9) > at]
        assert {row["service"] for row in lasting} <= set(names), at
        edges = {r["service"] for r in outages if at in (r["from_min"], r["to_min"])}
        assert set(names) <= {row["service"] for row in lasting} | edges, at
        for down in stop["down"]:
            rows = [r for r in outages if r["service"] == down["service"]]
            (row,) = [r for r in rows if r["from_min"] == down["from_min"]]
            assert row["restored_by_step"] == down["restored_by_step"]
            seen.add((down["service"], down["from_min"]))
            if down["clock_runs"]:
                deadlines = [clock["reconnect_by_min"] for clock in row["clocks"]]
                assert down["reconnect_by_min"] in deadlines
                assert down["left_min"] == pytest.approx(down["reconnect_by_min"] - at, abs=1e-3)
    assert seen == {(row["service"], row["from_min"]) for row in outages}


def test_good_stops_are_pointed_to_from_both_sides() -> None:
    stops = demo()["stops"]
    good = [n for n, stop in enumerate(stops) if stop["good"]]
    assert good
    for n, stop in enumerate(stops):
        ahead = next((stops[k] for k in good if k >= n), None)
        behind = next((stops[k] for k in reversed(good) if k <= n), None)
        on = ahead and pytest.approx(ahead["at_min"] - stop["at_min"], abs=1e-3)
        ago = behind and pytest.approx(stop["at_min"] - behind["at_min"], abs=1e-3)
        assert (stop["next_good_min"], stop["last_good_min"]) == (on, ago)
        assert stop["next_good_pet"] == (ahead and ahead["at_pet"])
        assert stop["last_good_pet"] == (behind and behind["at_pet"])
