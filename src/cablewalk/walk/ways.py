"""Ways: where a contact goes, island by island, through each joined pair."""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.continuity.graph import is_sure
from cablewalk.continuity.services import Continuity
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE
from cablewalk.walk.courses import Course
from cablewalk.walk.scene import Scene
from cablewalk.walk.subject import Subject, island_of


@dataclass(frozen=True, slots=True)
class Stop:
    """One island on a way: contacts and terminals joined for good."""

    island: int
    before: int | None
    """Position of the stop it is reached from; None for the first."""
    near: tuple[int, int] | None
    """(half or cap, contact position) on the side of the stop before; None for the first."""
    far: int
    """The half or cap mated with it; NONE for the first."""
    sure: bool
    """False: by a join that is doubtful, here or before."""


@dataclass(frozen=True, slots=True)
class Way:
    """Everything one contact or terminal is joined to. ``stops`` is empty for a contact of a
    parking half or plain cap, which joins nothing."""

    name: str
    stops: tuple[Stop, ...]


def ways(scene: Scene, subject: Subject, ridden: list[Course]) -> list[Way]:
    """Return the ways of what is asked about.

    A contact, terminal, half, leg, cap or feed has those of its contacts or terminals, each net
    once; a service or string those of its lines' ends (``ridden``: the courses of its lines);
    other items have none of their own.
    """
    wiring = scene.wiring
    if subject.kind in ("contact", "terminal"):
        return [way(scene.config, subject.text, island_of(wiring, subject))]
    if subject.kind == "feed":
        feed = wiring.feeds[subject.number]
        ends = [wiring.terminals[t] for t in (feed.hi, feed.ret)]
        return [way(scene.config, end.name, end.island) for end in ends]
    if subject.kind in ("service", "string"):
        starts = {c.path[0]: wiring.island_name(c.path[0]) for c in ridden}
        return [way(scene.config, name, island) for island, name in starts.items()]
    half = subject.item
    if subject.kind == "leg":
        half = wiring.half_of.get(subject.item, NONE)
    if half == NONE or half not in wiring.contact_names or subject.kind == "harness":
        return []
    found, seen = [], set[int]()
    for position in range(len(wiring.contact_names[half]) + 1):
        island = wiring.joints[half][position] if wiring.joints[half] else NONE
        if island not in seen:
            found.append(way(scene.config, wiring.contact(half, position), island))
        if island not in (NONE, STRUCTURE):
            seen |= {stop.island for stop in found[-1].stops} - {STRUCTURE}
    return found


def way(config: Configuration, name: str, island: int) -> Way:
    """Return the way of an island, breadth first; surely joined stops are found by sure joins.

    Nothing is passed through structure.
    """
    if island == NONE:
        return Way(name, ())
    stops = [Stop(island, None, None, NONE, True)]
    seen = {island}
    for sure in (True, False):
        at = 0
        while at < len(stops):
            for near, far, there in _joins(config, stops[at].island, sure):
                if there not in seen:
                    seen.add(there)
                    stops.append(Stop(there, at, near, far, sure))
            at += 1
    return Way(name, tuple(stops))


def _joins(
    config: Configuration, island: int, sure: bool
) -> list[tuple[tuple[int, int], int, int]]:
    """Return ((half or cap, position), mate, island beyond) for the joins of an island."""
    if island == STRUCTURE:
        return []
    joints, link = config.wiring.joints, config.link
    found = []
    for item, position in config.wiring.sites[island]:
        mate = link[item]
        if mate == NONE or link[mate] != item or not joints[mate]:
            continue
        if not sure or is_sure(config, item, mate):
            found.append(((item, position), mate, joints[mate][position]))
    return found


def open_ends(config: Configuration, way_: Way) -> list[tuple[int, int]]:
    """Return the (half, position) on a way that no electrical join goes on from."""
    wiring, link = config.wiring, config.link
    return [
        (item, position)
        for stop in way_.stops
        if stop.island != STRUCTURE
        for item, position in wiring.sites[stop.island]
        if wiring.items[item].kind == "half"
        and (link[item] == NONE or not wiring.joints[link[item]])
    ]


def feeds_behind(continuity: Continuity, feed: int) -> frozenset[int]:
    """Return a feed and all feeds that reach its input, to any depth."""
    found, todo = {feed}, [feed]
    while todo:
        for source in continuity.inputs.reaching.get(todo.pop(), ()):
            if source not in found:
                found.add(source)
                todo.append(source)
    return frozenset(found)
