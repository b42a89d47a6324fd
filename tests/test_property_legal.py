"""Legal action lists never reach an illegal state.

What is illegal is said by the contract (design.md part 1) and the tables of the machines. Found
is left out: it sets what was seen, possible or not. Each invariant is a test of its own, so that
one fault does not hide another.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from generate import Driver, benches, runs
from hypothesis import assume, given, note
from hypothesis import strategies as st

from cablewalk.replay.configuration import Configuration
from cablewalk.replay.fit import cap_fits, misfit
from cablewalk.replay.wiring import NONE

JOINED = ("part_engaged", "unverified", "mated")
CLOSED = ("fastened", "part_fastened", "released")


def _kind(config: Configuration, item: int) -> str:
    return config.wiring.items[item].kind if item != NONE else "nothing"


def _id(config: Configuration, item: int) -> str:
    return config.wiring.items[item].id if item != NONE else "nothing"


def _mate(config: Configuration, leg: int) -> int:
    """Return the half the leg's half is mated with, or NONE."""
    half = config.wiring.half_of.get(leg, NONE)
    mate = config.link[half] if half != NONE else NONE
    return mate if _kind(config, mate) == "half" else NONE


def mates_are_mutual(config: Configuration) -> Iterator[str]:
    """Joined halves name each other, are in the same state and fit; bare halves name nothing."""
    for half in config.wiring.ids("half"):
        mate, state = config.link[half], config.state_name(half)
        if state == "bare" and mate != NONE:
            yield f"{_id(config, half)} is bare and linked to {_id(config, mate)}"
        if state not in JOINED:
            continue
        if _kind(config, mate) != "half" or config.link[mate] != half:
            yield f"{_id(config, half)} is {state} with {_id(config, mate)}, not the other way"
        elif config.state_name(mate) != state:
            yield f"{_id(config, half)} is {state}, {_id(config, mate)} not"
        elif why := misfit(config.wiring, half, mate):
            yield f"{_id(config, half)} and {_id(config, mate)} do not fit: {why}"


def capped_is_fitted(config: Configuration) -> Iterator[str]:
    """A half is capped exactly when a cap that fits it is fitted to it."""
    for half in config.wiring.ids("half"):
        cap = config.link[half]
        capped = config.state_name(half) == "capped"
        if capped != (_kind(config, cap) == "cap"):
            yield f"{_id(config, half)} is {config.state_name(half)} with {_id(config, cap)}"
        elif capped and (config.state_name(cap) != "fitted" or config.link[cap] != half):
            yield f"{_id(config, half)} is capped by {_id(config, cap)}, which is not fitted to it"
        elif capped and not cap_fits(config.wiring, cap, half):
            yield f"{_id(config, cap)} does not fit {_id(config, half)}"
    for cap in config.wiring.ids("cap"):
        half = config.link[cap]
        fitted = config.state_name(cap) == "fitted"
        if fitted and (_kind(config, half) != "half" or config.link[half] != cap):
            yield f"{_id(config, cap)} is fitted to {_id(config, half)}, which does not know it"


def everything_is_in_one_place(config: Configuration) -> Iterator[str]:
    """What an item is linked to is of the kind its state needs: nobody holds two places."""
    places = {
        ("leg", "packed"): "bag",
        ("leg", "in_hand"): "person",
        ("leg", "loose"): "place",
        ("leg", "restrained"): "place",
        ("leg", "pulled_aside"): "place",
        ("leg", "stowed"): "place bag",
        ("leg", "routed"): "place",
        ("cap", "fitted"): "half",
        ("cap", "tethered"): "half place",
        ("cap", "held"): "person",
        ("cap", "packed"): "bag",
        ("cap", "lost"): "nothing",
        ("bag", "at_place"): "place",
        ("bag", "carried"): "person",
        ("unit", "installed"): "nothing",
        ("panel", "installed"): "nothing",
        ("unit", "removed"): "person place bag",
        ("panel", "removed"): "person place bag",
        ("cover", "removed"): "person place bag",
        ("cover", "open"): "nothing",
    }
    for item in config.wiring.ids("leg", "cap", "bag", "unit", "panel", "cover"):
        state, link = config.state_name(item), config.link[item]
        wanted = places.get((_kind(config, item), state))
        if wanted is not None and _kind(config, link) not in wanted.split():
            yield f"{_id(config, item)} is {state} at {_id(config, link)}, not at a {wanted}"


def packed_legs_are_free(config: Configuration) -> Iterator[str]:
    """No leg in a bag, packed or stowed there, is mated: a bag cannot leave with it."""
    for leg in config.wiring.ids("leg"):
        if _kind(config, config.link[leg]) == "bag" and _mate(config, leg) != NONE:
            yield f"{_id(config, leg)} is {config.state_name(leg)} in a bag and mated"


