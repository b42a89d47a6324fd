"""Joins that are made already, or locks verified already, as an action comes to make them."""

from __future__ import annotations

from typing import Final

from cablewalk.documents.actions import Action
from cablewalk.replay.attempt import HALF
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE

_AS_FAR: Final = {
    "engage": ("part_engaged", "unverified", "mated"),
    "seat": ("unverified", "mated"),
    "mate": ("mated",),
    "park": ("mated",),
}
"""Verb to the states of two halves in which nothing is left for it to do."""


def only_looks(config: Configuration, action: Action) -> bool:
    """Return whether an action verifies a lock that was verified already: it alters nothing.

    What only looks puts nothing in doubt ('Actions and time' in DEVELOPERS.md).
    """
    half = config.wiring.item("half", action.lock) if action.lock is not None else NONE
    mate = config.link[half] if half != NONE else NONE
    mated = HALF["mated"]
    return mate != NONE and config.state[half] == config.state[mate] == mated


def overtaken_by(config: Configuration, action: Action) -> str:
    """Return how two halves stand that are joined as far as a mating brings them, else empty."""
    if action.verb not in _AS_FAR:
        return ""
    names = next(iter(action.argument.items()))
    a, b = (config.wiring.by_id[name] for name in names)
    states = {config.state_name(a), config.state_name(b)}
    if config.link[a] != b or config.link[b] != a or not states <= set(_AS_FAR[action.verb]):
        return ""
    state = config.state_name(a).replace("_", "-")
    words = {"unverified": "is seated in", "mated": "is mated with"}
    return f"{names[0]} {words.get(config.state_name(a), f'is {state} with')} {names[1]} already"
