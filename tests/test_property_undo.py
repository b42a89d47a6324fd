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
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.walk.scene import Scene
from cablewalk.walk.subject import Subject, find_subject
from cablewalk.walk.what_if import _Taking, what_if_lost


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


def _a_what_if_leaves_the_scene_alone(data: st.DataObject) -> None:
    """What losing any item would do, told by kept continuity, is what a fresh judgement tells."""
    bench = data.draw(benches())
    driver = Driver(data.draw, bench.ground, found=True)
    for _happened in driver.events(3):
        pass
    wiring, before = driver.config.wiring, driver.config.copy()
    scene = Scene(bench.ground.baseline, driver.config, ())
    for item in wiring.items:
        subject = find_subject(wiring, item.id) if item.kind in ("half", "switch", "cap") else None
        if not isinstance(subject, Subject):
            continue
        found = what_if_lost(scene, subject)
        taking = _Taking(driver.config.copy())
        taking.take(scene, subject)
        now, then = Continuity(driver.config), Continuity(taking.config)
        told = {(row.service, row.before, row.after) for row in (found.services if found else ())}
        assert told == {
            (n, now.states[n], then.states[n])
            for n, service in enumerate(wiring.services)
            if driver.config.life[n] == ALIVE
            and (
                now.states[n] is not then.states[n]
                or any(
                    now.verdicts[s].standing is not then.verdicts[s].standing
                    for s in service.strings
                )
            )
        }, item.id
    assert driver.config == before


PROPERTIES = [
    _every_verb_is_undone,
    _continuity_follows_undo,
    _a_what_if_leaves_the_scene_alone,
]
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
