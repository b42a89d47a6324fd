"""An action in words: the verb, and what it acts on as the hardware is marked."""

from __future__ import annotations

from typing import Final

from cablewalk.documents.actions import Action, Walk
from cablewalk.replay.wiring import Wiring

_BETWEEN: Final = {
    "mate": "to",
    "engage": "to",
    "seat": "to",
    "park": "on",
    "fit_cap": "on",
    "pack": "in",
    "hand_over": "to",
    "stow": "at",
    "tie": "at",
    "cut_tie": "at",
    "route": "along",
    "verify": "is",
    "expect": "is",
    "found": "is",
}
"""The word between the two that these verbs take."""


def deed(wiring: Wiring, action: Action) -> str:
    """Return an action in one line, such as ``mate P1 (W1 P1) to J3 (PWR IN)``."""
    verb, argument = action.verb, action.argument
    spoken = verb.replace("_", " ")
    if isinstance(argument, Walk):
        loaded = ", carrying" if argument.carrying else ""
        return f"walk to {_named(wiring, argument.to)}{loaded}"
    if isinstance(argument, str):
        return f"{spoken} {_named(wiring, argument)}"
    if isinstance(argument, float):
        return f"{spoken} {argument:g} min"
    if verb in ("release", "fasten"):
        ((cover, count),) = argument.items()
        some = "" if count is None else f" {count} fastener{'s' * (count != 1)} of"
        return f"{spoken}{some} {_named(wiring, cover)}"
    pairs = []
    for name, other in argument.items():
        others = other.split() if isinstance(other, str) else other
        told = (
            ", ".join(_named(wiring, o) for o in others)
            if verb == "route"
            else (" ".join(_named(wiring, o) for o in others))
        )
        pairs.append(f"{_named(wiring, name)} {_BETWEEN[verb]} {told}")
    return f"{spoken} {'; '.join(pairs)}"


def _named(wiring: Wiring, name: str) -> str:
    """Return an id with the label as marked; what is no item of the hardware as it is."""
    item = wiring.by_id.get(name)
    return name if item is None else wiring.items[item].named
