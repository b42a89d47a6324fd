"""What sampling finds: clocks and limits that many samples exceed, in every command that says so.

Minutes here vary as beta-PERT: 50, 60, 100 has a median of about 64 and a P90 of about 77
(``test_against_three_point`` has the distribution's source).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner
from small import LAMP, baseline, merged, procedure, text_of

from cablewalk.cli import commands
from cablewalk.cli.sampling import RUNS
from cablewalk.findings import Address, Finding, Severity
from cablewalk.timeline.account import account
from cablewalk.timeline.limits import judge_limits
from cablewalk.timeline.spread import spread
from cablewalk.timeline.spread_findings import likely_findings, spread_findings

STEPS = """
- {id: off, by: ada, loses: light, do: [{switch_off: SW1}, {inspect: J2, minutes: [50, 60, 100]},
   {switch_on: SW1}]}
"""


def clocked(allowed_min: int, more: str = "{}") -> str:
    clock = f"{{services: {{light: {{clock: {{allowed_min: {allowed_min}, source: made up}}}}}}}}"
    return json.dumps(merged(text_of(clock), text_of(more)))


def told(allowed_min: int, more: str = "{}", runs: int = 2000, **head: Any) -> list[Finding]:
    result = account(
        baseline(LAMP, clocked(allowed_min, more)), [procedure(STEPS, spread="beta", **head)]
    )
    found = spread(result, ["beta"], runs, 1)
    return list(spread_findings(found, judge_limits(found)[0]))


@pytest.mark.parametrize(
    ("allowed_min", "severity"),
    [
        (61, None),  # likely minutes (62) overrun it: the replay tells that
        (62, Severity.ERROR),  # most samples take longer
        (64, Severity.ERROR),
        (70, Severity.WARNING),  # nine of ten take no more than 79
        (90, None),
    ],
)
def test_a_clock_that_many_samples_overrun(allowed_min: int, severity: Severity | None) -> None:
    found = told(allowed_min)
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.rule == "clock-overrun-likely"
        assert finding.items == ("light",)
        assert finding.step == "off"
        assert finding.address.document == 1
        assert finding.source == "made up"


def test_where_it_was_down_at_the_start_the_service_is_pointed_at() -> None:
    steps = "[{by: ada, do: [{inspect: J2, minutes: [50, 60, 100]}, {switch_on: SW1}]}]"
    more = "{now: {on: [], off: [SW1], dark_min: {light: 5}}}"
    result = account(baseline(LAMP, clocked(66, more)), [procedure(steps, spread="beta")])
    found = spread(result, ["beta"], 2000, 1)
    (finding,) = spread_findings(found, [])
    assert finding.address == Address(0, ("services", "light"))
    assert finding.step is None


def test_earlier_minutes_are_said_not_to_be_in_the_figure() -> None:
    (finding,) = told(72, "{now: {used_min: {light: 8}}}")
    assert "earlier outages not counted" in finding.found


LIMITS = {"consumables": {"by_pet": "1:00", "source": "made up 2"}}


def test_without_samples_likely_minutes_judge_a_limit() -> None:
    late = account(baseline(LAMP), [procedure(STEPS, phase_limits=LIMITS)])
    (finding,) = likely_findings(late)
    assert finding.rule == "phase-limit-exceeded"
    assert "at 1:02 by likely estimates" in finding.found
    assert finding.difference == "0:02 too late"
    assert not list(likely_findings(account(baseline(LAMP), [procedure(STEPS)])))


@pytest.fixture
def documents(tmp_path: Path) -> list[str]:
    """A clock that likely minutes keep and most samples do not."""
    base = {"cablewalk": "1", "baseline": "b", **merged(text_of(LAMP), text_of(clocked(63)))}
    plan = {
        "cablewalk": "1", "procedure": "p", "minutes": "1", "spread": "beta",
        "phase_limits": LIMITS, "steps": text_of(STEPS),
    }  # fmt: skip
    files = []
    for name, data in (("b", base), ("p", plan)):
        (tmp_path / f"{name}.yaml").write_text(yaml.safe_dump(data), encoding="utf-8")
        files.append(str(tmp_path / f"{name}.yaml"))
    return files


@pytest.mark.parametrize("command", ["outages", "check", "spread"])
def test_commands_tell_them_unasked(command: str, documents: list[str]) -> None:
    result = CliRunner().invoke(commands, [command, "--json", *documents])
    assert result.exit_code == 1
    report = json.loads(result.stdout)
    assert report["runs"] == RUNS
    rules = [finding["rule"] for finding in report["findings"]]
    assert rules.count("clock-overrun-likely") == 1
    assert rules.count("phase-limit-exceeded") == 1


@pytest.mark.parametrize("command", ["outages", "check"])
def test_no_runs_no_chances(command: str, documents: list[str]) -> None:
    result = CliRunner().invoke(commands, [command, "--json", "--runs", "0", *documents])
    report = json.loads(result.stdout)
    assert (report["runs"], report["not_sampled"]) == (None, "--runs 0")
    rules = [finding["rule"] for finding in report["findings"]]
    assert "clock-overrun-likely" not in rules
    assert "phase-limit-exceeded" in rules, "likely minutes exceed it: 1:02 for 1:00"


@pytest.mark.parametrize("command", ["outages", "check"])
def test_what_does_not_vary_by_its_own_words_is_not_sampled(
    command: str, documents: list[str]
) -> None:
    path = Path(documents[1])
    path.write_text(path.read_text(encoding="utf-8").replace("spread: beta\n", ""), "utf-8")
    result = CliRunner().invoke(commands, [command, *documents])
    assert "how minutes vary (spread) is not said in p" in " ".join(result.stdout.split())
    asked = CliRunner().invoke(commands, [command, "--runs", "10", *documents])
    assert asked.exit_code == 2
    assert "no-spread" in asked.stderr
