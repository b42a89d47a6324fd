"""How a thing stands, in the words of a table."""

from __future__ import annotations

from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE

STATES = {
    "part_engaged": "part-engaged",
    "routed": "laid",
    "unverified": "mated, lock unverified",
    "in_hand": "in hand",
    "pulled_aside": "pulled aside",
    "part_fastened": "part fastened",
    "at_place": "left",
}
"""State words that are not spoken as they are written."""


def spoken(state: str) -> str:
    """Return a state in words."""
    return STATES.get(state, state)


def half_words(config: Configuration, half: int) -> str:
    """Return how a free half is joined: ``on J1``, ``on J1, part-engaged``; else ``off``."""
    wiring = config.wiring
    mate = config.link[half]
    if mate == NONE or wiring.items[mate].kind != "half":
        return "off"
    if wiring.items[mate].role == "parking":
        return f"parked on {wiring.items[mate].id}"
    state = config.state_name(half)
    name = wiring.items[mate].id
    return f"on {name}" if state == "mated" else f"on {name}, {spoken(state).split(', ')[-1]}"


def fixed_words(config: Configuration, half: int) -> str:
    """Return what is on a fixed half: ``mated with P1``, ``capped by C1``, ``bare``."""
    wiring = config.wiring
    mate, state = config.link[half], spoken(config.state_name(half))
    if mate == NONE:
        return state
    name = wiring.items[mate].id
    if wiring.items[mate].kind != "half":
        return f"capped by {name}"
    if wiring.items[half].role == "parking":
        return f"{name} parked on it"
    doubt = "" if state == "mated" else f", {state.split(', ')[-1]}"
    return f"mated with {name}{doubt}"


def kept_words(config: Configuration, item: int) -> str:
    """Return how a leg, cap, bag or other thing is kept, and where."""
    wiring = config.wiring
    state, link = config.state_name(item), config.link[item]
    kind = wiring.items[item].kind
    if kind == "cap" and state == "tethered" and link == wiring.cap_on.get(item, NONE):
        return "on its tether"
    if link == NONE:
        return spoken(state)
    name = wiring.items[link].id
    if state in ("fitted", "tethered"):
        return f"{'on' if state == 'fitted' else 'tethered to'} {name}"
    if wiring.items[link].kind == "person":
        return (
            f"held by {name}"
            if state == "held"
            else f"{spoken(state)} of {name}".replace("carried of", "carried by")
        )
    at = "in" if wiring.items[link].kind == "bag" else "at"
    return f"{spoken(state)} {at} {name}"


def laid_words(config: Configuration, segment: int) -> str:
    """Return along which paths a segment is laid and where it is tied; empty where neither."""
    wiring = config.wiring
    along = " ".join(wiring.items[n].id for n in config.along[segment])
    ties = " ".join(wiring.items[n].id for n in config.ties[segment])
    parts = (f"along {along}" if along else "", f"tied {ties}" if ties else "")
    return ", ".join(part for part in parts if part)


def fixture_words(config: Configuration, item: int) -> str:
    """Return how a unit, panel, cover or switch stands."""
    wiring = config.wiring
    state = spoken(config.state_name(item))
    if wiring.items[item].kind == "cover" and state == "part fastened":
        state = f"{config.count[item]} of {wiring.fasteners[item]} fasteners made"
    link = config.link[item]
    return state if link == NONE else f"{state}, now {wiring.items[link].id}"
