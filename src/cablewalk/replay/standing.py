"""How an item stands, in the words of ``expect``, ``verify`` and ``found``."""

from __future__ import annotations

from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STATEFUL, Wiring


def subject(wiring: Wiring, name: str, words: str) -> int:
    """Return the item ``name`` means: a leg where the state is a leg's, else the half or other."""
    item = wiring.by_id.get(name, NONE)
    if item != NONE and wiring.items[item].kind == "half":
        first = words.split()[0] if words.split() else ""
        if first in COMPILED["leg"].state_index:
            return wiring.leg_of.get(item, NONE)
    return item


def states_of(wiring: Wiring, item: int) -> tuple[str, ...]:
    """Return the state words an item can have (a half also ``parked``; people and bags a place)."""
    machine = STATEFUL.get(wiring.items[item].kind)
    if machine is None or machine == "actor":
        return ("at",) if machine == "actor" else ()
    states = COMPILED[machine].states
    if machine == "half":
        return (*states, "parked")
    if machine == "bag":
        return (*states, "at")
    return states


def is_so(config: Configuration, item: int, words: str) -> bool:
    """Return whether an item is in the state, and with the partner, that ``words`` say.

    ``mated J1``, ``capped``, ``parked``, ``stowed BAG1``, ``part_fastened 3``, ``at hatch``.
    """
    wiring = config.wiring
    state, *rest = words.split()
    if wiring.items[item].kind == "person" or (state == "at"):
        return bool(rest) and config.place_of(item) == wiring.by_id.get(rest[0], NONE)
    link = config.link[item]
    if state == "parked":
        if config.state_name(item) != "mated" or wiring.items[link].role != "parking":
            return False
    elif config.state_name(item) != state:
        return False
    if not rest:
        return True
    if rest[0].isdigit():
        return config.count[item] == int(rest[0])
    target = wiring.by_id.get(rest[0], NONE)
    return link == target or (target != NONE and config.place_of(item) == target)


def told(config: Configuration, item: int) -> str:
    """Return how an item stands, with its partner, in the same words."""
    wiring = config.wiring
    if wiring.items[item].kind == "person":
        place = config.place_of(item)
        return f"at {wiring.items[place].id}" if place != NONE else "at no place"
    link = config.link[item]
    text = config.state_name(item)
    if wiring.items[item].kind == "cover" and text == "part_fastened":
        return f"{text} {config.count[item]}"
    return f"{text} {wiring.items[link].id}" if link != NONE else text
