"""Changes are the only writers: undone, they leave no trace."""

from __future__ import annotations

from itertools import chain
from typing import Any

import pytest
from generate import Driver, benches, runs
from hypothesis import given, note
from hypothesis import strategies as st

from cablewalk.continuity.services import Continuity
from cablewalk.documents.actions import Action
from cablewalk.replay.attempt import Effect
from cablewalk.replay.configuration import Configuration


def _undone_exactly(driver: Driver, action: Action, effect: Effect) -> Configuration:
    """Do an action and undo it, its end and its beginning apart; return how it stood between."""
    config = driver.config
    before = config.copy()
    config.apply(effect.begin)
    begun = config.copy()
    config.apply(effect.end)
    done = config.copy()
    config.undo(effect.end)
    assert config == begun, f"{action.verb} {action.argument}: its end undone"
    config.undo(effect.begin)
    assert config == before, f"{action.verb} {action.argument}: its beginning undone"
    return done


def _every_verb_is_undone(data: st.DataObject) -> None:
    """Each legal action of every verb, at several moments of a random walk, is undone exactly."""
    bench = data.draw(benches())
    driver = Driver(data.draw, bench.ground, found=True)
    demated = 0
    for happened in driver.events(3):
        note(f"{happened.action.verb} {happened.action.argument}")
        busy = {w for _action, crew, _effect in driver.running for w in crew}
        for crew in driver.crews:
            if not busy.isdisjoint(crew):
                continue
            for action, effect in chain.from_iterable(driver.legal(crew).values()):
                before = driver.config.copy()
                done = _undone_exactly(driver, action, effect)
                changes = [*effect.begin, *effect.end]
                assert all(
                    before.value(c.field, c.item) != c.new or c.old == c.new or _again(changes, c)
                    for c in changes
                ), "a change says what it replaces"
                if action.demate is not None:
                    demated += 1
                    assert done != before, "a demate changes something"


def _again(changes: list[Any], change: Any) -> bool:
    """Whether the same value is written twice: claimed and let go, made working and idle."""
    return sum((c.field, c.item) == (change.field, change.item) for c in changes) > 1


def _continuity_follows_undo(data: st.DataObject) -> None:
    """Continuity told of changes undone stands as it did before them."""
    bench = data.draw(benches())
    driver = Driver(data.draw, bench.ground, found=True)
    history = [happened.changes for happened in driver.events(4)]
    for changes in reversed(history):
        driver.config.undo(changes)
        driver.continuity.update([c.inverse for c in reversed(changes)])
        fresh = Continuity(driver.config)
        assert driver.continuity.states == fresh.states
        assert [v.standing for v in driver.continuity.verdicts] == [
            v.standing for v in fresh.verdicts
        ]
    assert driver.config == bench.ground.config


PROPERTIES = [_every_verb_is_undone, _continuity_follows_undo]
every_property = pytest.mark.parametrize(
    "check", PROPERTIES, ids=[check.__name__.strip("_") for check in PROPERTIES]
)


@every_property
@runs(15)
@given(data=st.data())
def test_undo(check: Any, data: st.DataObject) -> None:
    check(data)


@pytest.mark.soak
@every_property
@runs(1500)
@given(data=st.data())
def test_undo_soak(check: Any, data: st.DataObject) -> None:
    check(data)
