"""Walks over islands: what mating joins, surely or possibly."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE

HALF = COMPILED["half"].state_index
MATED = HALF["mated"]
CAPPED = HALF["capped"]
BARE = HALF["bare"]
PART_ENGAGED = HALF["part_engaged"]
FITTED = COMPILED["cap"].state_index["fitted"]

PATH_BUDGET = 20_000
"""Steps a search for a path through named contacts may take before the line counts as not made."""

Parents = dict[int, int]
"""Island to the island it was reached from; the start maps to itself."""

Around = Callable[[int], Iterable[int]]
"""Island to the islands it is joined to, each walk with its own notion of joined."""


def is_sure(config: Configuration, item: int, mate: int) -> bool:
    """Return whether a joined pair (half and half, or half and cap) is beyond doubt."""
    if config.moving(item) or config.moving(mate):
        return False
    state = config.state[item]
    if config.wiring.items[item].kind == "cap":
        return True
    if state == CAPPED:
        return True
    return state == MATED and config.state[mate] == MATED


def mate_of(config: Configuration, item: int) -> int:
    """Return what a half or cap is joined to, surely or not, or NONE; a tether joins nothing."""
    link, joints = config.link, config.wiring.joints
    mate = link[item]
    if mate == NONE or not joints[item] or not joints[mate] or link[mate] != item:
        return NONE
    return mate


def joined_to(config: Configuration, island: int, sure: bool) -> list[int]:
    """Return every island joined to an island; with ``sure``, beyond doubt only.

    Stubs are left out: nothing lies beyond them. Structure is among them, for the caller to stop
    at; nothing is ever reached through it.
    """
    wiring = config.wiring
    joints, stubs, link = wiring.joints, wiring.stubs, config.link
    found = []
    for item, position in wiring.sites[island]:
        mate = link[item]
        # A cap that only hangs on its half's tether is linked one way only.
        if mate == NONE or link[mate] != item:
            continue
        others = joints[mate]
        if not others or others[position] in stubs:
            continue
        if not sure or is_sure(config, item, mate):
            found.append(others[position])
    return found


def net(config: Configuration, start: int, sure: bool = False) -> Parents:
    """Return all islands joined to ``start``, with parents; structure is a leaf, never passed."""
    parents = {start: start}
    if start == STRUCTURE:
        return parents
    stack = [start]
    while stack:
        island = stack.pop()
        for other in joined_to(config, island, sure):
            if other not in parents:
                parents[other] = island
                if other != STRUCTURE:
                    stack.append(other)
    return parents


def chain(parents: Parents, island: int) -> tuple[int, ...]:
    """Return the path from the start of a walk to one of its islands."""
    path = [island]
    while parents[path[-1]] != path[-1]:
        path.append(parents[path[-1]])
    return tuple(reversed(path))


def sure_path(
    config: Configuration,
    a: int,
    b: int,
    banned: frozenset[int] = frozenset(),
    through: tuple[frozenset[int], ...] = (),
) -> tuple[int, ...] | None:
    """Return a simple path of sure joins from ``a`` to ``b``, or None.

    The path avoids ``banned`` and visits an island of each set of ``through`` in turn. Structure
    may be its end, never its middle. Linear without ``through``; with it, a search bounded by
    ``PATH_BUDGET`` steps, past which the answer is None (the reading that warns).
    """
    return path_by(lambda island: joined_to(config, island, True), a, b, banned, through)


def path_by(
    around: Around,
    a: int,
    b: int,
    banned: frozenset[int] = frozenset(),
    through: tuple[frozenset[int], ...] = (),
) -> tuple[int, ...] | None:
    """Return what :func:`sure_path` does, by joins that are known already."""
    if a == b:
        return (a,) if all(a in islands for islands in through) else None
    if a == STRUCTURE:
        found = path_by(around, b, a, banned, tuple(reversed(through)))
        return None if found is None else tuple(reversed(found))
    if not through:
        return _shortest(around, a, b, banned)
    return _through(around, a, b, banned, through)


def _shortest(around: Around, a: int, b: int, banned: frozenset[int]) -> tuple[int, ...] | None:
    parents = {a: a}
    queue = [a]
    for island in queue:
        for other in around(island):
            if other in parents or other in banned:
                continue
            parents[other] = island
            if other == b:
                return chain(parents, b)
            if other != STRUCTURE:
                queue.append(other)
    return None


def _through(
    around: Around,
    a: int,
    b: int,
    banned: frozenset[int],
    through: tuple[frozenset[int], ...],
) -> tuple[int, ...] | None:
    """Depth-first search for a simple path; ``done`` counts the sets already visited."""

    def passed(done: int, island: int) -> int:
        while done < len(through) and island in through[done]:
            done += 1
        return done

    path = [a]
    on_path = {a}
    done = [passed(0, a)]
    branches = [iter(around(a))]
    budget = PATH_BUDGET
    while branches:
        for other in branches[-1]:
            budget -= 1
            if budget < 0:
                return None
            if other in on_path or other in banned:
                continue
            reached = passed(done[-1], other)
            if other == b:
                if reached == len(through):
                    return (*path, b)
            elif other != STRUCTURE:
                path.append(other)
                on_path.add(other)
                done.append(reached)
                branches.append(iter(around(other)))
                break
        else:
            branches.pop()
            on_path.discard(path.pop())
            done.pop()
    return None
