"""The cast: which things of the hardware a picture shows, and what becomes of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Final

from cablewalk.drawings.fate import cable_role, demated
from cablewalk.drawings.moments import Moment
from cablewalk.drawings.riding import cable_islands, carried_by, ridden
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.timeline.account import Account

MANY_HALVES: Final = 130
"""With more halves than this only the neighbourhood of the work is drawn, the rest folded."""


@dataclass(slots=True)
class Cast:
    """What is drawn, and what is known of the whole replay. Items are numbers of the wiring."""

    wiring: Wiring
    halves: list[int] = field(default_factory=list)
    """Fixed halves, in document order."""
    harnesses: list[int] = field(default_factory=list)
    legs: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Harness to its legs."""
    mates: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Half to every half it is ever mated with, in the order of time."""
    chips: dict[int, list[int]] = field(default_factory=dict)
    """Place to its switches and covers that matter, and the bags, people and caps ever there."""
    role: dict[int, str] = field(default_factory=dict)
    """Harness to ``old`` (comes off), ``new`` (goes on), ``moved`` (some of both), ``back`` (off
    for a while) or nothing."""
    demated: frozenset[int] = frozenset()
    """Halves that come off what they are joined with at the start, at any time."""
    carries: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Half or harness to the services that ever run over it."""
    islands: dict[int, frozenset[int]] = field(default_factory=dict)
    """Harness to the islands of its halves, and of the units it is wired to."""
    rests: dict[int, int] = field(default_factory=dict)
    """Leg to the place where it is at the end."""
    packed_away: list[int] = field(default_factory=list)
    """Harnesses that are in a bag all the time: not drawn, but told."""
    folded: dict[int, int] = field(default_factory=dict)
    """Place to how many of its halves are not drawn."""
    places: list[int] = field(default_factory=list)
    _kinds: dict[int, str] = field(default_factory=dict)
    _riding: dict[int, set[int]] = field(default_factory=dict)
    """Island to the services that run over it, at the moment last asked about."""
    _riding_at: Moment | None = None

    def kinds(self, item: int) -> str:
        """Return what a half or harness ever carries, in kinds of service."""
        if item not in self._kinds:
            self._kinds[item] = self.kinds_of(self.carries.get(item, ())) or "nothing yet"
        return self._kinds[item]

    def kinds_of(self, services: Iterable[int]) -> str:
        """Return the kinds of some services, each once."""
        rows = (self.wiring.services[s] for s in services)
        return ", ".join(dict.fromkeys(row.kind.replace("_", " ") for row in rows))

    def ride(self, moment: Moment) -> set[int]:
        """Turn to a moment; return the islands where other services run than at the last."""
        before = self._riding_at.views if self._riding_at is not None else ()
        self._riding_at = moment
        turned: set[int] = set()
        for n, (old, new) in enumerate(zip_longest(before, moment.views)):
            if old is new or (old and old.via == new.via and old.state is new.state):
                continue
            was = ridden(old) if old is not None else set()
            now = ridden(new)
            for island in was - now:
                self._riding[island].discard(n)
            for island in now - was:
                self._riding.setdefault(island, set()).add(n)
            turned |= was ^ now
        return turned

    def carried(self, harness: int, moment: Moment) -> tuple[int, ...]:
        """Return the services that run over a harness at a moment."""
        if self._riding_at is not moment:
            self.ride(moment)
        found: set[int] = set()
        for island in self.islands[harness] & self._riding.keys():
            found |= self._riding[island]
        return tuple(sorted(found))

    def wired(self, cap: int) -> bool:
        """Return whether an item is a cap that counts in continuity: a terminator, a short."""
        return self.wiring.items[cap].kind == "cap" and bool(self.wiring.joints[cap])

    def caps_moved(self, first: Configuration, last: Configuration) -> list[int]:
        """Return the caps that count in continuity and end on another half, or on none."""
        return [
            cap
            for cap in self.wiring.ids("cap")
            if self.wired(cap) and fitted_on(first, cap) != fitted_on(last, cap)
        ]


