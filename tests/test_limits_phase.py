"""Phase limits: margins, chances, what is not judged, which get-aheads fit."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError
from small import LAMP, baseline, procedure

from cablewalk.documents.phase_limits import PhaseLimits
from cablewalk.timeline.account import account
from cablewalk.timeline.limits import Fit, fitting, judge_limits
from cablewalk.timeline.spread import Spread, spread

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


def fits(limits: dict[str, Any] | None) -> list[Fit]:
    plan = procedure(PLAN, phase_limits=limits, spread="beta", minutes=1)
    base = baseline(LAMP)
    return fitting(
        (plan,),
        lambda count: account(base, [plan], get_aheads=count),
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


def test_exactly_the_limit_is_within_it() -> None:
    judged, _ = judge_limits(found({"consumables": {"by_pet": "1:30", "source": "made up"}}))
    assert [(row.margin_s, row.chance_over) for row in judged] == [(0, 0)]


@pytest.mark.parametrize(
    ("limits", "because"),
    [
        (None, "phase_limits.consumables is not given"),
        ({"turn_back": {**LIMITS["turn_back"], "step": "nix"}}, "there is no step nix"),  # type: ignore[dict-item]
    ],
)
def test_what_is_missing_is_named(limits: dict[str, Any] | None, because: str) -> None:
    _, missing = judge_limits(found(limits))
    assert because in [row.because for row in missing]
    assert any(fit.fits is None for fit in fits(limits))


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


def test_an_outage_closed_after_the_turn_back_does_not_fit() -> None:
    plan = PLAN.replace("{id: g3, by: ada,", "{id: g3, by: bob, after: home,")
    whole = procedure(plan, phase_limits=LIMITS, spread="beta", minutes=1)
    base = baseline(LAMP)
    told = fitting(
        (whole,),
        lambda count: account(base, [whole], get_aheads=count),
        lambda result: spread(result, ["beta"], 20, 1),
    )
    dim = next(fit for fit in told if fit.ahead.id == "dim")
    assert dim.fits is False
    assert "after the turn-back" in dim.because


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
