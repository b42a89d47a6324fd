"""Courses: over which halves, legs and segments each line of each string runs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from cablewalk.continuity.graph import is_sure
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE, StringLine, Wiring
from cablewalk.walk.harness_tree import HarnessTree, hard_wired_ends
from cablewalk.walk.scene import Scene

Join = tuple[int, int, int]
"""(half or cap on the near side, its mate on the far side, contact position)."""


@dataclass(frozen=True, slots=True)
class Course:
    """One conductor of a string that is made, from end to end.

    Where joins lie in parallel the course runs over all of them.
    """

    string: int
    line: str
    """What it joins, in words."""
    path: tuple[int, ...]
    joins: tuple[tuple[Join, ...], ...]
    """The joins between each island of the path and the next."""
    legs: tuple[tuple[int, ...], ...]
    """The legs it runs over within each island of the path."""
    harnesses: frozenset[int]
    segments: frozenset[int]

    @property
    def halves(self) -> frozenset[int]:
        """The halves and caps whose contacts it runs over."""
        return frozenset(i for step in self.joins for join in step for i in join[:2])

    @property
    def contacts(self) -> frozenset[tuple[int, int]]:
        """(half or cap, position) of the contacts it runs over."""
        return frozenset((i, j[2]) for step in self.joins for j in step for i in j[:2])


def courses(scene: Scene) -> list[Course]:
    """Return every conductor of every string that is made, whether the string is up or not."""
    wiring = scene.wiring
    hard = hard_wired_ends(scene.baseline, wiring)
    trees = {h: HarnessTree(scene.baseline, wiring, h) for h in wiring.ids("harness")}
    found = []
    for number, verdict in enumerate(scene.continuity.verdicts):
        string = wiring.strings[number]
        for path in verdict.paths:
            name, way = named_path(wiring, string, path)
            joins = tuple(sure_joins(scene.config, a, b) for a, b in pairwise(way))
            found.append(_course(wiring, hard, trees, number, name, way, joins))
    return found


def sure_joins(config: Configuration, a: int, b: int) -> tuple[Join, ...]:
    """Return the joins beyond doubt that lead from one island to another."""
    if a == STRUCTURE:  # structure has a contact in most halves: look from the other side
        return tuple((mate, item, n) for item, mate, n in sure_joins(config, b, a))
    joints, link = config.wiring.joints, config.link
    found: list[Join] = []
    for item, position in config.wiring.sites[a]:
        mate = link[item]
        if mate == NONE or link[mate] != item or not joints[mate]:
            continue
        if joints[mate][position] == b and is_sure(config, item, mate):
            found.append((item, mate, position))
    return tuple(found)


def named_path(
    wiring: Wiring, string: StringLine, path: tuple[int, ...]
) -> tuple[str, tuple[int, ...]]:
    """Return what a path of a string joins, ``SRC.hi to HTR.hi``, and the path in that order."""
    ends = {path[0], path[-1]}
    for line in string.lines:
        if {line.a, line.b} == ends:
            return line.name, path
    for role, line in zip(("hi", "ret"), string.load or (), strict=False):
        if line.a != path[0]:
            continue
        for feed in string.feeds:
            terminal = wiring.terminals[getattr(wiring.feeds[feed], role)]
            if terminal.island == path[-1]:
                return f"{terminal.name} to {line.name}", path[::-1]
    for terminal_number in string.terminated:
        if wiring.terminals[terminal_number].island == path[0]:
            return f"termination {wiring.terminals[terminal_number].name}", path
    return f"{wiring.island_name(path[0])} to {wiring.island_name(path[-1])}", path


def _course(
    wiring: Wiring,
    hard: dict[int, tuple[int, ...]],
    trees: dict[int, HarnessTree],
    string: int,
    line: str,
    path: tuple[int, ...],
    joins: tuple[tuple[Join, ...], ...],
) -> Course:
    legs, harnesses, segments = [], set[int](), set[int]()
    for n, island in enumerate(path):
        enters = [join[1] for join in joins[n - 1]] if n > 0 else []
        leaves = [join[0] for join in joins[n]] if n < len(joins) else []
        used: list[int] = []
        tied = hard.get(island, ()) if island != STRUCTURE else ()
        for one, other in _leg_pairs(wiring, tied, enters, leaves):
            harness = wiring.items[one].owner
            harnesses.add(harness)
            segments |= trees[harness].between(one, other)
            used.extend(leg for leg in (one, other) if leg not in used)
        legs.append(tuple(used))
    return Course(string, line, path, joins, tuple(legs), frozenset(harnesses), frozenset(segments))


def _leg_pairs(
    wiring: Wiring, hard: tuple[int, ...], enters: list[int], leaves: list[int]
) -> list[tuple[int, int]]:
    """Return (leg in, leg out) for each way through a harness within one island.

    What comes in or goes out by no half of the harness does so by its hard-wired legs; where it
    has several in the island, by any of them (the reading that warns).
    """
    owners = [wiring.leg_of[half] for half in (*enters, *leaves) if half in wiring.leg_of]
    found: list[tuple[int, int]] = []
    for harness in dict.fromkeys(wiring.items[leg].owner for leg in (*owners, *hard)):
        tied = [leg for leg in hard if wiring.items[leg].owner == harness]
        ways_in = _attached(wiring, harness, tied, enters)
        ways_out = _attached(wiring, harness, tied, leaves)
        found.extend((a, b) for a in ways_in for b in ways_out if a != b)
    return found


def _attached(wiring: Wiring, harness: int, tied: list[int], halves: Iterable[int]) -> list[int]:
    legs = [wiring.leg_of[half] for half in halves if half in wiring.leg_of]
    own = [leg for leg in legs if wiring.items[leg].owner == harness]
    return own or tied
