"""Caps: on, off, tethered, in hand."""

from __future__ import annotations

from cablewalk.replay.acts_half import touch
from cablewalk.replay.attempt import Attempt
from cablewalk.replay.fit import cap_fits
from cablewalk.replay.wiring import NONE


def fit_cap(attempt: Attempt, cap_name: str, half_name: str) -> None:
    """Put a cap on a bare half."""
    cap, half = attempt.known(cap_name, "cap"), attempt.known(half_name, "half")
    if not cap_fits(attempt.wiring, cap, half):
        raise attempt.refuse(
            cap,
            f"{attempt.named(cap)} does not fit {attempt.named(half)}",
            "a cap made for this half",
            blame=(),
        )
    touch(attempt, half)
    if attempt.state(cap) == "tethered":
        attempt.reach(cap)
    elif attempt.state(cap) == "held":
        attempt.holder(cap)
    attempt.event(cap, "fit")
    attempt.event(half, "cap")
    electrical = bool(attempt.wiring.joints[cap])
    attempt.link(cap, half, at_begin=electrical)
    attempt.link(half, cap, at_begin=electrical)


def remove_cap(attempt: Attempt, name: str) -> None:
    """Take a cap off: on its own half's tether it hangs there, else it stays in hand."""
    cap = attempt.known(name, "cap")
    wiring = attempt.wiring
    half = attempt.config.link[cap]
    hangs = wiring.cap_tethered[cap] and wiring.cap_on.get(cap, NONE) == half
    attempt.event(cap, "remove_tethered" if hangs else "remove_loose")
    touch(attempt, half)
    attempt.event(half, "uncap")
    attempt.link(half, NONE)
    attempt.link(cap, half if hangs else attempt.workers[0])


def tether(attempt: Attempt, cap: int) -> None:
    """Tether a held cap: to its own half where that is here, else to the place."""
    attempt.holder(cap)
    here = attempt.here()
    own = attempt.wiring.cap_on.get(cap, NONE)
    target = own if own != NONE and attempt.config.place_of(own) == here else here
    attempt.event(cap, "tether")
    attempt.link(cap, target)
