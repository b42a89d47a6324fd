"""What if: what would go if an item were demated, switched off or taken away."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from cablewalk.continuity.feeds import SURELY_OFF
from cablewalk.continuity.services import Continuity, State
from cablewalk.continuity.verdict import Standing
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.walk.altered import with_cut, with_dead_feed
from cablewalk.walk.harness_tree import HarnessTree
from cablewalk.walk.riders import beneath
from cablewalk.walk.scene import Scene
from cablewalk.walk.subject import Subject

_BARE = COMPILED["half"].state_index["bare"]
_HELD = COMPILED["cap"].state_index["held"]
_OFF = COMPILED["switch"].state_index["off"]
_REMOVED = COMPILED["unit"].state_index["removed"]


@dataclass(frozen=True, slots=True)
class ServiceLoss:
    """A service that would stand otherwise."""

    service: int
    before: State
    after: State
    strings: tuple[tuple[int, Standing, Standing], ...]
    """(string, standing before, standing after) for each that would stand otherwise."""


@dataclass(slots=True)
class Loss:
    """What a loss is taken to be, in words, and the services it would touch."""

    taken_as: list[str] = field(default_factory=list)
    services: list[ServiceLoss] = field(default_factory=list)


def what_if_lost(scene: Scene, subject: Subject) -> Loss | None:
    """Return what losing the item would do; None where there is none to judge.

    Judged by the scene's own continuity, with the loss applied and taken back: the scene stands as
    before once this returns. Where the hardware itself is altered (a cut, a dead feed), by that
    of a copy. Only services that are alive are told of.
    """
    if subject.kind in ("terminal", "service", "string"):
        return None
    taking = _Taking(scene.config.copy())
    taking.take(scene, subject)
    loss = Loss(taking.words)
    if not taking.done:
        return loss
    if taking.wiring is scene.wiring:
        services, after = _followed(scene.config, scene.continuity, taking.changes)
    else:
        altered = Continuity(taking.config)
        after = _standings(altered)
        services = list(after)
    loss.services.extend(_losses(scene, services, after))
    return loss


Standings = dict[int, tuple[State, tuple[Standing, ...]]]
"""Service to its state and the standings of its strings."""


def _standings(continuity: Continuity, services: Iterable[int] | None = None) -> Standings:
    rows = continuity.config.wiring.services
    return {
        n: (
            continuity.states[n],
            tuple(continuity.verdicts[s].standing for s in rows[n].strings),
        )
        for n in (range(len(rows)) if services is None else services)
    }


def _followed(
    config: Configuration, continuity: Continuity, changes: Sequence[Change]
) -> tuple[list[int], Standings]:
    """Return the services that changes would alter, and how these would stand; alter nothing."""
    config.apply(changes)
    try:
        services = sorted({found.service for found in continuity.update(changes)})
        return services, _standings(continuity, services)
    finally:
        config.undo(changes)
        continuity.update([change.inverse for change in reversed(changes)])


def _losses(scene: Scene, services: Iterable[int], after: Standings) -> Iterator[ServiceLoss]:
    now = scene.continuity
    for n in services:
        if scene.config.life[n] != ALIVE:
            continue
        state, standings = after[n]
        strings = tuple(
            (s, now.verdicts[s].standing, standing)
            for s, standing in zip(scene.wiring.services[n].strings, standings, strict=True)
            if now.verdicts[s].standing is not standing
        )
        if strings or now.states[n] is not state:
            yield ServiceLoss(n, now.states[n], state, strings)


class _Taking:
    """Takes things away from a copy of a configuration, and says in words what it took."""

    def __init__(self, config: Configuration) -> None:
        self.config = config
        self.wiring = config.wiring
        self.words: list[str] = []
        self.changes: list[Change] = []
        """What was taken away without altering the hardware itself."""
        self.done = False

    def take(self, scene: Scene, subject: Subject) -> None:
        """Take away what is asked about."""
        wiring, item = self.wiring, subject.item
        kind = wiring.items[item].kind if subject.kind == "contact" else subject.kind
        if kind == "half":
            self.demate(item)
        elif kind == "leg":
            self._leg(item)
        elif kind == "cap":
            self.uncap(item)
        elif kind == "harness":
            for leg in wiring.legs_of[item]:
                self._leg(leg, quiet=True)
            if not self.words:
                self.words.append("none of its connectors is mated")
        elif kind == "segment":
            self.cut(scene, item)
        elif kind == "switch":
            self.off(item)
        elif kind == "feed":
            self.kill(subject.number)
        elif kind == "cover":
            self._cover(scene, item)
        else:
            for half in wiring.mounted.get(item, ()):
                self.demate(half, quiet=True)
            self.remove(item)

    def _name(self, item: int) -> str:
        return self.wiring.items[item].id

    def _set(self, table: Field, item: int, new: int) -> None:
        change = Change(table, item, self.config.value(table, item), new)
        self.config.apply([change])
        self.changes.append(change)
        self.done = True

    def demate(self, half: int, quiet: bool = False) -> None:
        """Leave a half and its mate bare; ``quiet`` says nothing where no join is lost."""
        mate = self.config.link[half]
        if mate == NONE:
            if not quiet:
                self.words.append(f"{self._name(half)} is bare: nothing is mated with it")
        elif self.wiring.items[mate].kind == "cap":
            if not quiet or self.wiring.joints[mate]:
                self.uncap(mate)
        else:
            self.words.append(f"{self._name(half)} and {self._name(mate)} demated")
            for one in (half, mate):
                self._set(Field.STATE, one, _BARE)
                self._set(Field.LINK, one, NONE)

    def uncap(self, cap: int) -> None:
        """Take a cap off its half."""
        half = self.config.link[cap]
        if half == NONE or self.config.link[half] != cap:
            self.words.append(f"{self._name(cap)} is on no half")
            return
        self.words.append(f"{self._name(cap)} taken off {self._name(half)}")
        self._set(Field.STATE, cap, _HELD)
        self._set(Field.STATE, half, _BARE)
        self._set(Field.LINK, cap, NONE)
        self._set(Field.LINK, half, NONE)

    def _leg(self, leg: int, quiet: bool = False) -> None:
        half = self.wiring.half_of.get(leg, NONE)
        if half != NONE:
            self.demate(half, quiet)
        elif not quiet:
            self.words.append(f"{self._name(leg)} is hard-wired: it cannot be demated")

    def _cover(self, scene: Scene, cover: int) -> None:
        """Take the worst that work beneath a cover could do: all under it parted."""
        halves, segments = beneath(self.wiring, cover)
        for half in halves:
            self.demate(half, quiet=True)
        for segment in segments:
            self.cut(scene, segment)
        if not self.words:
            self.words.append("nothing is mated beneath it, and no segment passes")

    def cut(self, scene: Scene, segment: int) -> None:
        """Part the legs on one side of a segment from those on the other."""
        wiring = self.wiring
        tree = HarnessTree(scene.baseline, wiring, wiring.items[segment].owner)
        for side in tree.sides(segment):
            if all(leg in wiring.half_of for leg in side):
                self.words.append(f"{self._name(segment)} cut")
                self.config = with_cut(self.config, [wiring.half_of[leg] for leg in side])
                self.wiring = self.config.wiring
                self.done = True
                return
        self.words.append(
            f"{self._name(segment)}: both sides are hard-wired, so what a cut loses is not told"
        )

    def off(self, switch: int) -> None:
        """Switch off."""
        if self.config.state[switch] in SURELY_OFF:
            self.words.append(f"{self._name(switch)} is off already")
            return
        self.words.append(f"{self._name(switch)} switched off")
        self._set(Field.STATE, switch, _OFF)

    def kill(self, number: int) -> None:
        """Let a feed be dead, however its switches stand."""
        self.words.append(f"feed {self.wiring.feeds[number].id} dead, however its switches stand")
        self.config = with_dead_feed(self.config, number)
        self.wiring = self.config.wiring
        self.done = True

    def remove(self, item: int) -> None:
        """Take a unit or panel away."""
        if self.config.state_name(item) != "installed":
            self.words.append(f"{self._name(item)} is not there")
            return
        self.words.append(f"{self._name(item)} removed")
        self._set(Field.STATE, item, _REMOVED)