def held_legs_are_at_their_mates(config: Configuration) -> Iterator[str]:
    """Who holds a leg that is mated with a fixed half is where that half is."""
    for leg in config.wiring.ids("leg"):
        holder, mate = config.link[leg], _mate(config, leg)
        if mate == NONE or config.wiring.items[mate].owner == NONE:
            continue
        if _kind(config, holder) in ("person", "bag") and (
            config.place_of(holder) != config.place_of(mate)
        ):
            yield (
                f"{_id(config, leg)} is with {_id(config, holder)} at "
                f"{_id(config, config.place_of(holder))}, and mated with {_id(config, mate)} at "
                f"{_id(config, config.place_of(mate))}"
            )


def counts_are_in_range(config: Configuration) -> Iterator[str]:
    """Fasteners agree with the state of their cover; no half has mates less than none."""
    for cover, total in config.wiring.fasteners.items():
        count, state = config.count[cover], config.state_name(cover)
        right = {"fastened": count == total, "part_fastened": 0 < count < total}
        if not right.get(state, count == 0):
            yield f"{_id(config, cover)} is {state} with {count} of {total}"
    for half in config.wiring.ids("half"):
        if config.count[half] < 0:
            yield f"{_id(config, half)} has {config.count[half]} mates"


def ties_hold_to_the_path(config: Configuration) -> Iterator[str]:
    """A segment is tied only at points of the paths it is laid along, each once."""
    for segment in config.wiring.ids("segment"):
        ties, along = config.ties[segment], config.along[segment]
        if len(set(ties)) != len(ties):
            yield f"{_id(config, segment)} is tied twice at one point"
        for point in ties:
            if config.wiring.point_path[point] not in along:
                yield f"{_id(config, segment)} is tied at {_id(config, point)}, not laid there"


def covers_close_over_order(config: Configuration) -> Iterator[str]:
    """Beneath a closed cover every leg is routed, stowed or packed."""
    for cover, segments in config.wiring.cover_segments.items():
        if config.state_name(cover) not in CLOSED:
            continue
        for segment in segments:
            legs = config.wiring.segment_legs[segment]
            for leg in legs or config.wiring.legs_of[config.wiring.items[segment].owner]:
                if config.state_name(leg) not in ("routed", "stowed", "packed"):
                    yield f"{_id(config, leg)} is {config.state_name(leg)} under a closed cover"


def nothing_is_mated_on_what_is_gone(config: Configuration) -> Iterator[str]:
    """No half of a removed or absent panel or unit is mated."""
    for owner, halves in config.wiring.mounted.items():
        if config.state_name(owner) == "installed":
            continue
        for half in halves:
            if _kind(config, config.link[half]) == "half":
                yield f"{_id(config, half)} is mated on {_id(config, owner)}, which is gone"


def nothing_is_left_claimed(config: Configuration) -> Iterator[str]:
    """Where no action runs nothing is claimed and everybody is idle."""
    for item, claim in enumerate(config.claim):
        if claim != NONE:
            yield f"{_id(config, item)} is claimed"
    for person in config.wiring.ids("person"):
        if config.state_name(person) != "idle":
            yield f"{_id(config, person)} is {config.state_name(person)}"


INVARIANTS = [
    mates_are_mutual,
    capped_is_fitted,
    everything_is_in_one_place,
    packed_legs_are_free,
    held_legs_are_at_their_mates,
    counts_are_in_range,
    ties_hold_to_the_path,
    covers_close_over_order,
    nothing_is_mated_on_what_is_gone,
    nothing_is_left_claimed,
]
every_invariant = pytest.mark.parametrize(
    "broken", INVARIANTS, ids=[check.__name__ for check in INVARIANTS]
)


def _holds(broken: Any, data: st.DataObject, overlap: bool) -> None:
    bench = data.draw(benches())
    driver = Driver(data.draw, bench.ground)
    assume(not list(broken(driver.config)))
    for happened in driver.events(8, overlap):
        note(f"{happened.begins} {happened.action.verb} {happened.action.argument}")
        if not driver.running:
            assert list(broken(driver.config)) == []


@every_invariant
@runs(8)
@given(data=st.data())
def test_legal_actions_keep(broken: Any, data: st.DataObject) -> None:
    _holds(broken, data, overlap=False)


@every_invariant
@runs(6)
@given(data=st.data())
def test_legal_actions_side_by_side_keep(broken: Any, data: st.DataObject) -> None:
    _holds(broken, data, overlap=True)


@pytest.mark.soak
@every_invariant
@runs(1000)
@given(data=st.data())
def test_legal_actions_keep_soak(broken: Any, data: st.DataObject) -> None:
    _holds(broken, data, overlap=data.draw(st.booleans()))
