"""``cablewalk trace`` from the command line: text, JSON, exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from cablewalk.cli.trace import command
from cablewalk.reports.asked import TraceReport

BASELINE = """\
cablewalk: 1
baseline: bench
interfaces: {p2: 2}
places:
  bench:
    switches: [K1]
    units: {SRC: {kind: source, volts: 28, switches: K1}, HTR: load}
    halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin HTR.hi HTR.ret, J3: p2 socket}
harnesses:
  W1: {label: W-77, legs: {P1: p2 pin, P2: p2 socket}}
people: {ada: outside}
services: {heat: {kind: heater, load: HTR, feeds: SRC}}
now: {on: K1, mated: {P1: J1, P2: J2}, people: {ada: bench}}
"""

PROCEDURE = """\
cablewalk: 1
procedure: job
minutes: 1
planned_outages: {heat: the work}
steps:
- {id: s1, by: ada, do: [switch_off: K1]}
- {id: s2, by: ada, do: [demate: P1]}
- {id: s3, by: ada, do: [mate: {P1: J3}]}
"""

WIDTH = 100


DARK = BASELINE.replace("now: {", "now: {dark_min: {heat: 20}, ").replace(
    "services: {heat: {kind: heater, load: HTR, feeds: SRC}}",
    "services: {heat: {kind: heater, load: HTR, feeds: SRC}, "
    "glow: {kind: heater, load: HTR, feeds: SRC, needs: heat}}",
)
VERIFY = """\
cablewalk: 1
procedure: job
minutes: 1
steps:
- {id: s1, by: ada, do: [inspect: J1]}
- {id: s2, by: ada, do: [verify: heat]}
"""


def test_what_the_baseline_says_is_dark_is_so_here_too(tmp_path: Path) -> None:
    """As in the outages: down until it is verified, and so what needs it; nothing is lost then."""
    paths = tmp_path / "bench.yaml", tmp_path / "job.yaml"
    for path, text in zip(paths, (DARK, VERIFY), strict=True):
        path.write_text(text, encoding="utf-8")
    base, job = map(str, paths)
    for name, why in (
        ("heat", "dark_min says so; nothing in the baseline explains it"),
        ("glow", "it needs heat, which is said to be dark"),
    ):
        for at in ((base,), (base, job, "--at", "s1")):
            page = run(*at, "--of", name).stdout
            assert f"  stands    down\n  why       {why}\n" in page
            assert "unproven" not in page
            assert "the service is down" in page
            assert as_json(*at, "--of", name)["asked"]["why"] == why
        after = as_json(base, job, "--at", "s2", "--of", name)["asked"]
        assert (after["state"], after["why"]) == ("up", "")
    lost = as_json(base, "--of", "J1")["would_lose"]["services"]
    assert {(r["service"], r["verdict"], r["before"], r["after"]) for r in lost} == {
        ("heat", "loses a string", "down", "down"),
        ("glow", "loses a string", "down", "down"),
    }
    later = as_json(base, job, "--at", "s2", "--of", "J1")["would_lose"]["services"]
    assert {r["verdict"] for r in later} == {"down"}


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    paths = tmp_path / "bench.yaml", tmp_path / "job.yaml"
    for path, text in zip(paths, (BASELINE, PROCEDURE), strict=True):
        path.write_text(text, encoding="utf-8")
    return str(paths[0]), str(paths[1])


def run(*words: str) -> Result:
    return CliRunner().invoke(command, words)


def as_json(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_text_at_the_baseline(files: tuple[str, str]) -> None:
    result = run(files[0], "--of", "J1.1")
    assert result.exit_code == 0
    text = result.stdout
    assert "TRACE of J1.1, contact of J1" in text
    assert "by J1.1 / P1.1" in text
    assert "P1.1, P2.1  [W1]" in text
    assert "HTR.hi; J2.1" in text
    assert "may be live from SRC" in text
    assert "heat (heater), runs over it: up; the service is up" in text
    assert "taken as: J1 and P1 demated" in text
    assert "DOWN            heat  (heater) up → down" in text
    assert max(len(line) for line in text.splitlines()) <= WIDTH


def test_text_at_a_step(files: tuple[str, str]) -> None:
    text = run(*files, "--of", "P1", "--at", "s2").stdout
    assert "when step s2 of job is over, PET 0:02" in text
    assert "stands    bare" in text
    assert "P1 is bare: nothing is mated with it" in text
    assert "J1  here: fixed, free" in text
    assert "J3  here: fixed, free" in text


@pytest.mark.parametrize(
    "name", ["J1", "P1", "W1", "W1.main", "K1", "SRC", "SRC.hi", "HTR", "heat", "J3", "P1.shell"]
)
@pytest.mark.parametrize("step", [None, "s1", "s2", "s3"])
def test_each_kind_has_a_page_and_a_report(
    files: tuple[str, str], name: str, step: str | None
) -> None:
    words = [*files, "--of", name, *(["--at", step] if step else [])]
    result = run(*words)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith(f"TRACE of {name}, ")
    assert max(len(line) for line in result.stdout.splitlines()) <= WIDTH
    TraceReport.model_validate(as_json(*words))


def test_json_names_everything(files: tuple[str, str]) -> None:
    report = as_json(files[0], "--of", "P1")
    assert (report["report"], report["version"], report["at_step"]) == ("trace", 1, None)
    assert report["baseline"]["id"] == "bench"
    assert report["asked"]["kind"] == "half"
    assert [way["of"] for way in report["way"]] == ["P1.1", "P1.2", "P1.shell"]
    assert report["way"][0]["live_from"] == ["SRC"]
    assert [stop["terminals"] for stop in report["way"][0]["stops"]] == [[], ["SRC.hi"], ["HTR.hi"]]
    (rider,) = report["riders"]
    assert (rider["service"], rider["feed"], rider["switches"]) == ("heat", "SRC", ["K1"])
    assert rider["lines"][0] == {
        "line": "SRC.hi to HTR.hi",
        "joins": [{"a": "J1.1", "b": "P1.1"}, {"a": "P2.1", "b": "J2.1"}],
        "harnesses": ["W1"],
        "segments": ["W1.main"],
    }
    (loss,) = report["would_lose"]["services"]
    assert (loss["service"], loss["verdict"], loss["left"], loss["need"]) == ("heat", "down", 0, 1)
    assert [row["half"] for row in report["can_mate"]] == ["J1", "J3", "P2"]


def test_json_at_a_step(files: tuple[str, str]) -> None:
    report = as_json(*files, "--of", "W1", "--at", "s3")
    assert report["at_step"]["step"] == "s3"
    assert report["at_step"]["at_min"] == 3
    assert report["riders"] == []
    assert report["would_lose"] == {
        "taken_as": ["P1 and J3 demated", "P2 and J2 demated"],
        "services": [],
    }


def test_an_unknown_item_names_the_nearest(files: tuple[str, str]) -> None:
    result = run(files[0], "--of", "W11")
    assert result.exit_code == 2
    assert "nothing here is called 'W11'; did you mean W1?" in result.stderr


def test_an_unknown_step_names_the_nearest(files: tuple[str, str]) -> None:
    result = run(*files, "--of", "J1", "--at", "s33")
    assert result.exit_code == 2
    assert "there is no step 's33'; did you mean s3?" in result.stderr


def test_a_step_needs_a_procedure(files: tuple[str, str]) -> None:
    result = run(files[0], "--of", "J1", "--at", "s1")
    assert result.exit_code == 2
    assert "no procedure" in result.stderr


def test_control_characters_are_not_repeated(files: tuple[str, str]) -> None:
    result = run(files[0], "--of", "\x1b[31mJ1")
    assert result.exit_code == 2
    assert "\x1b" not in result.stderr


def test_an_unreadable_baseline(tmp_path: Path) -> None:
    result = run(str(tmp_path / "none.yaml"), "--of", "J1")
    assert result.exit_code == 2
    assert "none.yaml" in result.stderr


def test_findings_of_severity_error_are_told(files: tuple[str, str]) -> None:
    path = Path(files[1])
    path.write_text(PROCEDURE.replace("planned_outages: {heat: the work}\n", ""), encoding="utf-8")
    result = run(*files, "--of", "J1", "--at", "s2")
    assert result.exit_code == 1
    assert "error unplanned-loss: heat goes down" in result.stdout
