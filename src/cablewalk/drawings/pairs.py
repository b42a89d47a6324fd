"""The lines between halves that are ever mated: which there are, and what each is called."""

from __future__ import annotations

from cablewalk.drawings.cast import Cast
from cablewalk.drawings.plate import Key
from cablewalk.replay.wiring import NONE, Wiring


def pair_key(wiring: Wiring, half: int, mate: int) -> Key:
    """Return the key of the line between a free half and its mate; of two free ones, the same."""
    if wiring.items[mate].role == "free":
        half, mate = min(half, mate), max(half, mate)
    return ("pair", half, mate)


def pair_keys(cast: Cast) -> list[tuple[Key, int, int]]:
    """Return (key, free half, other half) for every pair of the cast that is ever mated.

    Of two free halves each key stands for the pair once, the lower item first.
    """
    shown = frozenset(cast.halves)
    found = []
    for harness in cast.harnesses:
        for leg in cast.legs[harness]:
            half = cast.wiring.half_of.get(leg, NONE)
            for mate in cast.mates.get(half, ()):
                free = cast.wiring.items[mate].role == "free"
                if (free and half < mate) or mate in shown:
                    found.append((pair_key(cast.wiring, half, mate), half, mate))
    return found
