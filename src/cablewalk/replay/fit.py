"""What fits what."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.schedule.distance import Distances

InterfaceKey = tuple[str, str, str, str, tuple[str, ...]]

_PARTS = ("family", "shell size", "insert arrangement", "key position", "contacts")


def misfit(wiring: Wiring, a: int, b: int) -> str:
    """Return why two halves cannot mate, or an empty text where they can."""
    return next(misfits(wiring, a, b), "")


def misfits(wiring: Wiring, a: int, b: int) -> Iterator[str]:
    """Yield every reason why two halves cannot mate."""
    yield from _unlike(wiring.interface_key[a], wiring.interface_key[b])
    if wiring.gender[a] == wiring.gender[b]:
        yield f"both have {wiring.gender[a]} contacts"
    if wiring.items[a].owner != NONE and wiring.items[b].owner != NONE:
        yield "both are fixed"


def cap_misfits(wiring: Wiring, cap: int, half: int) -> Iterator[str]:
    """Yield every reason why a cap does not fit a half."""
    interface, gender = wiring.cap_fits[cap]
    yield from _unlike(interface, wiring.interface_key[half])
    if wiring.gender[half] != gender:
        yield f"the cap is made for {gender} contacts and the half has {wiring.gender[half]}"


def _unlike(one: InterfaceKey, two: InterfaceKey) -> Iterator[str]:
    """Yield each part in which two interfaces differ."""
    if one == two:
        return
    for part, x, y in zip(_PARTS, one, two, strict=True):
        if x == y:
            continue
        if part != "contacts":
            yield f"their {part} differs ({x or 'none'} and {y or 'none'})"
        elif len(x) != len(y):
            yield f"one has {len(x)} contacts and the other {len(y)}"
        else:
            yield "their contacts are named differently"


def one_harness(wiring: Wiring, a: int, b: int) -> bool:
    """Return whether two halves are at the legs of one harness."""
    legs = wiring.leg_of
    return a in legs and b in legs and wiring.items[legs[a]].owner == wiring.items[legs[b]].owner


def partners(config: Configuration, half: int, parking: bool, most: int = 4) -> list[int]:
    """Return halves that one could mate with by their interface, the nearest first.

    Nearest along the paths there are, from where the half is; those that no path leads to, or
    whose place nothing tells, come last. Whether they are bare, capped or mated now does not
    matter. Parking halves are asked for apart: they are no way to join anything. The other ends
    of its own harness are left out.
    """
    wiring = config.wiring
    way = Distances(
        (wiring.items[a].id, wiring.items[b].id, wiring.path_length_m[path])
        for path, (a, b) in wiring.path_ends.items()
    )
    here = config.place_of(half)

    def far(other: int) -> float:
        there = config.place_of(other)
        if NONE in (here, there):
            return inf
        length = way.between(wiring.items[here].id, wiring.items[there].id)
        return inf if length is None else length

    found = [
        other
        for other in wiring.ids("half")
        if (wiring.items[other].role == "parking") is parking
        and not one_harness(wiring, half, other)
        and not misfit(wiring, half, other)
    ]
    return sorted(found, key=far)[:most]


def cap_fits(wiring: Wiring, cap: int, half: int) -> bool:
    """Return whether a cap fits a half: same interface and the gender it was made for."""
    interface, gender = wiring.cap_fits[cap]
    return wiring.interface_key[half] == interface and wiring.gender[half] == gender
