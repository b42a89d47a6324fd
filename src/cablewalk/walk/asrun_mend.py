"""What must follow where a record overrides the model, so that the configuration can be at all."""

from __future__ import annotations

from dataclasses import replace

from cablewalk.documents.actions import Action
from cablewalk.replay.attempt import HALF, LEG, Effect
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.fit import cap_fits, misfit
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
    """Return an effect with what must follow from it: no leg is packed and mated at once.

    A half that was mated all the same had come out of its bag; a leg that was packed all the
    same had been demated. Nothing is changed in ``config``.
    """
    wiring = config.wiring
    was_packed = {leg for leg in wiring.half_of if config.state[leg] == LEG["packed"]}
    changes = (*effect.begin, *effect.end)
    config.apply(changes)
    more: list[Change] = []
    for leg, half in wiring.half_of.items():
        mate = config.link[half]
        joined = mate != NONE and wiring.items[mate].kind == "half"
        if config.state[leg] != LEG["packed"] or not joined:
            continue
        if leg in was_packed:
            places = (config.place_of(thing) for thing in (mate, *workers, leg))
            place = next((p for p in places if p != NONE), NONE)
            more.append(Change(Field.STATE, leg, LEG["packed"], LEG["loose"]))
            more.append(Change(Field.LINK, leg, config.link[leg], place))
        else:
            for one, other in ((half, mate), (mate, half)):
                more.append(Change(Field.STATE, one, config.state[one], HALF["bare"]))
                more.append(Change(Field.LINK, one, other, NONE))
    config.undo(changes)
    return replace(effect, end=(*effect.end, *more)) if more else effect
