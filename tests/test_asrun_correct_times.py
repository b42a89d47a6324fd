"""An entry's end corrected: what becomes of its beginning is told, and can be given beside."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from asrun_quay import opened
from test_asrun_commands import asrun, done


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Return a log in which the switch was off at 0:10, and that had taken 5 min."""
    path = opened(tmp_path)
    done("do", path, "s1/1", "--pet", "0:10", "--took", "5")
    return path


def minutes(log: Path) -> float:
    """Return how many minutes it took, as it is handed over."""
    left = log.with_name("left.yaml")
    report = json.loads(asrun("handover", log, left, "--force", "--pet", "0:30", "--json").stdout)
    ((verb, least),) = [(row["verb"], row["least_min"]) for row in report["actual_minutes"]]
    assert verb == "switch_off"
    return float(least)


def test_the_beginning_stays_and_how_long_it_took_is_noted(log: Path) -> None:
    result = asrun("correct", log, "1.2", "--pet", "0:11", "-m", "wrong clock")
    assert result.exit_code == 0, result.output
    assert (
        "note: it began at 0:05, as was told before, so it took 6 min: where that is otherwise, "
        "give --began or --took too"
    ) in " ".join(result.stderr.split())
    assert minutes(log) == 6


@pytest.mark.parametrize(
    ("given", "took"),
    [
        (("--pet", "0:11", "--took", "5"), 5),
        (("--pet", "0:11", "--began", "0:09"), 2),
        (("--took", "3"), 3),
        (("--pet", "0:11", "--took", "0"), 0),
    ],
)
def test_the_beginning_can_be_given_beside(log: Path, given: tuple[str, ...], took: float) -> None:
    result = asrun("correct", log, "1.2", *given, "-m", "wrong clock")
    assert result.exit_code == 0, result.output
    assert "as was told before" not in result.stderr
    assert minutes(log) == took


@pytest.mark.parametrize("given", [("--pet", "0:10"), ("--who", "ann"), ("--pet", "0:04")])
def test_nothing_is_noted_where_it_says_nothing(log: Path, given: tuple[str, ...]) -> None:
    """The end as it was; the end left alone; an end before the beginning, which is refused."""
    result = asrun("correct", log, "1.2", *given, "-m", "wrong clock")
    assert "as was told before" not in result.stderr
    assert result.exit_code == (2 if given[1] == "0:04" else 0), result.output


def test_of_one_whose_beginning_nobody_told_nothing_is_noted(log: Path) -> None:
    done("do", log, "s1/2", "--pet", "0:15")
    result = asrun("correct", log, "1.3", "--pet", "0:16", "-m", "wrong clock")
    assert result.exit_code == 0 and "as was told before" not in result.stderr
