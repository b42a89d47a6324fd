"""Legs and harnesses: out of the bag, laid, tied, kept."""

from __future__ import annotations

from itertools import pairwise

from cablewalk.replay.attempt import Attempt
from cablewalk.replay.change import Field
from cablewalk.replay.wiring import NONE


def uncovered(attempt: Attempt, segment: int) -> None:
    """Refuse where a segment passes beneath a cover that is not open."""
    for cover, beneath in attempt.wiring.cover_segments.items():
        if segment in beneath and attempt.state(cover) not in ("open", "removed"):
            raise attempt.refuse(
                segment,
                f"{attempt.named(segment)} is beneath {attempt.named(cover)}, which is "
                f"{attempt.state(cover)}",
                f"{attempt.wiring.items[cover].id} open or removed",
                ("release", "open", "remove_cover"),
            )


def legs_named(attempt: Attempt, name: str, *states: str) -> list[int]:
    """Return the leg of this id, or those legs of a harness that are in one of ``states``."""
    harness = attempt.wiring.item("harness", name)
    if harness == NONE:
        return [attempt.known(name, "leg")]
    legs = list(attempt.wiring.legs_of[harness])
    fit = [leg for leg in legs if attempt.state(leg) in states]
    if not fit:
        told = ", ".join(f"{attempt.wiring.items[leg].id} {attempt.state(leg)}" for leg in legs)
        raise attempt.refuse(
            harness,
            f"no leg of {attempt.named(harness)} is {' or '.join(states)} ({told})",
            f"a leg that is {' or '.join(states)}",
        )
    return fit


def take(attempt: Attempt, name: str) -> None:
    """Take a harness, leg or cap out of its bag, into the first worker's hands."""
    cap = attempt.wiring.item("cap", name)
    for item in [cap] if cap != NONE else legs_named(attempt, name, "packed"):
        attempt.event(item, "take")
        attempt.reach(attempt.config.link[item])
        attempt.link(item, attempt.workers[0])


def pack(attempt: Attempt, name: str, bag_name: str) -> None:
    """Put what one holds in a bag at hand."""
    bag = attempt.known(bag_name, "bag")
    attempt.reach(bag)
    cap = attempt.wiring.item("cap", name)
    for item in [cap] if cap != NONE else legs_named(attempt, name, "in_hand"):
        attempt.event(item, "pack")
        attempt.holder(item)
        _not_mated(attempt, item)
        _take_up(attempt, item)
        attempt.link(item, bag)


def _take_up(attempt: Attempt, leg: int) -> None:
    """Lift the own segment of a leg that is packed off its path; refuse where it is tied."""
    segment = attempt.wiring.segment_of_leg.get(leg, NONE)
    if segment == NONE:
        return
    if attempt.config.ties[segment]:
        raise attempt.refuse(
            leg,
            f"{attempt.named(segment)} is tied at {attempt.named(attempt.config.ties[segment][0])}",
            "no ties on what is packed",
            ("cut_tie",),
        )
    attempt.claim(segment)
    attempt.set(Field.ALONG, segment, ())


def _not_mated(attempt: Attempt, leg: int) -> None:
    half = attempt.wiring.half_of.get(leg, NONE)
    mate = attempt.config.link[half] if half != NONE else NONE
    if mate != NONE and attempt.wiring.items[mate].kind == "half":
        raise attempt.refuse(
            leg,
            f"{attempt.named(leg)} is mated with {attempt.named(mate)}",
            "a leg that is not mated",
            ("demate",),
        )


def held_whole(attempt: Attempt, name: str) -> int:
    """Return the bag, removed cover, unit or panel of this id, or NONE: held as one piece."""
    for kind in ("bag", "cover", "unit", "panel"):
        item = attempt.wiring.item(kind, name)
        if item == NONE:
            continue
        if kind != "bag" and attempt.state(item) != "removed":
            raise attempt.refuse(
                item,
                f"{attempt.named(item)} is {attempt.state(item)}",
                "removed, before it is held, put down or handed over",
                ("remove_cover",) if kind == "cover" else ("remove",),
            )
        return item
    return NONE


def _put(attempt: Attempt, item: int, target: int) -> None:
    """Put down a removed cover, unit or panel that a worker holds."""
    attempt.claim(item)
    attempt.holder(item)
    attempt.link(item, target)


def let_go(attempt: Attempt, name: str) -> None:
    """Leave legs loose, or what was removed lying, where the worker is."""
    here = attempt.here()
    whole = held_whole(attempt, name)
    if whole != NONE:
        _put(attempt, whole, here)
        return
    for leg in legs_named(attempt, name, "in_hand"):
        attempt.event(leg, "let_go")
        attempt.holder(leg)
        attempt.link(leg, here)


def pick_up(attempt: Attempt, name: str) -> None:
    """Take a leg, a cap or a removed cover in hand."""
    cap = attempt.wiring.item("cap", name)
    if cap != NONE:
        attempt.reach(cap)
        attempt.event(cap, "pick_up")
        attempt.link(cap, attempt.workers[0])
        return
    whole = held_whole(attempt, name)
    if whole != NONE:
        attempt.reach(whole)
        attempt.claim(whole)
        attempt.link(whole, attempt.workers[0])
        return
    for leg in legs_named(attempt, name, "loose", "restrained", "stowed", "routed"):
        attempt.event(leg, "pick_up")
        uncovered(attempt, attempt.wiring.segment_of_leg.get(leg, NONE))
        attempt.reach(leg)
        attempt.link(leg, attempt.workers[0])


