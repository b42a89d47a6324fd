"""What the log makes of an action the model holds impossible: the state it leaves, as found."""

from __future__ import annotations

from collections.abc import Mapping

from cablewalk.documents.actions import Action
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.walk.asrun_laid import laid, segments_of

MATING = {"mate": "mated", "engage": "part_engaged", "seat": "unverified", "park": "mated"}
"""Verb to the state in which it leaves the two halves."""

_STATE_AFTER = {
    "demate": "bare",
    "open": "open",
    "close": "released",
    "fit_cover": "released",
    "switch_off": "off",
    "block": "blocked",
    "unblock": "off",
    "switch_on": "on",
    "reset": "off",
    "install": "installed",
    "pull_aside": "pulled_aside",
    "restore": "routed",
}
"""Verb of one item to the state in which it leaves it."""

_HERE = {"let_go": "loose", "restrain": "restrained", "leave": "at_place"}
"""Verb to the state in which it leaves an item at the worker's place."""

_ACTS_ON = {
    "take": ("packed",),
    "pack": ("in_hand",),
    "hand_over": ("in_hand",),
    "let_go": ("in_hand",),
    "pick_up": ("loose", "restrained", "stowed", "routed"),
    "restrain": ("in_hand", "loose"),
    "stow": ("in_hand", "loose", "restrained"),
    "pull_aside": ("routed",),
    "restore": ("pulled_aside",),
}
"""Verb of a whole harness to the states of those legs it acts on."""

_IN_HAND = {
    "leg": "in_hand",
    "cap": "held",
    "bag": "carried",
    **dict.fromkeys(("cover", "unit", "panel"), "removed"),
}
"""Kind of item to its state, or none, when a worker has it."""


def force(
    config: Configuration,
    action: Action,
    workers: tuple[int, ...],
    serial: int,
    roles: Mapping[str, str],
) -> tuple[Effect, dict[str, str]]:
    """Return what an action leaves though the model refuses it, and that in words of ``found``.

    The words are empty where the action leaves no state, or leaves one the model has no word
    for; the effect is then only that the workers were busy.
    """
    states = left_by(config, action, workers, roles)

    def attempt(deed: Action) -> Effect | None:
        outcome = attempt_action(config, deed, workers, serial, _up, roles)
        return outcome if isinstance(outcome, Effect) else None

    effect = attempt(Action(found=states, reason="recorded as done")) if states else None
    if effect is None:
        states = {}
        effect = attempt(Action(wait=0))
        assert effect is not None, "waiting is never refused to a worker who is free"
    effect = _lasting(config, effect)
    lie = laid(config, action, workers)
    if lie and not states:
        states = {name: _lies(action, values) for name, values in segments_of(action)}
        legs = (config.wiring.items[c.item].id for c in lie if c.field is Field.STATE)
        states |= dict.fromkeys(legs, "routed")
    more = [*_mates(config, action, effect), *lie]
    return effect._replace(end=(*effect.end, *more)), states


def _lies(action: Action, values: tuple[str, ...]) -> str:
    words = {"route": "along", "tie": "tied at", "cut_tie": "not tied at"}[action.verb]
    return f"{words} {' '.join(values)}"


def _lasting(config: Configuration, effect: Effect) -> Effect:
    """Return what was found as something done: under way from the beginning, so at the end."""
    items = config.wiring.items
    begin: list[Change] = []
    done: list[Change] = []
    for change in effect.begin:
        hands = change.field is Field.STATE and items[change.item].kind == "person"
        if change.field is Field.CLAIM and isinstance(change.new, int):
            begin.append(change._replace(new=change.new | 1))
        else:
            (begin if hands else done).append(change)
    # Freed as it was claimed: else the joins in doubt meanwhile would stay so.
    claimed = {change.item: change.new for change in begin if change.field is Field.CLAIM}
    end = (
        change._replace(old=claimed[change.item]) if change.field is Field.CLAIM else change
        for change in effect.end
    )
    return Effect(tuple(begin), (*done, *end), effect.items)


def _up(service: int) -> bool:
    """Take every service for up: what was commanded was commanded."""
    return False


