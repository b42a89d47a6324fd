"""What fits what."""

from __future__ import annotations

from cablewalk.replay.wiring import NONE, Wiring

_PARTS = ("family", "shell size", "insert arrangement", "key position", "contacts")


def misfit(wiring: Wiring, a: int, b: int) -> str:
    """Return why two halves cannot mate, or an empty text where they can."""
    one, two = wiring.interface_key[a], wiring.interface_key[b]
    for part, x, y in zip(_PARTS, one, two, strict=True):
        if x != y:
            if part == "contacts":
                return f"one has {len(one[4])} contacts and the other {len(two[4])}"
            return f"their {part} differs ({x or 'none'} and {y or 'none'})"
    if wiring.gender[a] == wiring.gender[b]:
        return f"both have {wiring.gender[a]} contacts"
    if wiring.items[a].owner != NONE and wiring.items[b].owner != NONE:
        return "both are fixed"
    return ""


def cap_fits(wiring: Wiring, cap: int, half: int) -> bool:
    """Return whether a cap fits a half: same interface and the gender it was made for."""
    interface, gender = wiring.cap_fits[cap]
    return wiring.interface_key[half] == interface and wiring.gender[half] == gender
