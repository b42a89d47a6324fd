"""Riders: which strings run over an item, are fed by it, or are selected by it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.walk.courses import Course
from cablewalk.walk.scene import Scene
from cablewalk.walk.subject import Subject, island_of
from cablewalk.walk.ways import feeds_behind

OVER, FED, SELECTED, OWN = "runs over it", "is fed by it", "is selected by it", "is its own"


@dataclass(frozen=True, slots=True)
class Rider:
    """One string that needs the item now; ``courses`` are its lines that do."""

    string: int
    how: str
    courses: tuple[Course, ...]


def riders(scene: Scene, subject: Subject, every: list[Course]) -> list[Rider]:
    """Return the strings that ride on what is asked about, in the baseline's order.

    Args:
        scene: the moment.
        subject: what is asked about.
        every: all courses of the scene.
    """
    wiring = scene.wiring
    if subject.kind in ("service", "string"):
        own = own_strings(wiring, subject)
        return [Rider(s, OWN, tuple(c for c in every if c.string == s)) for s in own]
    if subject.kind in ("feed", "switch"):
        return _fed(scene, subject, every)
    found: dict[int, list[Course]] = {}
    test = _over(wiring, subject)
    for course in every:
        if test(course):
            found.setdefault(course.string, []).append(course)
    rows = [Rider(string, OVER, tuple(rows)) for string, rows in found.items()]
    if subject.kind == "unit":
        feeds = {n for n, feed in enumerate(wiring.feeds) if feed.unit == subject.item}
        rows += [r for r in _by_feeds(scene, feeds, every) if r.string not in found]
    return sorted(rows, key=lambda rider: rider.string)


def own_strings(wiring: Wiring, subject: Subject) -> tuple[int, ...]:
    """Return the strings of a service, or the one string asked about."""
    if subject.kind == "string":
        return (subject.number,)
    return wiring.services[subject.number].strings


def beneath(wiring: Wiring, cover: int) -> tuple[list[int], tuple[int, ...]]:
    """Return the halves and the segments under a cover."""
    halves = [half for half, covers in wiring.covers_over.items() if cover in covers]
    return halves, wiring.cover_segments.get(cover, ())


def _over(wiring: Wiring, subject: Subject) -> Callable[[Course], bool]:
    """Return the test whether a course runs over an item."""
    item, kind = subject.item, subject.kind
    if kind == "contact":
        return lambda course: (item, subject.number) in course.contacts
    if kind == "terminal":
        island = island_of(wiring, subject)
        return lambda course: island in course.path
    if kind in ("half", "cap"):
        return lambda course: item in course.halves
    if kind == "leg":
        return lambda course: any(item in legs for legs in course.legs)
    if kind == "harness":
        return lambda course: item in course.harnesses
    if kind == "segment":
        return lambda course: item in course.segments
    if kind == "cover":
        halves, segments = beneath(wiring, item)
        return lambda c: not (c.halves.isdisjoint(halves) and c.segments.isdisjoint(segments))
    mounted = wiring.mounted.get(item, ())
    if kind == "panel":
        return lambda course: not course.halves.isdisjoint(mounted)
    own = {t.island for t in wiring.terminals if t.owner == item}
    return lambda c: not (own.isdisjoint((c.path[0], c.path[-1])) and c.halves.isdisjoint(mounted))


def _fed(scene: Scene, subject: Subject, every: list[Course]) -> list[Rider]:
    """Return the strings a feed or switch feeds, directly or through converters, or selects."""
    wiring = scene.wiring
    if subject.kind == "feed":
        return _by_feeds(scene, {subject.number}, every)
    switch = subject.item
    feeds = {n for n, feed in enumerate(wiring.feeds) if switch in feed.switches}
    rows = {rider.string: rider for rider in _by_feeds(scene, feeds, every)}
    for number, string in enumerate(wiring.strings):
        if string.selected_by == switch:
            own = tuple(c for c in every if c.string == number)
            rows[number] = Rider(number, SELECTED, own)
    return [rows[number] for number in sorted(rows)]


def _by_feeds(scene: Scene, feeds: Iterable[int], every: list[Course]) -> list[Rider]:
    wanted, found = frozenset(feeds), []
    for number, verdict in enumerate(scene.continuity.verdicts):
        if verdict.feed != NONE and wanted & feeds_behind(scene.continuity, verdict.feed):
            found.append(Rider(number, FED, tuple(c for c in every if c.string == number)))
    return found
