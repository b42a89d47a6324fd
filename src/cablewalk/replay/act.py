"""Every verb to what it does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from cablewalk.documents.actions import Action
from cablewalk.replay import (
    acts_cap,
    acts_carry,
    acts_cover,
    acts_found,
    acts_half,
    acts_leg,
    acts_switch,
)
from cablewalk.replay.attempt import Attempt, Effect, Refusal, Refused
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import RETIRED, Configuration
from cablewalk.replay.standing import subject
from cablewalk.replay.wiring import NONE

Deed = Callable[[Attempt, Action], None]


def _pair(mapping: dict[str, str] | None) -> tuple[str, str]:
    assert mapping is not None
    return next(iter(mapping.items()))


def _counted(mapping: dict[str, int | None] | None) -> tuple[str, int | None]:
    assert mapping is not None
    return next(iter(mapping.items()))


def _one(name: str | None) -> str:
    assert name is not None
    return name


def _tether(attempt: Attempt, action: Action) -> None:
    acts_cap.tether(attempt, attempt.known(_one(action.tether), "cap"))


def _hand_over(attempt: Attempt, action: Action) -> None:
    name, to = _pair(action.hand_over)
    acts_carry.hand_over(attempt, name, attempt.known(attempt.roles.get(to, to), "person"))


def _inspect(attempt: Attempt, action: Action) -> None:
    item = attempt.known(_one(action.inspect), *INSPECTED)
    if attempt.wiring.items[item].kind == "half":
        acts_half.touch(attempt, item)
    elif attempt.wiring.items[item].kind not in ("segment", "harness"):
        attempt.reach(item)
    attempt.claim(item, moves=False)


def _verify(attempt: Attempt, action: Action) -> None:
    """Check that a state can be seen at all; a switch of unknown state is seen as verified."""
    if not isinstance(action.verify, dict):
        return
    for name, words in action.verify.items():
        item = subject(attempt.wiring, name, words)
        if item == NONE:
            continue
        if attempt.wiring.items[item].kind != "switch":
            attempt.reach(item)
        else:
            acts_switch.commandable(attempt, item)
            if attempt.state(item) == "unknown" and words in ("on", "off", "blocked"):
                attempt.event(item, f"see_{words}", moves=False)


def _found(attempt: Attempt, action: Action) -> None:
    assert action.found is not None
    for name, words in action.found.items():
        acts_found.found(attempt, name, words)


def _retire(attempt: Attempt, action: Action) -> None:
    service = attempt.wiring.service_by_id[_one(action.retire)]
    attempt.set(Field.LIFE, service, RETIRED)


def _nothing(attempt: Attempt, action: Action) -> None:
    """Waiting, GO calls and expectations change nothing."""


def _walk(attempt: Attempt, action: Action) -> None:
    assert action.walk is not None
    acts_carry.walk(attempt, attempt.roles.get(action.walk.to, action.walk.to))


def _route(attempt: Attempt, action: Action) -> None:
    assert action.route is not None
    name, paths = next(iter(action.route.items()))
    acts_leg.route(attempt, name, paths)


INSPECTED: Final = ("half", "leg", "cap", "cover", "segment", "harness", "unit", "panel", "bag")

DEEDS: Final[dict[str, Deed]] = {
    "mate": lambda t, a: acts_half.join(t, *_pair(a.mate), "mate"),
    "engage": lambda t, a: acts_half.join(t, *_pair(a.engage), "engage"),
    "seat": lambda t, a: acts_half.join(t, *_pair(a.seat), "seat"),
    "lock": lambda t, a: acts_half.lock(t, _one(a.lock)),
    "demate": lambda t, a: acts_half.demate(t, _one(a.demate)),
    "park": lambda t, a: acts_half.park(t, *_pair(a.park)),
    "fit_cap": lambda t, a: acts_cap.fit_cap(t, *_pair(a.fit_cap)),
    "remove_cap": lambda t, a: acts_cap.remove_cap(t, _one(a.remove_cap)),
    "tether": _tether,
    "pick_up": lambda t, a: acts_leg.pick_up(t, _one(a.pick_up)),
    "let_go": lambda t, a: acts_leg.let_go(t, _one(a.let_go)),
    "release": lambda t, a: acts_cover.release(t, *_counted(a.release)),
    "fasten": lambda t, a: acts_cover.fasten(t, *_counted(a.fasten)),
    "open": lambda t, a: acts_cover.open_cover(t, _one(a.open)),
    "close": lambda t, a: acts_cover.close_cover(t, _one(a.close)),
    "remove_cover": lambda t, a: acts_cover.remove_cover(t, _one(a.remove_cover)),
    "fit_cover": lambda t, a: acts_cover.fit_cover(t, _one(a.fit_cover)),
    "switch_off": lambda t, a: acts_switch.operate(t, _one(a.switch_off), "switch_off"),
    "block": lambda t, a: acts_switch.operate(t, _one(a.block), "block"),
    "unblock": lambda t, a: acts_switch.operate(t, _one(a.unblock), "unblock"),
    "switch_on": lambda t, a: acts_switch.operate(t, _one(a.switch_on), "switch_on"),
    "reset": lambda t, a: acts_switch.operate(t, _one(a.reset), "reset"),
    "take": lambda t, a: acts_leg.take(t, _one(a.take)),
    "pack": lambda t, a: acts_leg.pack(t, *_pair(a.pack)),
    "carry": lambda t, a: acts_carry.carry(t, _one(a.carry)),
    "leave": lambda t, a: acts_carry.leave(t, _one(a.leave)),
    "hand_over": _hand_over,
    "pull_aside": lambda t, a: acts_leg.shift(t, _one(a.pull_aside), "pull_aside"),
    "restore": lambda t, a: acts_leg.shift(t, _one(a.restore), "restore"),
    "tie": lambda t, a: acts_leg.tie(t, *_pair(a.tie)),
    "cut_tie": lambda t, a: acts_leg.cut_tie(t, *_pair(a.cut_tie)),
    "route": _route,
    "restrain": lambda t, a: acts_leg.restrain(t, _one(a.restrain)),
    "stow": lambda t, a: acts_leg.stow(t, *_pair(a.stow)),
    "install": lambda t, a: acts_carry.install(t, _one(a.install)),
    "remove": lambda t, a: acts_carry.remove(t, _one(a.remove)),
    "walk": _walk,
    "inspect": _inspect,
    "verify": _verify,
    "expect": _nothing,
    "go_call": _nothing,
    "wait": _nothing,
    "found": _found,
    "retire": _retire,
}
"""Verb to what an attempt at it does."""


def attempt_action(
    config: Configuration,
    action: Action,
    workers: tuple[int, ...],
    serial: int,
    is_down: Callable[[int], bool],
    roles: Mapping[str, str],
) -> Effect | Refusal:
    """Return what an action would change, or why it is impossible; change nothing.

    ``is_down`` tells whether a service is down: what is commanded through it cannot be moved.
    """
    try:
        attempt = Attempt(config, workers, serial, is_down, roles)
        DEEDS[action.verb](attempt, action)
    except Refused as refused:
        return refused.refusal
    effect = attempt.effect()
    if action.found is None:
        return effect
    # What is found was so already when it was looked at: nothing waits for the end.
    done = tuple(attempt.end)
    return Effect((*effect.begin, *done), effect.end[len(done) :], effect.items)
