"""Phase limits: margins, chances, what is not judged, which get-aheads fit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from pydantic import ValidationError
from small import LAMP, baseline, procedure

from cablewalk.cli import commands
from cablewalk.documents.phase_limits import PhaseLimits
from cablewalk.findings import Address, Severity
from cablewalk.timeline.account import account
from cablewalk.timeline.limits import judge_limits
from cablewalk.timeline.limits_fit import Fit, fitting
from cablewalk.timeline.spread import Spread, spread
from cablewalk.timeline.spread_findings import spread_findings

PLAN = """
steps:
- {id: work, by: ada, do: [{wait: 60}]}
- {mark: get_aheads}
- {id: home, by: ada, do: [{wait: 30}]}
get_aheads:
- {id: tidy, priority: 1, steps: [{id: g1, by: ada, do: [{wait: 20}]}]}
- {id: dim, priority: 2, steps: [{id: g2, by: ada, do: [{switch_off: SW1}, {wait: 5}]},
   {id: g3, by: ada, do: [{switch_on: SW1}]}]}
- {id: blow, priority: 3, steps: [{id: g4, by: ada, do: [{switch_off: SW1}]}]}
"""
LIMITS = {
    "consumables": {"by_pet": "2:00", "source": "made up 1"},
    "turn_back": {"by_pet": "1:30", "step": "home", "source": "made up 2"},
    "decisions": [{"id": "go-on", "by_pet": "1:10", "step": "work", "source": "made up 3"}],
}


def found(limits: dict[str, Any] | None, aheads: int = 0) -> Spread:
    plan = procedure(PLAN, phase_limits=limits, spread="beta", minutes=1)
    return spread(account(baseline(LAMP), [plan], get_aheads=aheads), ["beta"], 20, 1)


def fits(limits: dict[str, Any] | None, text: str = PLAN) -> list[Fit]:
    plan = procedure(text, phase_limits=limits, spread="beta", minutes=1)
    base = baseline(LAMP)
    return fitting(
        (plan,),
        lambda plans, count: account(base, plans, get_aheads=count),
        lambda result: spread(result, ["beta"], 20, 1),
    )


def test_margins_by_hand() -> None:
    judged, missing = judge_limits(found(LIMITS))
    assert not missing
    rows = {row.what: (row.margin_s / 60, row.chance_over, row.source) for row in judged}
    assert rows == {
        "consumables": (30, 0, "made up 1"),
        "turn-back": (30, 0, "made up 2"),
        "decision": (10, 0, "made up 3"),
    }


def test_exceeded_in_every_run() -> None:
    judged, _ = judge_limits(found({"consumables": {"by_pet": "1:20", "source": "made up"}}))
    assert [(row.margin_s / 60, row.chance_over) for row in judged] == [(-10, 1)]


@pytest.mark.parametrize(
    ("what", "by", "severity", "found_text"),
    [
        ("consumables", "1:29", Severity.ERROR, "work is over at 1:30 by likely estimates"),
        ("consumables", "1:30", Severity.ERROR, "work is over at 1:34 at P50"),
        ("consumables", "1:40", Severity.WARNING, "work is over at 1:48 at P90"),
        ("consumables", "2:30", None, ""),
        ("turn_back", "0:59", Severity.ERROR, "the way back, begins at 1:00 by likely"),
        ("turn_back", "1:01", Severity.ERROR, "the way back, begins at 1:04 at P50"),
        ("turn_back", "1:10", Severity.WARNING, "the way back, begins at 1:18 at P90"),
        ("decisions", "0:59", Severity.ERROR, "step work of work is over at 1:00 by likely"),
    ],
)
def test_an_exceeded_limit_is_a_finding(
    what: str, by: str, severity: Severity | None, found_text: str
) -> None:
    """By likely minutes (60 and 30) or in most runs: an error. In one run of ten: a warning."""
    given: dict[str, Any] = {"by_pet": by, "source": "made up"}
    step = {"turn_back": "home", "decisions": "work"}.get(what)
    if step:
        given["step"] = step
    limits = {what: [given | {"id": "go-on", "otherwise": "go home"}] if step == "work" else given}
    wide = PLAN.replace("{wait: 60}", "{inspect: J2, minutes: [50, 60, 100]}")
    plan = procedure(wide, phase_limits=limits, spread="beta", minutes=1)
    result = spread(account(baseline(LAMP), [plan]), ["beta"], 1000, 1)
    told = list(spread_findings(result, judge_limits(result)[0]))
    assert [finding.severity for finding in told] == ([severity] if severity else [])
    for finding in told:
        assert found_text in finding.found
        assert finding.rule == "phase-limit-exceeded"
        assert finding.source == "made up"
        path = ("decisions", 0) if step == "work" else (what,)
        assert finding.address == Address(1, ("phase_limits", *path))


def test_exactly_the_limit_is_within_it() -> None:
    judged, _ = judge_limits(found({"consumables": {"by_pet": "1:30", "source": "made up"}}))
    assert [(row.margin_s, row.chance_over) for row in judged] == [(0, 0)]


@pytest.mark.parametrize(
    ("limits", "because"),
    [
        (None, "phase_limits.consumables is not given"),
        (
            {"turn_back": {**LIMITS["turn_back"], "step": "g1"}},  # type: ignore[dict-item]
            "step g1 is of a get-ahead that is not in",
        ),
    ],
)
def test_what_is_missing_is_named(limits: dict[str, Any] | None, because: str) -> None:
    _, missing = judge_limits(found(limits))
    assert because in [row.because for row in missing]
    assert any(fit.fits is None for fit in fits(limits))


@pytest.mark.parametrize(
    ("limits", "path"),
    [
        ({"turn_back": {**LIMITS["turn_back"], "step": "hone"}}, ("turn_back", "step")),  # type: ignore[dict-item]
        ({"decisions": [{**LIMITS["decisions"][0], "step": "hone"}]}, ("decisions", 0, "step")),  # type: ignore[index]
    ],
)
def test_a_step_that_is_not_there_is_refused(
    limits: dict[str, Any], path: tuple[str | int, ...]
) -> None:
    """A misspelt step must not switch a limit off unseen."""
    result = account(baseline(LAMP), [procedure(PLAN, phase_limits=limits, minutes=1)])
    assert result.trace.unusable
    (finding,) = [f for f in result.findings if f.rule == "unknown-id"]
    assert finding.address.path == ("phase_limits", *path)
    assert finding.found == "there is no step hone"
    assert "home" in finding.way_out


def test_which_get_aheads_fit() -> None:
    """20 min and 7 min fit before the turn-back at 1:30; the third leaves the lamp dark."""
    told = {fit.ahead.id: fit for fit in fits(LIMITS)}
    assert {name: fit.fits for name, fit in told.items()} == {
        "tidy": True,
        "dim": True,
        "blow": False,
    }
    assert "0:10 left to turn-back" in told["tidy"].because
    assert "light" in told["blow"].because


def test_a_get_ahead_never_leaves_more_than_its_phase() -> None:
    """Each task draws the same with a get-ahead as without: what it takes is not chance."""
    wide = PLAN.replace("{wait: 60}", "{inspect: J2, minutes: [50, 60, 100]}")
    plan = procedure(wide, phase_limits=LIMITS, spread="beta", minutes=1)
    base = baseline(LAMP)
    without, one = (
        spread(account(base, [plan], get_aheads=count), ["beta"], 500, 1) for count in (0, 1)
    )
    before, after = (found.steps[0][0].end_pet for found in (without, one))
    assert before is not None
    assert after is not None
    assert [before.at(q) for q in (0.1, 0.5, 0.9)] == [after.at(q) for q in (0.1, 0.5, 0.9)]
    twenty = one.finish_pet[0].at(0.9) - without.finish_pet[0].at(0.9)
    assert twenty == 20 * 60


def test_an_outage_closed_after_the_turn_back_does_not_fit() -> None:
    plan = PLAN.replace("{id: g3, by: ada,", "{id: g3, by: bob, after: home,")
    dim = next(fit for fit in fits(LIMITS, plan) if fit.ahead.id == "dim")
    assert dim.fits is False
    assert "after the turn-back" in dim.because


def test_one_that_does_not_fit_is_not_counted_against_the_next() -> None:
    """The first takes 60 min of the 30 left and would not be done; 10 min fit without it."""
    plan = PLAN.replace("{wait: 20}", "{wait: 60}")
    told = {fit.ahead.id: (fit.fits, fit.because) for fit in fits(LIMITS, plan)}
    assert told["tidy"] == (False, "consumables exceeded by 0:30 at P90")
    # 90 - 60 - (1 + 5 + 1) = 23 minutes left before the turn-back.
    assert told["dim"][0] is True
    assert "0:23 left to turn-back" in told["dim"][1]


LEFT_OPEN = """
steps:
- {id: work, by: ada, do: [{wait: 60}]}
- {mark: get_aheads}
- {id: home, by: ada, after: g4, go: all-dark, lead_min: {g4: 5}, do: [{wait: 30}]}
get_aheads:
- {id: blow, priority: 1, when: {SW1: "on"}, steps: [
   {id: g4, by: ada, do: [{switch_off: SW1}, {go_call: all-dark}]}]}
