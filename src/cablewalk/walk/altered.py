"""Altered wiring: a copy of a configuration on hardware with one fault in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Conductor, Item, StringLine

_OFF = COMPILED["switch"].state_index["off"]


def with_dead_feed(config: Configuration, number: int) -> Configuration:
    """Return a copy in which one feed is dead, however its switches stand.

    Its own switches may serve other feeds, or be off because it is a cold spare; so the copy has
    one switch more, without an id, off, in series with this feed alone.
    """
    old = config.wiring
    feeds = list(old.feeds)
    feeds[number] = replace(feeds[number], switches=(*feeds[number].switches, len(old.items)))
    extra = Item("switch", "", "", "", ())
    twin = config.copy()
    twin.wiring = replace(
        old, items=[*old.items, extra], joints=[*old.joints, ()], feeds=feeds, _joins={}
    )
    twin.state.append(_OFF)
    twin.link.append(NONE)
    twin.count.append(0)
    twin.ties.append(())
    twin.along.append(())
    twin.claim.append(NONE)
    return twin


def with_cut(config: Configuration, halves: Iterable[int]) -> Configuration:
    """Return a copy in which the harness of some free halves is cut between them and the rest.

    The contacts of these halves stay joined to one another and leave what they were joined to for
    good. Terminals stay with the rest: none of these legs may be hard-wired.
    """
    old = config.wiring
    joints, sites = list(old.joints), list(old.sites)
    moved: dict[int, int] = {}
    for half in halves:
        for position, island in enumerate(old.joints[half]):
            if island not in moved:
                moved[island] = len(sites)
                sites.append([])
            sites[island] = [site for site in sites[island] if site != (half, position)]
            sites[moved[island]].append((half, position))
        joints[half] = tuple(moved[island] for island in old.joints[half])
    twin = config.copy()
    twin.wiring = replace(
        old,
        _joins={},  # kept for wiring that never changes; this one did
        stubs=frozenset(),
        joints=joints,
        sites=sites,
        island_terminals=[*old.island_terminals, *(() for _ in moved)],
        strings=[_string(string, moved) for string in old.strings],
    )
    return twin


def _string(string: StringLine, moved: dict[int, int]) -> StringLine:
    load = string.load and (_line(string.load[0], moved), _line(string.load[1], moved))
    return replace(string, lines=tuple(_line(line, moved) for line in string.lines), load=load)


def _line(line: Conductor, moved: dict[int, int]) -> Conductor:
    """Let both parts of an island stand where a line must, or may not, pass it."""
    return replace(
        line,
        through=tuple(spots | {moved[i] for i in spots if i in moved} for spots in line.through),
        banned=line.banned | {moved[i] for i in line.banned if i in moved},
    )