def cast_of(account: Account, all_moments: list[Moment], only_work: bool = False) -> Cast:
    """Return what to draw.

    Args:
        account: the replay.
        all_moments: its moments; the first is the start.
        only_work: leave out what the work does not change, however small the configuration.
    """
    wiring = account.trace.wiring
    cast = Cast(wiring)
    changed = frozenset().union(*(m.changed for m in all_moments))
    cast.mates = _mates(wiring, all_moments)
    fixed = [h for h in wiring.ids("half") if wiring.items[h].role != "free"]
    harnesses = wiring.ids("harness")
    cast.demated = demated(account.trace)
    cast.role = {h: cable_role(wiring, h, all_moments, cast.demated) for h in harnesses}
    cast.islands = cable_islands(account)
    cast.carries = carried_by(account, cast.islands)
    if changed and (only_work or len(wiring.ids("half")) > MANY_HALVES):
        touched = set(changed)
        for harness in harnesses:
            if not touched.isdisjoint(_ends(wiring, harness)):
                touched.update(_ends(wiring, harness))
                touched.add(harness)
        if only_work:
            harnesses = [h for h in harnesses if cast.role[h]]
            fixed = [h for h in fixed if _moves(cast, h, all_moments)]
        else:
            harnesses = [h for h in harnesses if h in touched]
            fixed = [h for h in fixed if h in touched or not touched.isdisjoint(cast.mates[h])]
    idle = {h for h in harnesses if _stays_packed(cast, h, all_moments, changed)}
    cast.packed_away = sorted(idle)
    harnesses = [h for h in harnesses if h not in idle]
    fixed = [h for h in fixed if _ever_there(wiring, h, all_moments)]
    cast.halves, cast.harnesses = fixed, harnesses
    for leg in wiring.ids("leg"):
        cast.rests[leg] = all_moments[-1].config.place_of(leg)
    cast.legs = {h: wiring.legs_of[h] for h in harnesses}
    cast.chips = _chips(wiring, all_moments, changed, only_work)
    shown = frozenset(fixed)
    for half in wiring.ids("half"):
        if wiring.items[half].role != "free" and half not in shown:
            place = home(wiring, half)
            cast.folded[place] = cast.folded.get(place, 0) + 1
    with_halves = {home(wiring, h) for h in fixed}
    cast.places = [
        p
        for p in wiring.ids("place")
        if p in with_halves or cast.chips.get(p) or (p in cast.folded and not only_work)
    ]
    return cast


def fitted_on(config: Configuration, cap: int) -> int:
    """Return the half a cap is fitted on, or NONE."""
    return config.link[cap] if config.state_name(cap) == "fitted" else NONE


def home(wiring: Wiring, item: int) -> int:
    """Return the place a fixed half, panel, unit, switch or cover belongs to."""
    while wiring.items[item].kind != "place":
        item = wiring.items[item].owner
    return item


def _ends(wiring: Wiring, harness: int) -> set[int]:
    """Return the legs, halves and segments of a harness."""
    legs = wiring.legs_of[harness]
    halves = {wiring.half_of[leg] for leg in legs if leg in wiring.half_of}
    return {*legs, *halves, *wiring.segments_of.get(harness, ())}


def _stays_packed(
    cast: Cast, harness: int, all_moments: list[Moment], changed: frozenset[int]
) -> bool:
    """Return whether a harness is in a bag from the first to the last moment."""
    wiring, config = cast.wiring, all_moments[0].config
    legs = wiring.legs_of[harness]
    return changed.isdisjoint(_ends(wiring, harness)) and all(
        config.state_name(leg) == "packed" for leg in legs
    )


def _ever_there(wiring: Wiring, half: int, all_moments: list[Moment]) -> bool:
    """Return whether the panel or unit of a fixed half is ever installed."""
    owner = wiring.items[half].owner
    return any(m.config.state_name(owner) == "installed" for m in all_moments)


def _moves(cast: Cast, half: int, all_moments: list[Moment]) -> bool:
    """Return whether a half is ever demated, or ends with another mate or cap than it had."""
    first, last = all_moments[0].config, all_moments[-1].config
    otherwise = first.link[half] != last.link[half] or first.state[half] != last.state[half]
    return otherwise or half in cast.demated


def _mates(wiring: Wiring, all_moments: Iterable[Moment]) -> dict[int, tuple[int, ...]]:
    found: dict[int, dict[int, None]] = {h: {} for h in wiring.ids("half")}
    for moment in all_moments:
        halves = found.keys() if moment.stirred is None else found.keys() & moment.stirred
        for half in halves:
            mate = moment.config.link[half]
            if mate != NONE and wiring.items[mate].kind == "half":
                found[half][mate] = None
    return {half: tuple(seen) for half, seen in found.items()}


def _chips(
    wiring: Wiring, all_moments: list[Moment], changed: frozenset[int], only_work: bool
) -> dict[int, list[int]]:
    found: dict[int, dict[int, None]] = {}
    if not only_work:
        for item in wiring.ids("switch", "cover"):
            if item in changed:
                found.setdefault(home(wiring, item), {})[item] = None
        movable = [
            *wiring.ids("bag"),
            *(p for p in wiring.ids("person") if wiring.items[p].role in ("outside", "vehicle")),
            *(c for c in wiring.ids("cap") if not wiring.cap_tethered.get(c, True)),
        ]
        for moment in all_moments:
            for item in movable:
                place = moment.config.place_of(item)
                off = wiring.items[item].kind != "cap" or stray(moment, item)
                if place != NONE and off:
                    found.setdefault(place, {})[item] = None
    rank = {"switch": 0, "cover": 1, "bag": 2, "person": 3, "cap": 4}
    return {
        place: sorted(items, key=lambda n: (rank[wiring.items[n].kind], n))
        for place, items in found.items()
    }


def stray(moment: Moment, cap: int) -> bool:
    """Return whether a cap is neither on a half nor on its tether."""
    return moment.config.state_name(cap) not in ("fitted", "tethered")
