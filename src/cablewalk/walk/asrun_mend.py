"""What must follow where a record overrides the model, so that the configuration can be at all."""

from __future__ import annotations

from cablewalk.documents.actions import Action
from cablewalk.replay.attempt import HALF, LEG, UNIT, Effect
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.fit import cap_fits, misfit
from cablewalk.replay.standing import told
from cablewalk.replay.wiring import NONE
from cablewalk.walk.asrun_force import MATING

_JOINED = frozenset({"mated", "unverified", "part_engaged", "parked"})


def misfits(config: Configuration, action: Action) -> str:
    """Return why what an action joins does not fit by the baseline's interfaces; else empty.

    Which contacts such a join would bring together nobody can tell: it cannot be modelled.
    """
    wiring = config.wiring
    for one, other in _joins(action):
        a, b = wiring.by_id.get(one, NONE), wiring.by_id.get(other, NONE)
        if NONE in (a, b):
            continue
        kinds = (wiring.items[a].kind, wiring.items[b].kind)
        if kinds == ("half", "half") and (why := misfit(wiring, a, b)):
            return f"{one} and {other} do not fit: {why}"
        if kinds == ("half", "half") and a == b:
            return f"{one} cannot mate with itself"
        cap, half = (a, b) if kinds[0] == "cap" else (b, a)
        if sorted(kinds) == ["cap", "half"] and not cap_fits(wiring, cap, half):
            return f"the cap {wiring.items[cap].id} does not fit {wiring.items[half].id}"
    return ""


def _joins(action: Action) -> list[tuple[str, str]]:
    """Return the pairs of ids an action brings together."""
    if action.verb in MATING or action.verb == "fit_cap":
        return list(action.argument.items())
    states = action.found or (action.verify if isinstance(action.verify, dict) else None)
    pairs = []
    for name, words in (states or action.expect or {}).items():
        state, *rest = words.split() or [""]
        if rest and (state in _JOINED or state in ("capped", "fitted")):
            pairs.append((name, rest[0]))
    return pairs


def mended(config: Configuration, effect: Effect, workers: tuple[int, ...]) -> Effect:
    """Return an effect with what must follow from it, so that what it leaves can be at all.

    A half that was mated all the same had come out of its bag, and its panel was there; a leg
    that was packed, or a unit that was removed all the same, had been demated; what is mated
    here was let go by who went away. Nothing is changed in ``config``.
    """
    wiring = config.wiring
    after = config.copy()
    after.apply((*effect.begin, *effect.end))
    more: list[Change] = []
    for leg, half in wiring.half_of.items():
        mate = after.link[half]
        if mate == NONE or wiring.items[mate].kind != "half":
            continue
        fresh = config.link[half] != mate
        step = _in_a_bag(config, after, leg, workers, fresh) or _off_a_panel(after, half, fresh)
        step = step or _apart(config, after, leg)
        after.apply(step)
        more.extend(step)
    return effect._replace(end=(*effect.end, *more)) if more else effect


def contradictions(config: Configuration) -> list[str]:
    """Return what cannot be at once, a sentence each; empty where everything can be."""
    wiring, found = config.wiring, []
    for leg, half in wiring.half_of.items():
        mate = config.link[half]
        if mate == NONE or wiring.items[mate].kind != "half":
            continue
        joined = f"{wiring.items[half].id} is mated with {wiring.items[mate].id}"
        with_leg = config.link[leg]
        if with_leg != NONE and wiring.items[with_leg].kind == "bag":
            found.append(f"{joined}, and its leg is {told(config, leg)}, a bag")
        elif _off_a_panel(config, half, fresh=True):
            owner = wiring.items[mate].owner
            found.append(f"{joined}, and {wiring.items[owner].id} is {told(config, owner)}")
        elif _apart(config, config, leg):
            spot = wiring.items[_place_of_mate(config, mate)].id
            found.append(f"{joined} at {spot}, and its leg is {told(config, leg)}, not there")
    return found


def _in_a_bag(
    before: Configuration, after: Configuration, leg: int, workers: tuple[int, ...], fresh: bool
) -> list[Change]:
    """Return what becomes of a mated leg that is with a bag: out of it, or demated."""
    wiring, bag = after.wiring, after.link[leg]
    if bag == NONE or wiring.items[bag].kind != "bag":
        return []
    half = wiring.half_of[leg]
    if not fresh and before.link[leg] != bag:
        return _parted(after, half)
    places = map(after.place_of, (after.link[half], *workers, leg))
    return _loose(after, leg, next((p for p in places if p != NONE), NONE))


def _off_a_panel(after: Configuration, half: int, fresh: bool) -> list[Change]:
    """Return what becomes of a half whose mate is on what is not installed."""
    owner = after.wiring.items[after.link[half]].owner
    if owner == NONE or after.state[owner] == UNIT["installed"]:
        return []
    if not fresh:
        return _parted(after, half)
    return [
        Change(Field.STATE, owner, after.state[owner], UNIT["installed"]),
        Change(Field.LINK, owner, after.link[owner], NONE),
    ]


def _apart(before: Configuration, after: Configuration, leg: int) -> list[Change]:
    """Return what becomes of a mated leg that is elsewhere than its mate: it lies at the mate.

    Of two free legs it is the one that was taken away from the other, or the first.
    """
    wiring = after.wiring
    mate = after.link[wiring.half_of[leg]]
    there, here = _place_of_mate(after, mate), after.place_of(leg)
    if there in (here, NONE):
        return []
    other = wiring.leg_of.get(mate, NONE)
    if other != NONE and before.place_of(other) != there and before.place_of(leg) == here:
        return _loose(after, other, here) if here != NONE else []
    return _loose(after, leg, there)


def _place_of_mate(config: Configuration, mate: int) -> int:
    leg = config.wiring.leg_of.get(mate, NONE)
    return config.place_of(mate if leg == NONE else leg)


def _loose(config: Configuration, leg: int, place: int) -> list[Change]:
    kept = (LEG["routed"], LEG["restrained"], LEG["pulled_aside"])
    state = config.state[leg]
    return [
        Change(Field.STATE, leg, state, state if state in kept else LEG["loose"]),
        Change(Field.LINK, leg, config.link[leg], place),
    ]


def _parted(config: Configuration, half: int) -> list[Change]:
    mate = config.link[half]
    return [
        change
        for one, other in ((half, mate), (mate, half))
        for change in (
            Change(Field.STATE, one, config.state[one], HALF["bare"]),
            Change(Field.LINK, one, other, NONE),
        )
    ]
