"""Mating and demating."""

from __future__ import annotations

from cablewalk.replay.attempt import COVER, UNIT, Attempt
from cablewalk.replay.change import Field
from cablewalk.replay.fit import misfit, partners
from cablewalk.replay.wiring import NONE

_CLEAR = frozenset({COVER["open"], COVER["removed"]})


def accessible(attempt: Attempt, half: int) -> None:
    """Refuse where a half's panel is not there, or a cover is over it."""
    wiring, config = attempt.wiring, attempt.config
    owner = wiring.items[half].owner
    if owner != NONE and config.state[owner] != UNIT["installed"]:
        raise attempt.refuse(
            half,
            f"{attempt.named(half)} is on {attempt.named(owner)}, which is {attempt.state(owner)}",
            f"{wiring.items[owner].id} installed",
            ("install",),
        )
    for cover in wiring.covers_over.get(half, ()):
        if config.state[cover] not in _CLEAR:
            raise attempt.refuse(
                half,
                f"{attempt.named(half)} is under {attempt.named(cover)}, which is "
                f"{attempt.state(cover)}",
                f"{wiring.items[cover].id} open or removed",
                ("release", "open", "remove_cover"),
            )


def touch(attempt: Attempt, half: int) -> None:
    """Refuse unless the workers can touch a half."""
    attempt.reach(half)
    accessible(attempt, half)
    leg = attempt.wiring.leg_of.get(half, NONE)
    if leg == NONE:
        return
    where = attempt.config.link[leg]
    if where != NONE and attempt.wiring.items[where].kind == "bag":
        verb = "take" if attempt.state(leg) == "packed" else "pick_up"
        raise attempt.refuse(
            half,
            f"the leg {attempt.named(half)} is {attempt.state(leg)} in {attempt.named(where)}",
            "a leg taken out of its bag",
            (verb,),
        )
    if attempt.config.claim[leg] != NONE:
        raise attempt.refuse(
            half,
            f"another action is at work on the leg {attempt.named(half)}",
            "one action at a time on an item",
            ("wait",),
            (),
        )


def join(attempt: Attempt, free: str, other: str, event: str) -> None:
    """Bring two halves together; ``event`` is mate, seat or engage."""
    a, b = attempt.known(free, "half"), attempt.known(other, "half")
    config = attempt.config
    why = misfit(attempt.wiring, a, b)
    if why:
        raise attempt.refuse(
            a,
            f"{free} and {other} do not fit: {why}",
            "two halves that fit",
            blame=(),
            instead=_would_fit(attempt, a, attempt.wiring.items[b].role == "parking"),
        )
    touch(attempt, a)
    touch(attempt, b)
    for half, partner in ((a, b), (b, a)):
        mate = config.link[half]
        if mate not in (NONE, partner):
            doing = "capped with" if attempt.wiring.items[mate].kind == "cap" else "mated with"
            verb = "remove_cap" if attempt.wiring.items[mate].kind == "cap" else "demate"
            raise attempt.refuse(
                half,
                f"{attempt.named(half)} is {doing} {attempt.named(mate)}",
                "a bare half",
                (verb,),
            )
    fresh = config.link[a] == NONE
    for half, partner in ((a, b), (b, a)):
        attempt.event(half, event)
        attempt.link(half, partner, at_begin=True)
    if fresh:
        for half in (a, b):
            attempt.set(Field.COUNT, half, config.count[half] + 1)


def _would_fit(attempt: Attempt, half: int, parking: bool) -> str:
    """Return with what a half could be mated, with where that is and how it stands now."""
    named = attempt.wiring.items[half].id
    spots = []
    for other in partners(attempt.config, half, parking):
        place = attempt.config.place_of(other)
        at = attempt.wiring.items[place].id if place != NONE else "nowhere known"
        state = attempt.state(other).replace("_", " ")
        spots.append(f"{attempt.wiring.items[other].id} ({at}, {state})")
    if not spots:
        return f"no {'parking ' * parking}half of the baseline fits {named}"
    return f"{named} fits {', '.join(spots)}"


def park(attempt: Attempt, free: str, other: str) -> None:
    """Mate a free half to a parking half."""
    half = attempt.known(other, "half")
    if attempt.wiring.items[half].role != "parking":
        raise attempt.refuse(
            half, f"{attempt.named(half)} is no parking half", "a parking half", blame=()
        )
    join(attempt, free, other, "mate")


def lock(attempt: Attempt, name: str) -> None:
    """Verify the lock of a seated pair."""
    half = attempt.known(name, "half")
    touch(attempt, half)
    attempt.event(half, "lock")
    attempt.event(attempt.config.link[half], "lock")


def demate(attempt: Attempt, name: str) -> None:
    """Take a pair apart; both halves are bare then. Neither leg moves."""
    half = attempt.known(name, "half")
    touch(attempt, half)
    mate = attempt.config.link[half]
    attempt.event(half, "demate")
    if mate != NONE:
        touch(attempt, mate)
        attempt.event(mate, "demate")
        attempt.link(half, NONE)
        attempt.link(mate, NONE)
