"""Walking, carrying, handing over, installing."""

from __future__ import annotations

from cablewalk.replay.acts_leg import held_whole, legs_named
from cablewalk.replay.attempt import Attempt
from cablewalk.replay.wiring import NONE


def carry(attempt: Attempt, name: str) -> None:
    """Take up a bag."""
    bag = attempt.known(name, "bag")
    attempt.reach(bag)
    for item, link in enumerate(attempt.config.link):
        if link == bag and attempt.config.claim[item] != NONE:
            raise attempt.refuse(
                bag,
                f"{attempt.named(item)} in {attempt.named(bag)} is being worked on",
                "nobody at work on what is in the bag",
                ("wait",),
            )
    attempt.event(bag, "carry")
    attempt.link(bag, attempt.workers[0])


def leave(attempt: Attempt, name: str) -> None:
    """Put down the bag one carries."""
    bag = attempt.known(name, "bag")
    attempt.event(bag, "leave")
    attempt.holder(bag)
    attempt.link(bag, attempt.here())


def hand_over(attempt: Attempt, name: str, to: int) -> None:
    """Pass what one worker of a joint step holds to the other."""
    attempt.here()
    if to not in attempt.workers or len(attempt.workers) < 2:
        raise attempt.refuse(
            to,
            f"{attempt.named(to)} is not one of two workers of this action",
            "a joint step of giver and taker",
        )
    whole = held_whole(attempt, name)
    cap = attempt.wiring.item("cap", name)
    if whole != NONE:
        attempt.claim(whole)
        items = [whole]
    elif cap != NONE:
        attempt.event(cap, "hand_over")
        items = [cap]
    else:
        items = legs_named(attempt, name, "in_hand")
        for leg in items:
            attempt.event(leg, "hand_over")
    for item in items:
        if attempt.holder(item) == to:
            raise attempt.refuse(
                item,
                f"{attempt.named(to)} holds {attempt.named(item)} already",
                "the other holds it",
            )
        attempt.link(item, to)


def walk(attempt: Attempt, where: str) -> None:
    """Go to a place, or board a vehicle that is here; bags and what is in hand come along."""
    wiring, config = attempt.wiring, attempt.config
    target = attempt.known(where, "place", "person")
    if wiring.items[target].kind == "person":
        if wiring.items[target].role != "vehicle":
            raise attempt.refuse(
                target, f"{attempt.named(target)} is no vehicle", "a place or vehicle"
            )
        if target in attempt.workers:
            raise attempt.refuse(
                target, f"{attempt.named(target)} cannot board itself", "a place", blame=()
            )
        attempt.reach(target)
    for worker in attempt.workers:
        riders = [r for r in wiring.ids("person") if config.link[r] == worker]
        for rider in riders:
            attempt.busy(rider)
        for person in (worker, *riders):
            for item in config.held_by(person):
                _may_leave(attempt, person, item)
        attempt.claim(worker)
        attempt.link(worker, target)


def _may_leave(attempt: Attempt, person: int, item: int) -> None:
    """Refuse where something held keeps its holder here."""
    wiring, config = attempt.wiring, attempt.config
    kind = wiring.items[item].kind
    who = wiring.items[person].id
    if kind == "leg":
        mate = fixed_to(attempt, item, person)
        if mate:
            raise attempt.refuse(
                item,
                f"{who} holds the leg {attempt.named(item)}, which is mated with {mate} here",
                "a leg let go, restrained or routed before its holder walks away",
                ("let_go", "restrain", "route"),
            )
    if kind == "bag":
        for leg in wiring.ids("leg"):
            if config.link[leg] == item:
                _harness_free(attempt, item, leg)


def fixed_to(attempt: Attempt, leg: int, person: int) -> str:
    """Return what a leg in hand is mated with and that does not come along; empty if none."""
    wiring, config = attempt.wiring, attempt.config
    half = wiring.half_of.get(leg, NONE)
    mate = config.link[half] if half != NONE else NONE
    if mate == NONE or wiring.items[mate].kind != "half":
        return ""
    other = wiring.leg_of.get(mate, NONE)
    if other != NONE and config.link[other] == person:
        return ""
    return attempt.named(mate)


def _harness_free(attempt: Attempt, bag: int, packed: int) -> None:
    """Refuse where another leg of a packed leg's harness is fixed to the place."""
    wiring, config = attempt.wiring, attempt.config
    harness = wiring.items[packed].owner
    for other in wiring.legs_of[harness]:
        carrier = config.link[bag]
        along = config.link[other] == carrier and not fixed_to(attempt, other, carrier)
        if config.link[other] == bag or along or attempt.state(other) == "packed":
            continue
        raise attempt.refuse(
            bag,
            f"{attempt.named(bag)} holds the leg {attempt.named(packed)}, while "
            f"{attempt.named(other)} of the same harness is {attempt.state(other)} outside it",
            "the whole harness in the bag, or none of it",
            ("leave", "take"),
        )
    for segment in wiring.segments_of[harness]:
        if config.ties[segment]:
            raise attempt.refuse(
                bag,
                f"{attempt.named(bag)} holds a leg of {attempt.named(harness)}, which is tied at "
                f"{attempt.named(config.ties[segment][0])}",
                "no ties on what is in the bag",
                ("cut_tie", "leave"),
            )


def install(attempt: Attempt, name: str) -> None:
    """Install a unit or a panel at its place."""
    item = attempt.known(name, "unit", "panel")
    home = attempt.wiring.items[item].owner
    attempt.reach(home)
    link = attempt.config.link[item]
    attempt.event(item, "install")
    if link != NONE and attempt.config.place_of(link) != home:
        raise attempt.refuse(
            item,
            f"{attempt.named(item)} is with {attempt.named(link)}, not here",
            "the unit at its place",
        )
    attempt.link(item, NONE)


def remove(attempt: Attempt, name: str) -> None:
    """Remove a unit or panel on which nothing is mated; the first worker holds it."""
    item = attempt.known(name, "unit", "panel")
    attempt.reach(item)
    attempt.event(item, "remove")
    for half in attempt.wiring.mounted.get(item, ()):
        mate = attempt.config.link[half]
        if mate != NONE and attempt.wiring.items[mate].kind == "half":
            raise attempt.refuse(
                item,
                f"its {attempt.named(half)} is mated with {attempt.named(mate)}",
                "nothing mated on what is removed",
                ("demate",),
            )
        attempt.claim(half)
    attempt.link(item, attempt.workers[0])
