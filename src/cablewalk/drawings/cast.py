"""The cast: which things of the hardware a picture shows, and what becomes of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Final

from cablewalk.drawings.moments import Moment
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring
from cablewalk.timeline.account import Account
from cablewalk.walk.trace import View

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
    """Harness to ``old`` (comes off), ``new`` (goes on), ``moved`` (some of both) or nothing."""
    carries: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Half or harness to the services that ever run over it."""
    islands: dict[int, frozenset[int]] = field(default_factory=dict)
    """Harness to the islands of its halves."""
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
            if old is new or (old is not None and old.via == new.via):
                continue
            was = _islands(old) if old is not None else set()
            now = _islands(new)
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
    cast.role = {h: _role(wiring, h, all_moments) for h in harnesses}
    cast.carries = _carries(account)
    for harness, legs in wiring.legs_of.items():
        halves = [wiring.half_of[leg] for leg in legs if leg in wiring.half_of]
        joints = set[int]().union(*(wiring.joints[half] for half in halves))
        cast.islands[harness] = frozenset(joints - {STRUCTURE, NONE})
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
    """Return whether a half ends with another mate or cap than it had at the start."""
    first, last = all_moments[0].config, all_moments[-1].config
    return first.link[half] != last.link[half] or first.state[half] != last.state[half]


def _mates(wiring: Wiring, all_moments: Iterable[Moment]) -> dict[int, tuple[int, ...]]:
    found: dict[int, dict[int, None]] = {h: {} for h in wiring.ids("half")}
    for moment in all_moments:
        halves = found.keys() if moment.stirred is None else found.keys() & moment.stirred
        for half in halves:
            mate = moment.config.link[half]
            if mate != NONE and wiring.items[mate].kind == "half":
                found[half][mate] = None
    return {half: tuple(seen) for half, seen in found.items()}


def _role(wiring: Wiring, harness: int, all_moments: list[Moment]) -> str:
    first, last = all_moments[0].config, all_moments[-1].config
    halves = [wiring.half_of[leg] for leg in wiring.legs_of[harness] if leg in wiring.half_of]

    def mates(config_link: list[int]) -> set[tuple[int, int]]:
        pairs = ((h, config_link[h]) for h in halves)
        return {(h, m) for h, m in pairs if m != NONE and wiring.items[m].role in ("fixed", "free")}

    before, after = mates(first.link), mates(last.link)
    joined = {(h, m) for h, m in after if wiring.items[m].kind == "half"}
    if before - after:
        return "moved" if joined else "old"
    if joined - before:
        return "moved" if before else "new"
    return ""


def _islands(view: View) -> set[int]:
    """Return the islands that a service runs over."""
    return {island for paths in view.via for path in paths for island in path}


def _carries(account: Account) -> dict[int, tuple[int, ...]]:
    """Return which services ever run over each half and harness.

    Islands of a harness are its own: what is joined for good stays within one piece of hardware.
    """
    trace = account.trace
    wiring = trace.wiring
    islands: list[set[int]] = [set() for _ in wiring.services]
    views = [*enumerate(trace.start_views)]
    views += [(s.service, s.after) for event in trace.events for s in event.shifts]
    for service, view in views:
        islands[service] |= _islands(view)
    riding: dict[int, set[int]] = {}
    for n, via in enumerate(islands):
        for island in via:
            riding.setdefault(island, set()).add(n)
    found: dict[int, tuple[int, ...]] = {}
    for half in wiring.ids("half"):
        own = set(wiring.joints[half]) - {STRUCTURE, NONE}
        found[half] = tuple(sorted(set[int]().union(*(riding.get(i, ()) for i in own))))
    for harness, legs in wiring.legs_of.items():
        each = (found.get(wiring.half_of.get(leg, NONE), ()) for leg in legs)
        found[harness] = tuple(sorted(set().union(*each)))
    return found


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
