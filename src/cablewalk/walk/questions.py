"""Questions: all that can be asked of one contact or item at one moment, answered together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cablewalk.replay.attempt import COVER, UNIT
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.fit import misfit
from cablewalk.replay.standing import told
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.walk.courses import Course, courses
from cablewalk.walk.riders import Rider, own_strings, riders
from cablewalk.walk.scene import Scene
from cablewalk.walk.subject import Subject
from cablewalk.walk.ways import Way, feeds_behind, ways
from cablewalk.walk.what_if import Loss, what_if_lost

_CLEAR = frozenset({COVER["open"], COVER["removed"]})


@dataclass(frozen=True, slots=True)
class Match:
    """A half that fits the one asked about."""

    half: int
    place: int
    here: bool
    """At the same place as the half asked about."""
    mated: bool
    """With the half asked about, now."""
    obstacles: tuple[str, ...]
    """What must be done first, on its side: empty where it is free."""


@dataclass(frozen=True, slots=True)
class Shared:
    """Redundant strings of one service that one thing would take down together."""

    service: int
    strings: tuple[int, ...]
    others: tuple[int, ...]
    """The service's strings that do not ride on it."""
    item: str
    """What they share, in words."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Everything that was asked about one subject."""

    ways: list[Way]
    riders: list[Rider]
    loss: Loss | None
    obstacles: tuple[str, ...]
    """What stands in the way of mating the half asked about."""
    matches: list[Match]
    shared: list[Shared]


def answer(scene: Scene, subject: Subject) -> Answer:
    """Return all that is known of a subject; the scene is not altered."""
    every = courses(scene)
    riding = riders(scene, subject, every)
    ridden = [course for rider in riding for course in rider.courses]
    half = half_asked(scene.wiring, subject)
    return Answer(
        ways(scene, subject, ridden),
        riding,
        what_if_lost(scene, subject),
        obstacles(scene.config, half) if half != NONE else (),
        matches(scene.config, half) if half != NONE else [],
        shared(scene, subject, riding, every),
    )


def half_asked(wiring: Wiring, subject: Subject) -> int:
    """Return the half a question is about, or NONE: mating is asked of halves only."""
    item = subject.item
    if subject.kind == "leg":
        return wiring.half_of.get(item, NONE)
    if subject.kind == "half" or (subject.kind == "contact" and wiring.items[item].kind == "half"):
        return item
    return NONE


# -- what could mate here -------------------------------------------------------------


def matches(config: Configuration, half: int) -> list[Match]:
    """Return every half that fits, those at the same place first."""
    wiring = config.wiring
    here = config.place_of(half)
    found = []
    for other in wiring.interface_key:
        if other == half or wiring.items[other].kind != "half" or misfit(wiring, half, other):
            continue
        place = config.place_of(other)
        mated = config.link[half] == other
        hindered = () if mated else obstacles(config, other)
        found.append(Match(other, place, here != NONE and place == here, mated, hindered))
    return sorted(found, key=lambda match: (not match.mated, not match.here, match.half))


def obstacles(config: Configuration, half: int) -> tuple[str, ...]:
    """Return what stands in the way of mating a half: caps, mates, covers, bags, absent panels."""
    wiring = config.wiring
    found = []
    mate = config.link[half]
    if mate != NONE:
        state = config.state_name(half).replace("_", "-")
        found.append(f"{state} with {wiring.items[mate].id}")
    owner = wiring.items[half].owner
    if owner != NONE and config.state[owner] != UNIT["installed"]:
        found.append(f"{wiring.items[owner].id} is {config.state_name(owner)}")
    found.extend(
        f"under {wiring.items[cover].id}, which is {told(config, cover)}"
        for cover in wiring.covers_over.get(half, ())
        if config.state[cover] not in _CLEAR
    )
    leg = wiring.leg_of.get(half, NONE)
    if leg != NONE and config.state_name(leg) == "packed":
        found.append(f"packed in {wiring.items[config.link[leg]].id}")
    return tuple(found)


# -- what redundant strings share -----------------------------------------------------


def shared(
    scene: Scene, subject: Subject, riding: list[Rider], every: list[Course]
) -> list[Shared]:
    """Return the services that have two or more strings riding on the same thing.

    Of a service (or string) that is whatever two or more of its strings run over, or are fed by,
    directly or through converters.
    """
    wiring = scene.wiring
    if subject.kind not in ("service", "string"):
        return _grouped(wiring, subject.text, (rider.string for rider in riding))
    service = subject.number
    if subject.kind == "string":
        service = wiring.strings[subject.number].service
    asked = set(own_strings(wiring, subject))
    users: dict[str, set[int]] = {}
    for course in every:
        if wiring.strings[course.string].service == service:
            for name in _things(wiring, course):
                users.setdefault(name, set()).add(course.string)
    for string in wiring.services[service].strings:
        for name in _sources(scene, string):
            users.setdefault(name, set()).add(string)
    rows = []
    for name, strings in users.items():
        if strings & asked:
            rows += _grouped(wiring, name, strings)
    return rows


def _grouped(wiring: Wiring, item: str, strings: Iterable[int]) -> list[Shared]:
    by_service: dict[int, list[int]] = {}
    for string in sorted(set(strings)):
        by_service.setdefault(wiring.strings[string].service, []).append(string)
    return [
        Shared(
            service,
            tuple(own),
            tuple(s for s in wiring.services[service].strings if s not in own),
            item,
        )
        for service, own in by_service.items()
        if len(own) > 1
    ]


def _things(wiring: Wiring, course: Course) -> list[str]:
    """Return what a course runs over, in words, from end to end."""
    names = [pair_name(wiring, *join[:2]) for step in course.joins for join in step]
    names += [f"harness {wiring.items[h].id}" for h in sorted(course.harnesses)]
    names += [f"segment {wiring.items[s].id}" for s in sorted(course.segments)]
    return names


def pair_name(wiring: Wiring, one: int, other: int) -> str:
    """Return the printed name of a joined pair, whichever way it is met: free half first."""
    first, last = sorted((one, other), key=lambda n: (wiring.items[n].owner != NONE, n))
    return f"{wiring.items[first].id} / {wiring.items[last].id}"


def _sources(scene: Scene, string: int) -> list[str]:
    """Return the feeds that feed a string, their units and their switches, in words."""
    wiring = scene.wiring
    number = scene.continuity.verdicts[string].feed
    if number == NONE:
        return []
    names = []
    for behind in sorted(feeds_behind(scene.continuity, number)):
        feed = wiring.feeds[behind]
        names += [f"feed {feed.id}", f"unit {wiring.items[feed.unit].id}"]
        names += [f"switch {wiring.items[s].id}" for s in feed.switches]
    return names