- {id: dim, priority: 2, when: {SW1: "on"}, steps: [
   {id: g2, by: ada, after: g4, do: [{switch_off: SW1}, {wait: 5}, {switch_on: SW1}]}]}
"""


def test_one_that_leaves_a_service_down_does_not_forbid_the_next() -> None:
    """It would not be done, and nothing waits for its steps or its GO."""
    told = {fit.ahead.id: (fit.fits, fit.because) for fit in fits(LIMITS, LEFT_OPEN)}
    assert told["blow"] == (False, "the outage of light stays open")
    assert told["dim"] == (
        True,
        "at P90 0:23 left to consumables, 0:23 left to turn-back",
    )


def test_the_turn_back_of_one_that_does_not_fit_is_not_judged() -> None:
    limits = {
        **LIMITS,
        "turn_back": {"by_pet": "0:59", "step": "g4", "source": "made up"},
        "decisions": [{"id": "d", "by_pet": "0:59", "step": "g4", "source": "made up"}],
    }
    told = {fit.ahead.id: (fit.fits, fit.because) for fit in fits(limits, LEFT_OPEN)}
    assert told["blow"] == (False, "turn-back exceeded by 0:01 at P90")
    assert told["dim"] == (None, "turn-back: step g4 is of a get-ahead that is not in")


def test_too_late_for_the_turn_back() -> None:
    limits = {**LIMITS, "turn_back": {"by_pet": "1:15", "step": "home", "source": "made up"}}
    told = {fit.ahead.id: fit for fit in fits(limits)}
    assert told["tidy"].fits is False
    assert "turn-back exceeded by 0:05" in told["tidy"].because


@pytest.mark.parametrize(
    "wrong",
    [
        {"consumables": {"by_pet": "2:00"}},
        {"consumables": {"by_pet": "2", "source": "x"}},
        {"turn_back": {"by_pet": "2:00", "source": "x"}},
        {"decisions": [LIMITS["decisions"][0]] * 2},  # type: ignore[index]
        {"lunch": "1:00"},
    ],
)
def test_wrong_limits_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        PhaseLimits.model_validate(wrong)


def test_the_exit_code_tells_of_an_exceeded_limit(tmp_path: Path) -> None:
    """The page has the finding with file and line, and the command ends with 1."""
    text = Path("configs/outing-1.yaml").read_text(encoding="utf-8")
    assert "3:45" in text
    late = text.replace("3:45", "2:00")
    (tmp_path / "late.yaml").write_text(late, encoding="utf-8")
    line = next(n for n, row in enumerate(late.splitlines(), 1) if "turn_back" in row)
    arguments = ["configs/outpost.yaml", str(tmp_path / "late.yaml"), "--runs", "50"]
    result = CliRunner().invoke(commands, ["spread", *arguments])
    assert result.exit_code == 1, result.output
    assert "ERROR phase-limit-exceeded" in result.output
    assert f"late.yaml:{line}, step 1-60" in " ".join(result.output.split())
