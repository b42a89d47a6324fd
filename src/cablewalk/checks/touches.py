"""Touches: every mate and demate with the feeds that could reach its contacts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from heapq import heappop, heappush

from cablewalk.checks.series import volts_with
from cablewalk.continuity.feeds import SWITCH
from cablewalk.continuity.graph import BARE, PART_ENGAGED
from cablewalk.continuity.live import Liveness
from cablewalk.continuity.touched import touched_by
from cablewalk.replay.change import Change, Field
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring
from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import Event, Trace

JOINING = frozenset({"mate", "engage", "seat", "park", "demate"})
CAPPING = frozenset({"fit_cap", "remove_cap"})


@dataclass(frozen=True, slots=True)
class Touch:
    """Contacts joined or parted by an action. ``position`` is that of the event it begins with."""

    position: int
    task: Task
    time_s: int
    halves: tuple[int, ...]
    reach: tuple[int, ...]
    """Feeds that could reach the contacts if no switch were known to be off."""
    live: tuple[int, ...]
    """Feeds that may make them live as things stand."""
    upstream: dict[int, tuple[int, ...]]
    """Feed that needs an input to the feeds that could reach that input."""
    off: frozenset[int]
    """Switches surely off at that moment."""
    volts: dict[int, float] = field(default_factory=dict)
    """Feed that could reach the contacts to the volts it could put there, with those in series
    with it; empty where no limit asks for them."""


@dataclass(frozen=True, slots=True)
class PowerOn:
    """Bare halves that a switch-on made live where workers were, or came to afterwards."""

    task: Task
    feeds: tuple[int, ...]
    halves: tuple[int, ...]
    workers: tuple[int, ...]
    arrived: bool
    """Whether the workers came after the switch-on; ``task`` is then what brought them."""


@dataclass(slots=True)
class Survey:
    """All touches and switch-ons of a replay, in order of time."""

    touches: list[Touch] = field(default_factory=list)
    power_ons: list[PowerOn] = field(default_factory=list)
    exposed_volts: dict[tuple[str, int], float] = field(default_factory=dict)
    """(step, half) to the most volts its contacts had then, those of feeds in series summed; step
    empty for the start."""


def survey(trace: Trace, exposures: bool = False) -> Survey:
    """Walk through a replay twice at once: as it was, and with every switch unknown.

    ``exposures`` asks for the volts at contacts too, which nothing but a limit needs.
    """
    return _Surveyor(trace, exposures).run()


class _Surveyor:
    def __init__(self, trace: Trace, exposures: bool) -> None:
        self.trace = trace
        self.exposures = exposures
        self.wiring = trace.wiring
        self.config = trace.start.copy()
        self.open = trace.start.copy()
        for switch in self.wiring.ids("switch"):
            self.open.state[switch] = SWITCH["unknown"]
        self.live = Liveness(self.config)
        self.reach = Liveness(self.open)
        self.found = Survey()
        self.energised: dict[int, set[int]] = {}
        """Half that a switch-on made live while it was bare, to the workers told of it."""

    def run(self) -> Survey:
        if self.exposures:
            for half in self.wiring.ids("half"):
                self._exposed("", half)
        for position, event in enumerate(self.trace.events):
            fresh = self._apply(event.changes)
            task = event.task
            touching = task.verb in JOINING or (task.verb in CAPPING and self._electrical(event))
            if event.begins and touching:
                self._touch(position, event)
            if task.verb == "switch_on" and fresh:
                self._power_on(task, fresh)  # as soon as it moves it may be on
            moved = any(
                c.field is Field.LINK and self.wiring.items[c.item].kind == "person"
                for c in event.changes
            )
            if moved and self.energised:
                self._arrivals(task)
            if self.exposures:
                handled = [c.item for c in event.changes if c.field is Field.CLAIM]
                for half in {*self._sites(fresh), *handled}:
                    self._exposed(task.step_id, half)
        return self.found

    def _apply(self, changes: tuple[Change, ...]) -> frozenset[int]:
        """Apply changes to both configurations; return the islands that became live."""
        self.config.apply(changes)
        touched = touched_by(self.config, changes)
        kinds = self.wiring.items
        fixed = [c for c in changes if c.field is not Field.STATE or kinds[c.item].kind != "switch"]
        self.open.apply(fixed)
        if not (touched.joined or touched.switches or touched.units):
            return frozenset()
        units = bool(touched.units)
        if touched.joined or units:
            self.reach.update(fixed, False, units)
        return self.live.update(changes, touched.switches, units).gained

    def _electrical(self, event: Event) -> bool:
        return any(
            self.wiring.items[i].kind == "cap" and self.wiring.joints[i] for i in claimed(event)
        )

    def _feeds(self, live: Liveness, halves: Iterable[int]) -> tuple[int, ...]:
        found: set[int] = set()
        for half in halves:
            for position in range(len(self.wiring.joints[half])):
                island = live.at(half, position)
                if island != NONE:
                    found |= live.hot[island]
        return tuple(sorted(found))

    def _touch(self, position: int, event: Event) -> None:
        halves = tuple(i for i in claimed(event) if self.wiring.items[i].kind == "half")
        reach = self._feeds(self.reach, halves)
        upstream: dict[int, tuple[int, ...]] = {}
        todo = list(reach)
        for feed in todo:
            ends = self.wiring.feeds[feed].input
            if ends is None or feed in upstream:
                continue
            islands = {self.wiring.terminals[t].island for t in ends}
            upstream[feed] = tuple(
                n
                for n, region in sorted(self.reach.regions.items())
                if n != feed and not islands.isdisjoint((region.support or region.live).parents)
            )
            todo.extend(upstream[feed])
        off = frozenset(s for s in self._switches({*reach, *upstream, *todo}) if self._is_off(s))
        self.found.touches.append(
            Touch(
                position,
                event.task,
                event.time_s,
                halves,
                reach,
                self._feeds(self.live, halves),
                upstream,
                off,
                volts_with(self.reach, reach) if self.exposures else {},
            )
        )

    def _switches(self, feeds: Iterable[int]) -> set[int]:
        return {s for feed in feeds for s in self.wiring.feeds[feed].switches}

    def _is_off(self, switch: int) -> bool:
        off = (SWITCH["off"], SWITCH["blocked"])
        return self.config.state[switch] in off and not self.config.moving(switch)

    def _sites(self, islands: Iterable[int]) -> list[int]:
        halves = {h for i in islands if i != STRUCTURE for h, _ in self.wiring.sites[i]}
        return sorted(h for h in halves if self.wiring.items[h].kind == "half")

    def _power_on(self, task: Task, fresh: frozenset[int]) -> None:
        halves = [half for half in self._sites(fresh) if self._is_open(half)]
        for half in halves:
            self.energised[half] = set()
        self._tell(task, halves, False)

    def _arrivals(self, task: Task) -> None:
        halves = [h for h in sorted(self.energised) if self._is_open(h) and self._live_at(h)]
        self.energised = {half: self.energised[half] for half in halves}
        self._tell(task, halves, True)

    def _tell(self, task: Task, candidates: Iterable[int], arrived: bool) -> None:
        """Note the workers who are at bare live halves and were not told of before."""
        halves: list[int] = []
        feeds: set[int] = set()
        workers: set[int] = set()
        for half in candidates:
            near = self._workers_at(self.config.place_of(half)) - self.energised[half]
            if near:
                halves.append(half)
                workers |= near
                self.energised[half] |= near
                feeds.update(self._live_at(half))
        if halves:
            self.found.power_ons.append(
                PowerOn(task, tuple(sorted(feeds)), tuple(halves), tuple(sorted(workers)), arrived)
            )

    def _is_open(self, half: int) -> bool:
        return self.config.state[half] in (BARE, PART_ENGAGED) or self.config.moving(half)

    def _live_at(self, half: int) -> tuple[int, ...]:
        return self._feeds(self.live, (half,))

    def _workers_at(self, place: int) -> set[int]:
        """Return the people at a place who could touch something there."""
        return {
            person
            for person in self.wiring.ids("person")
            if place != NONE
            and self.wiring.items[person].role in ("outside", "inside")
            and self.config.place_of(person) == place
        }

    def _exposed(self, step: str, half: int) -> None:
        feeds = self._feeds(self.live, (half,))
        key = (step, half)
        volts = max(volts_with(self.live, feeds).values(), default=0.0)
        self.found.exposed_volts[key] = max(volts, self.found.exposed_volts.get(key, 0.0))


def claimed(event: Event) -> list[int]:
    """Return the items an action claims where it begins."""
    return [c.item for c in event.changes if c.field is Field.CLAIM and c.old == NONE]


def barriers(touch: Touch, wiring: Wiring, feed: int) -> int:
    """Return how many independent switches, surely off, stand between a feed and its source.

    The least over the chains of feeds that could supply it. Over a whole chain a switch counts
    once, and so do all switches commanded through one service. A feed that no source reaches
    counts as one barrier more than any number asked for.
    """
    start = (feed, _keys(touch, wiring, feed))
    seen = {start}
    queue = [(len(start[1]), 0, *start)]
    while queue:
        count, _, at, met = heappop(queue)
        if wiring.feeds[at].input is None:
            return count
        for source in touch.upstream.get(at, ()):
            state = (source, met | _keys(touch, wiring, source))
            if state not in seen:
                seen.add(state)
                heappush(queue, (len(state[1]), len(seen), *state))
    return 1_000_000


def _keys(touch: Touch, wiring: Wiring, feed: int) -> frozenset[tuple[str, int]]:
    """Return what keeps a feed off: each switch, or the service it is commanded through."""
    service = wiring.command_service
    return frozenset(
        ("service", service[s]) if s in service else ("switch", s)
        for s in wiring.feeds[feed].switches
        if s in touch.off
    )
