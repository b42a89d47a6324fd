"""Dresses made of the one before are those made anew, whatever happens in between."""

from __future__ import annotations

from pathlib import Path

import pytest
import small
from benchmarks.generate import models

from cablewalk.drawings.cast import cast_of
from cablewalk.drawings.dress import Wardrobe
from cablewalk.drawings.moments import ending, moments
from cablewalk.drawings.plate import Dress, turned
from cablewalk.drawings.redress import novelties, step_dresses
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.timeline.account import Account, account

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
PLANS = {
    "outpost": ("outing-1", "outing-2", "outing-3"),
    "seabed": ("seabed-1", "seabed-2"),
}


def demo(name: str) -> Account:
    base = load_baseline(CONFIGS / f"{name}.yaml")
    rest = [load_procedure(CONFIGS / f"{p}.yaml", n) for n, p in enumerate(PLANS[name], 1)]
    assert base.model is not None
    return account(base.model, [p.model for p in rest if p.model is not None], True)


def generated() -> Account:
    baseline, procedure = models(200)
    return account(baseline, [procedure.model_copy(update={"steps": procedure.steps[:60]})])


def check_redressed(told: Account) -> None:
    every = moments(told)
    last = ending(told.trace, every[-1])
    made, turns = step_dresses(Wardrobe(cast_of(told, [*every, last]), every[0], last), every)
    # Another cast: what runs where is worked out from nothing, moment by moment, backwards.
    cast = cast_of(told, [*every, last])
    wardrobe = Wardrobe(cast, every[0], last)
    for moment, dress in reversed(list(zip(every, made, strict=True))):
        assert dress == wardrobe.dress(moment, "step")
    assert len(made) == len(turns) == len(every) > 1
    before: Dress = {}
    for dress, turn in zip(made, turns, strict=True):
        before = turned(before, turn)
        assert before == dress


@pytest.mark.parametrize("name", PLANS)
def test_redressed_as_dressed_in_the_demos(name: str) -> None:
    check_redressed(demo(name))


def test_redressed_as_dressed_where_much_is_mated() -> None:
    check_redressed(generated())


def test_redressed_as_dressed_in_a_small_replay() -> None:
    check_redressed(small.run("[[demate: P1], [switch_off: SW2], [mate: {P1: J1}], [wait: 1]]"))


def test_what_stays_is_the_same_object_and_little_is_new() -> None:
    told = generated()
    every = moments(told)
    last = ending(told.trace, every[-1])
    made, _ = step_dresses(Wardrobe(cast_of(told, [*every, last]), every[0], last), every)
    new = novelties(made)
    assert new[0] == made[0]
    assert max(len(each) for each in new[1:]) < len(made[0]) / 4
    for before, after, novel in zip(made, made[1:], new[1:], strict=False):
        assert before | novel == {**before, **after}
