"""What an action is to bring about, and holds already as the action comes: done off the plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from cablewalk.documents.actions import Action
from cablewalk.replay.attempt import HALF
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.standing import is_so, subject, told
from cablewalk.replay.wiring import NONE
from cablewalk.walk.asrun_force import left_by
from cablewalk.walk.asrun_laid import laid, segments_of

_AS_FAR: Final = {
    "engage": ("part_engaged", "unverified", "mated"),
    "seat": ("unverified", "mated"),
    "mate": ("mated",),
    "park": ("mated",),
}
"""Verb to the states of two halves in which nothing is left for it to do."""

_CLOSED: Final = ("released", "part_fastened", "fastened")
_ENOUGH: Final = {
    "demate": ("bare", "capped"),
    "remove_cap": ("tethered", "held", "packed"),
    "release": ("released", "open", "removed"),
    "fasten": ("fastened",),
    "open": ("open", "removed"),
    "close": _CLOSED,
    "remove_cover": ("removed",),
    "fit_cover": _CLOSED,
    "remove": ("removed",),
    "reset": ("off", "blocked"),
}
"""Verb to the states of its one item in which nothing is left for it to do: as far, or further."""

_LOOKS: Final = ("found", "expect", "verify")
"""Verbs that name states, and bring none about."""

_WORDS: Final = {
    "mated": "mated with",
    "part_engaged": "part-engaged with",
    "unverified": "seated in",
    "capped": "capped with",
    "fitted": "fitted on",
    "in_hand": "in hand of",
    "held": "held by",
    "carried": "carried by",
    "packed": "packed in",
    "tethered": "tethered to",
    "removed": "removed, and with",
    "at_place": "at",
    **dict.fromkeys(("loose", "restrained", "stowed", "routed"), "{} at"),
}
"""State to how it reads before what goes with it."""


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


def already_so(
    config: Configuration, action: Action, workers: tuple[int, ...], roles: Mapping[str, str]
) -> str:
    """Return how the items of an action stand that it is to bring so, else empty.

    Of what is found impossible this tells what was done off the plan before: nothing is left to do.
    """
    if action.verb in _AS_FAR:
        return overtaken_by(config, action)
    if action.verb in _LOOKS:
        return ""
    if action.verb in _ENOUGH:
        argument = action.argument
        name = argument if isinstance(argument, str) else next(iter(argument))
        enough = config.state_name(config.wiring.by_id[name]) in _ENOUGH[action.verb]
        return f"{_stands(config, name, '')} already" if enough else ""
    if segments_of(action):
        names = ", ".join(name for name, _ in segments_of(action))
        return "" if laid(config, action, workers) else f"{names} lies and is tied so already"
    states = left_by(config, action, workers, roles)
    items = {name: subject(config.wiring, name, words) for name, words in states.items()}
    if not states or not all(
        items[name] != NONE and is_so(config, items[name], words) for name, words in states.items()
    ):
        return ""
    return f"{', '.join(_stands(config, name, words) for name, words in states.items())} already"


def _stands(config: Configuration, name: str, words: str) -> str:
    """Return how an item stands, as a sentence; ``words`` tell a leg from its half."""
    item = subject(config.wiring, name, words)
    text = told(config, item)
    if config.wiring.items[item].kind == "person":
        return f"{name} is {text}"
    state, *rest = text.split()
    plain = state.replace("_", "-")
    lead = _WORDS.get(state, plain).format(plain) if rest else plain.replace("-", " ")
    return f"{name} is {' '.join((lead, *rest))}"