def restrain(attempt: Attempt, name: str) -> None:
    """Hold legs temporarily where the worker is."""
    for leg in legs_named(attempt, name, "in_hand", "loose"):
        attempt.event(leg, "restrain")
        attempt.reach(leg)
        attempt.link(leg, attempt.here())


def stow(attempt: Attempt, name: str, where: str) -> None:
    """Leave legs at this place, or in a bag here, for later."""
    target = attempt.known(where, "place", "bag")
    attempt.reach(target)
    whole = held_whole(attempt, name)
    if whole != NONE:
        _put(attempt, whole, target)
        return
    for leg in legs_named(attempt, name, "in_hand", "loose", "restrained"):
        attempt.event(leg, "stow")
        attempt.reach(leg)
        if attempt.wiring.items[target].kind == "bag":
            _not_mated(attempt, leg)
        attempt.link(leg, target)


def shift(attempt: Attempt, name: str, event: str) -> None:
    """Pull a routed leg aside, or restore it."""
    for leg in legs_named(attempt, name, "routed" if event == "pull_aside" else "pulled_aside"):
        attempt.event(leg, event)
        attempt.reach(leg)
        uncovered(attempt, attempt.wiring.segment_of_leg.get(leg, NONE))


def segment_named(attempt: Attempt, name: str) -> int:
    """Return the segment of this name, or the own segment of the leg of this name."""
    segment = attempt.wiring.item("segment", name)
    if segment != NONE:
        return segment
    return attempt.wiring.segment_of_leg[attempt.known(name, "leg")]


def route(attempt: Attempt, name: str, paths: tuple[str, ...]) -> None:
    """Lay a segment along paths; legs that end it and are at hand are routed then."""
    wiring, config = attempt.wiring, attempt.config
    segment = segment_named(attempt, name)
    laid = tuple(attempt.known(path, "path") for path in paths)
    _chained(attempt, segment, laid)
    here = attempt.here()
    if here not in {end for path in laid for end in wiring.path_ends[path]}:
        raise attempt.refuse(
            segment,
            f"none of {', '.join(paths)} begins or ends at {attempt.named(here)}",
            "a worker at an end of the paths",
            ("walk",),
        )
    attempt.claim(segment)
    uncovered(attempt, segment)
    for point in config.ties[segment]:
        if wiring.point_path[point] not in laid:
            raise attempt.refuse(
                segment,
                f"{attempt.named(segment)} is tied at {attempt.named(point)}",
                "ties cut before a segment is laid elsewhere",
                ("cut_tie",),
            )
    for leg in wiring.segment_legs[segment]:
        holder = config.link[leg]
        if attempt.state(leg) == "in_hand" and holder not in attempt.workers:
            continue  # its end is in another's hands, and stays there
        attempt.event(leg, "route")
        if holder != NONE and wiring.items[holder].kind in ("person", "bag"):
            attempt.reach(holder)
            attempt.link(leg, here)
    attempt.set(Field.ALONG, segment, laid)


def _chained(attempt: Attempt, segment: int, laid: tuple[int, ...]) -> None:
    ends = [set(attempt.wiring.path_ends[path]) for path in laid]
    for one, two in pairwise(laid):
        a, b = set(attempt.wiring.path_ends[one]), set(attempt.wiring.path_ends[two])
        if a.isdisjoint(b):
            raise attempt.refuse(
                segment,
                f"{attempt.named(one)} and {attempt.named(two)} do not meet",
                "paths that follow one another",
            )
    if not ends:
        raise attempt.refuse(segment, "no path is named", "at least one path")


def tie(attempt: Attempt, name: str, point_name: str) -> None:
    """Fit a tie at a point of a path the segment is laid along."""
    segment, point = _at_point(attempt, name, point_name)
    ties = attempt.config.ties[segment]
    if attempt.wiring.point_path[point] not in attempt.config.along[segment]:
        raise attempt.refuse(
            segment,
            f"{attempt.named(segment)} is not laid along "
            f"{attempt.named(attempt.wiring.point_path[point])}, where {point_name} is",
            "a segment routed there first",
            ("route",),
        )
    if point in ties:
        raise attempt.refuse(
            segment,
            f"{attempt.named(segment)} is already tied at {point_name}",
            "a free point",
            ("cut_tie",),
        )
    attempt.set(Field.TIES, segment, tuple(sorted((*ties, point))))


def cut_tie(attempt: Attempt, name: str, point_name: str) -> None:
    """Cut the tie at a point."""
    segment, point = _at_point(attempt, name, point_name)
    ties = attempt.config.ties[segment]
    if point not in ties:
        raise attempt.refuse(
            segment,
            f"{attempt.named(segment)} is not tied at {point_name}",
            "a tie there",
            ("tie",),
        )
    attempt.set(Field.TIES, segment, tuple(p for p in ties if p != point))


def _at_point(attempt: Attempt, name: str, point_name: str) -> tuple[int, int]:
    segment = segment_named(attempt, name)
    point = attempt.known(point_name, "tie point")
    ends = attempt.wiring.path_ends[attempt.wiring.point_path[point]]
    if attempt.here() not in ends:
        raise attempt.refuse(
            segment,
            f"{point_name} is between {attempt.named(ends[0])} and {attempt.named(ends[1])}",
            "a worker at an end of that path",
            ("walk",),
        )
    attempt.claim(segment)
    uncovered(attempt, segment)
    return segment, point
