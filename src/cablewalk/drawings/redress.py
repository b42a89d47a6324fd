"""The dresses of all steps, each made of the one before: only what changed is dressed anew."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence

from cablewalk.drawings.dress import Wardrobe
from cablewalk.drawings.moments import Moment
from cablewalk.drawings.pairs import pair_key
from cablewalk.drawings.plate import Dress, Key, Turn, Wear, turn_between, turned
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE


def step_dresses(wardrobe: Wardrobe, every: Sequence[Moment]) -> tuple[list[Dress], list[Turn]]:
    """Return the dress of each moment as ``Wardrobe.dress(moment, "step")`` gives it.

    The time grows with what changes from one moment to the next: what wears the same is the same
    object in both dresses. With each dress comes the turn from the one before; from nothing for
    the first.
    """
    tailor = _Tailor(wardrobe)
    dresses: list[Dress] = []
    turns: list[Turn] = []
    before: Dress = {}
    for moment in every:
        rerouted = wardrobe.cast.ride(moment)
        if not dresses or moment.stirred is None:
            turn = tailor.begin(before, wardrobe.dress(moment, "step"))
        else:
            turn = tailor.turn(before, moment, rerouted)
        before = turned(before, turn)
        dresses.append(before)
        turns.append(turn)
    return dresses, turns


def novelties(dresses: Iterable[Dress]) -> list[Dress]:
    """Return of each dress what is not the very object that the dress before has there."""
    found: list[Dress] = []
    before: Dress = {}
    for dress in dresses:
        found.append(turn_between(before, dress).new)
        before = dress
    return found


class _Tailor:
    """Knows which cables tell of which items."""

    def __init__(self, wardrobe: Wardrobe) -> None:
        cast, wiring = wardrobe.cast, wardrobe.wiring
        self.wardrobe = wardrobe
        self.halves = frozenset(cast.halves)
        self.panels = {wiring.items[half].owner for half in cast.halves}
        self.cables: dict[int, set[int]] = {}
        """Island to the drawn cables it is part of."""
        for harness in cast.harnesses:
            for island in cast.islands[harness]:
                self.cables.setdefault(island, set()).add(harness)
        self.together = self._together()
        self.bags = frozenset(wiring.ids("bag"))
        self.first_legs = [(harness, legs[0]) for harness, legs in wiring.legs_of.items() if legs]
        self.fixed: list[tuple[Key, int]] = []
        """Key and item of each switch and cover."""
        places: dict[int, dict[int, Key]] = {}
        for place in cast.places:
            for item in cast.chips.get(place, ()):
                key: Key = ("chip", place, item)
                if wiring.items[item].kind in ("switch", "cover"):
                    self.fixed.append((key, item))
                else:
                    places.setdefault(item, {})[place] = key
        self.movable = list(places.items())
        """Bag, person or cap, and the key of its tag at each place where it ever is."""
        self.tagged: Dress = {}
        self.rings: Dress = {}
        self.kept: dict[Hashable, Wear] = {}

    def _together(self) -> dict[int, set[int]]:
        """Return each drawn cable with all that are ever mated with it, end to end.

        The line between two free halves belongs to both cables, and the later one has the say.
        """
        cast, wiring = self.wardrobe.cast, self.wardrobe.wiring
        found = {harness: {harness} for harness in cast.harnesses}
        for harness in cast.harnesses:
            for leg in cast.legs[harness]:
                for mate in cast.mates.get(wiring.half_of.get(leg, NONE), ()):
                    other = self._cable_of(mate)
                    if other in found and found[other] is not found[harness]:
                        found[harness] |= found[other]
                        for each in found[harness]:
                            found[each] = found[harness]
        return found

    def _cable_of(self, item: int) -> int:
        """Return the harness of a free half or leg, else NONE."""
        wiring = self.wardrobe.wiring
        leg = wiring.leg_of.get(item, item)
        owner = wiring.items[leg].owner if wiring.items[leg].kind == "leg" else NONE
        return owner

    def begin(self, before: Dress, dress: Dress) -> Turn:
        """Take a dress as it is, to go on from."""
        fixed = {key for key, _ in self.fixed}
        chips = {key: wear for key, wear in dress.items() if key[0] == "chip"}
        self.tagged = {key: wear for key, wear in chips.items() if key not in fixed}
        self.rings = {key: wear for key, wear in dress.items() if key[0] == "halo"}
        return turn_between(before, dress)

    def turn(self, before: Dress, moment: Moment, rerouted: Iterable[int]) -> Turn:
        """Return the turn to the dress of a moment.

        Args:
            before: the dress of the moment before.
            moment: the moment; what was stirred since the one before is known.
            rerouted: islands where other services run than at the moment before.
        """
        wardrobe, cast, config = self.wardrobe, self.wardrobe.cast, moment.config
        stirred = moment.stirred or frozenset()
        new: Dress = {}
        for half in self.halves & stirred:
            new["half", half] = wardrobe.half(config, half, "step")
        for panel in self.panels & stirred:
            wardrobe.put_panel(new, config, panel)
        cables = {self._cable_of(item) for item in stirred}
        for island in rerouted:
            cables |= self.cables.get(island, set())
        stale = set[int]().union(*(self.together.get(cable, ()) for cable in cables))
        for harness in (h for h in cast.harnesses if h in stale):
            wardrobe.put_harness(new, moment, harness, "step")
        gone = {key for harness in stale for key in self._pairs(harness) if key in before}
        for key, item in self.fixed:
            if item in stirred:
                new[key] = self._tag(config, item)
        tags = self._tags(moment)
        gone |= {k for k in self.tagged if k not in tags}
        self.tagged = tags
        new |= tags
        gone -= new.keys()
        rings = wardrobe.halos(lambda k: k in new or (k in before and k not in gone), moment)
        gone |= {key for key in self.rings if key in before}
        self.rings = rings
        new |= rings
        fresh = {key: wear for key, wear in new.items() if before.get(key) != wear}
        return Turn(fresh, tuple(gone - new.keys()))

    def _tags(self, moment: Moment) -> Dress:
        """Return the tags of what comes and goes, each at the place where it is."""
        wardrobe, config = self.wardrobe, moment.config
        inside: dict[int, tuple[int, ...]] = {}
        for harness, first in self.first_legs:
            bag = config.link[first]
            if bag in self.bags and wardrobe.is_packed(config, harness, bag):
                inside[bag] = (*inside.get(bag, ()), harness)
        found: Dress = {}
        for item, keys in self.movable:
            key = keys.get(config.place_of(item))
            if key is not None and wardrobe.is_loose(moment, item):
                found[key] = self._tag(config, item, inside.get(item, ()))
        return found

    def _tag(self, config: Configuration, item: int, inside: tuple[int, ...] = ()) -> Wear:
        like = item, config.state[item], config.count[item], inside
        wear = self.kept.get(like)
        if wear is None:
            wear = self.kept[like] = self.wardrobe.chip(config, item)
        return wear

    def _pairs(self, harness: int) -> tuple[Key, ...]:
        """Return the lines of a cable's ends to all their mates."""
        cast, wiring = self.wardrobe.cast, self.wardrobe.wiring
        halves = (wiring.half_of.get(leg, NONE) for leg in cast.legs[harness])
        return tuple(pair_key(wiring, h, mate) for h in halves for mate in cast.mates.get(h, ()))