def left_by(
    config: Configuration, action: Action, workers: tuple[int, ...], roles: Mapping[str, str]
) -> dict[str, str]:
    """Return the states, in the words of ``found``, in which an action leaves its items."""
    verb, argument, wiring = action.verb, action.argument, config.wiring
    place = next((p for p in map(config.place_of, workers) if p != NONE), NONE)
    here = wiring.items[place].id if place != NONE else ""
    who = wiring.items[workers[0]].id if workers else ""
    if verb in MATING or verb in ("fit_cap", "pack", "stow", "hand_over"):
        ((name, other),) = argument.items()
        if verb == "fit_cap":
            return {other: f"capped {name}"}
        if verb in MATING:
            return {name: f"{MATING[verb]} {other}"}
        if verb == "hand_over":
            return _held(config, verb, name, roles.get(other, other))
        state = "stowed" if verb == "stow" else "packed"
        state = "removed" if _is_whole(config, name) else state
        return dict.fromkeys(_legs(config, verb, name), f"{state} {other}")
    if verb in ("found", "expect", "verify"):
        known = argument if isinstance(argument, dict) else {}
        return {name: words for name, words in known.items() if name in wiring.by_id}
    if verb in ("release", "fasten"):
        ((name, count),) = argument.items()
        return {name: _fasteners(config, name, count, verb == "fasten")}
    if verb == "walk":
        target = roles.get(argument.to, argument.to)
        rides = wiring.items[wiring.by_id[target]].kind == "person"
        able = [w for w in workers if not rides or wiring.items[w].role != "vehicle"]
        return {wiring.items[w].id: f"at {target}" for w in able}
    if verb in ("take", "pick_up", "carry", "remove_cover"):
        return _held(config, verb, argument, who)
    if verb == "remove_cap":
        own = config.link[wiring.by_id[argument]] == wiring.cap_on.get(wiring.by_id[argument], -2)
        tethered = own and wiring.cap_tethered[wiring.by_id[argument]]
        return {argument: "tethered" if tethered else f"held {who}"}
    if verb == "tether":
        half = wiring.cap_on.get(wiring.by_id[argument], NONE)
        if half != NONE and (place == NONE or config.place_of(half) == place):
            return {argument: "tethered"}
        return {argument: f"tethered {here}"} if here else {}
    if verb == "remove":
        return {argument: f"removed {who}".strip()}
    if verb == "lock":
        mate = config.link[wiring.by_id[argument]]
        joined = mate != NONE and wiring.items[mate].kind == "half"
        return {argument: f"mated {wiring.items[mate].id}"} if joined else {}
    if verb in _HERE:
        state = "removed" if _is_whole(config, argument) else _HERE[verb]
        return {leg: f"{state} {here}".strip() for leg in _legs(config, verb, argument)}
    if verb in ("pull_aside", "restore"):
        return dict.fromkeys(_legs(config, verb, argument), _STATE_AFTER[verb])
    if verb == "switch_off" and config.state_name(wiring.by_id[argument]) == "blocked":
        return {argument: "blocked"}  # it is off already, and stays blocked
    return {argument: _STATE_AFTER[verb]} if verb in _STATE_AFTER else {}


def _legs(config: Configuration, verb: str, name: str) -> list[str]:
    """Return the one thing of this name, or those legs of a harness a verb acts on; else all."""
    wiring = config.wiring
    harness = wiring.item("harness", name)
    if harness == NONE:
        return [name]
    legs = wiring.legs_of[harness]
    fit = [leg for leg in legs if config.state_name(leg) in _ACTS_ON.get(verb, ())]
    return [wiring.items[leg].id for leg in fit or legs]


def _is_whole(config: Configuration, name: str) -> bool:
    """Return whether this is a cover, unit or panel: put down, it is still removed."""
    item = config.wiring.by_id[name]
    return config.wiring.items[item].kind in ("cover", "unit", "panel")


def _held(config: Configuration, verb: str, name: str, who: str) -> dict[str, str]:
    wiring = config.wiring
    found = {}
    for each in _legs(config, verb, name):
        item = wiring.by_id[each]
        kind = "leg" if item in wiring.leg_of else wiring.items[item].kind
        if kind in _IN_HAND:
            found[each] = f"{_IN_HAND[kind]} {who}".strip()
    return found


def _fasteners(config: Configuration, name: str, count: int | None, fasten: bool) -> str:
    cover = config.wiring.by_id[name]
    total, now = config.wiring.fasteners[cover], config.count[cover]
    change = total if count is None else count
    left = now + change if fasten else max(0, now - change)
    if left >= total:
        return "fastened"
    return f"part_fastened {left}" if left > 0 else "released"


def _mates(config: Configuration, action: Action, effect: Effect) -> list[Change]:
    """Return the mates to count: two halves brought together that were not before."""
    if action.verb not in MATING or not any(c.field is Field.LINK for c in effect.end):
        return []
    ((a, b),) = action.argument.items()
    halves = [config.wiring.by_id[name] for name in (a, b)]
    if config.link[halves[0]] == halves[1]:
        return []
    return [Change(Field.COUNT, h, config.count[h], config.count[h] + 1) for h in halves]
