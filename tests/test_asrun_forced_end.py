"""A forced action leaves all that the action leaves: the end of both is compared, verb by verb."""

from __future__ import annotations

import random
from collections import Counter

import pytest
from hypothesis import given, settings
from test_asrun_force import recorded, so
from test_asrun_property import DEEDS, ENTRIES, GROUND, PLAN, entries_of

from cablewalk.documents.actions import VERBS, Action
from cablewalk.logbook.words import action_of
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect
from cablewalk.replay.configuration import Configuration
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_force import force
from cablewalk.walk.asrun_mend import contradictions, mended

LEAVE_NOTHING = {"verify", "expect", "found", "retire", "go_call", "wait", "inspect"}
"""Verbs that set what was seen, or nothing: there is no end of theirs to compare."""

MORE = """
mate N2 to P1; seat P1 to J1; seat N1 to J3; lock P1; lock N1; tie W2.main t1; tie W2.main t3
cut_tie W2.main t1; route W2.main along way; tether C3; tether CU; pack N1 in kit; pack W2 in sack
stow N1 at hatch; stow W2 in kit; stow COV at far; let_go COV; hand_over COV to bob
hand_over N1 to bob; hand_over W2 to ada; pull_aside N1; restore N1; let_go N1; pick_up N1
restrain W2; engage N1 to J3; fasten COV 2; block SW2; let_go BOX; pick_up BOX; stow BOX in kit
fit_cap CU on N2; fit_cap C3 on J4; walk to bench; carry sack; leave sack; hand_over CU to bob
pack CU in sack; found SW1 tripped; found SW2 tripped; reset SW2
"""

BY_VERB: dict[str, list[Action]] = {}
for deed in [*DEEDS, *(action_of(t, "seen") for t in MORE.replace(";", "\n").strip().splitlines())]:
    BY_VERB.setdefault(deed.verb, []).append(deed)


def after(config: Configuration, effect: Effect) -> Configuration:
    twin = config.copy()
    twin.apply((*effect.begin, *effect.end))
    return twin


def test_the_forced_end_is_the_end_of_the_same_action_where_it_is_legal() -> None:
    wiring, rng, seen = GROUND.wiring, random.Random(7), Counter[str]()
    verbs = [*sorted(BY_VERB), "route", "tie", "cut_tie", "lock", "reset"]  # seldom legal
    tied = recorded("tie W2.main at t1").fold.config
    for trial in range(250):
        config = (GROUND.config if trial % 2 else tied).copy()
        for _ in range(80):
            action = rng.choice(BY_VERB[rng.choice(verbs)])
            names = rng.choice((["ada"], ["bob"], ["ada", "bob"], ["bob", "ada"], ["gus"]))
            workers = tuple(wiring.by_id[name] for name in names)
            legal = attempt_action(config, action, workers, 1, lambda _: False, PLAN.roles)
            if not isinstance(legal, Effect):
                continue
            end = after(config, legal)
            if action.verb not in LEAVE_NOTHING:
                forced = mended(config, force(config, action, workers, 1, PLAN.roles)[0], workers)
                assert after(config, forced).tables == end.tables, (action, names)
                seen[action.verb] += 1
            if action.verb != "found" or rng.random() < 0.1:
                config = end
    assert set(seen) == set(VERBS) - LEAVE_NOTHING, "every verb was compared"


@settings(max_examples=60)
@given(ENTRIES)
def test_whatever_is_recorded_leaves_what_can_be(rows: list[object]) -> None:
    assert contradictions(GROUND.config) == []
    assert contradictions(track(GROUND, [PLAN], entries_of(rows)).fold.config) == []


@pytest.mark.parametrize(
    ("lines", "name", "words"),
    [
        (("take W2", "route W2.main along off"), "N1", "routed"),
        (("take W2", "mate N1 to J3", "walk to far"), "N1", "loose bench"),  # let go before
        (("take W2", "mate N1 to J3", "stow N1 in kit"), "J3", "bare"),  # a bag has nothing mated
        (("take W2", "stow W2 in kit", "mate N1 to J3"), "N1", "loose bench"),
        (("remove PAN", "mate N1 to JN"), "PAN", "installed"),  # else nobody could
        (("mate N1 to JB", "remove BOX"), "JB", "bare"),
        (("mate N1 to JB", "remove BOX"), "BOX", "removed ada"),
        (("remove BOX", "stow BOX in kit"), "BOX", "removed kit"),
        (("switch_off SW1", "block SW1", "switch_off SW1"), "SW1", "blocked"),
    ],
)
def test_what_must_follow_follows(lines: tuple[str, ...], name: str, words: str) -> None:
    tracked = recorded(*lines)
    assert so(tracked, name, words), tracked.findings.items[-1].sentence()


def test_a_forced_route_takes_its_legs_and_leaves_no_tie_elsewhere() -> None:
    wiring = GROUND.wiring
    tracked = recorded("take W2", "tie W2.main at t1", "route W2.main along off")
    config, segment = tracked.fold.config, wiring.by_id["W2.main"]
    assert (config.along[segment], config.ties[segment]) == ((wiring.by_id["off"],), ())
    assert [wiring.items[config.link[n]].kind for n in wiring.segment_legs[segment]] == [
        "place",
        "place",
    ]
    assert not config.held_by(wiring.by_id["ada"])


def test_a_forced_tie_is_on_a_path() -> None:
    wiring = GROUND.wiring
    config = recorded("tie W1.main at t3").fold.config
    assert config.along[wiring.by_id["W1.main"]] == (wiring.by_id["off"],)
