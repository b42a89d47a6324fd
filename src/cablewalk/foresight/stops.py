"""Stops: how everything is left if work stops as an action is over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from cablewalk.checks.case import ALTERING, Case
from cablewalk.checks.left_halves import RULES as LEFT_HALVES
from cablewalk.checks.left_things import RULES as LEFT_THINGS
from cablewalk.continuity.graph import BARE, PART_ENGAGED
from cablewalk.continuity.live import Liveness
from cablewalk.continuity.services import State
from cablewalk.continuity.touched import touched_by
from cablewalk.findings import Finding
from cablewalk.foresight.cut import Cut, cut
from cablewalk.foresight.inhibits import Held, Inhibits
from cablewalk.foresight.moments import Moment, moments
from cablewalk.foresight.pause import Pauses, Room
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.tasks import PlannedStep, Task
from cablewalk.timeline.account import Account, believed
from cablewalk.timeline.clocks import Reading, tightest
from cablewalk.timeline.spells import Spell
from cablewalk.walk.trace import Event, View
from cablewalk.walk.watch import TOUCHING

_UNFINISHED: Final = (
    "part-engaged-at-end",
    "lock-unverified-at-end",
    "bare-at-end",
    "leg-loose-at-end",
    "cover-left-open",
    "cap-in-hand-at-end",
    "held-at-end",
)
"""The rules of how work leaves things that hold at every stop: bags are counted as a day ends."""


@dataclass(frozen=True, slots=True)
class Down:
    """A service that is down, or recovers, as work stops.

    ``clock``: of the clocks that run the one that ends first; else the tightest there is, which
    does not run yet; None: it has none. ``ends``: the event by which the plan ends the outage;
    None: it does not. ``retires``: that is the end of the service.
    """

    spell: Spell
    clock: Reading | None
    runs: bool
    ends: Event | None
    retires: bool


@dataclass(frozen=True, slots=True)
class Open:
    """A half whose contacts may be live and can be reached.

    ``state``: how it stands, in words. ``by``: the feeds. ``task``: the action that is at work on
    it; None: it stands open. ``found_so``: the work did not make it so.
    """

    half: int
    state: str
    by: tuple[int, ...]
    task: Task | None
    found_so: bool


@dataclass(frozen=True, slots=True)
class Begun:
    """A step of which some actions are over or under way, and not all."""

    step: PlannedStep
    done: int
    following: Task | None
    """The next action; None: the last is under way."""


@dataclass(frozen=True, slots=True)
class Person:
    """Where somebody is, and what is in hand. Numbers of items; NONE: nobody says where."""

    person: int
    place: int
    holds: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """Work stops: no further action begins, and what is under way stays half done.

    Attributes:
        moment: when.
        under_way: actions at work on hardware; walks, waits and looks leave nothing half done, and
            are not among them.
        begun: steps begun and not over.
        down: services down until somebody goes on, in the baseline's order.
        recovering: services that come back by themselves, being reconnected.
        weak: services up by fewer strings than they have, or not verified, and how they stand.
        live: halves open, or under somebody's hands, and live.
        left: what is left unfinished.
        held: the inhibits that must hold.
        people: where everybody is.
        rooms: what ends a pause after which work goes on as planned, the soonest first.
    """

    moment: Moment
    under_way: tuple[Task, ...]
    begun: tuple[Begun, ...]
    down: tuple[Down, ...]
    recovering: tuple[Down, ...]
    weak: tuple[tuple[int, View], ...]
    live: tuple[Open, ...]
    left: tuple[Finding, ...]
    held: tuple[Held, ...]
    people: tuple[Person, ...]
    rooms: tuple[Room, ...]

    @property
    def is_good(self) -> bool:
        """Whether it can be left so: nothing is half done or left open, and no clock runs.

        A service that the work took down and that has no clock counts as one whose clock runs:
        nobody says how long it may be down. One that recovers has its clock run out where that is
        overrun. What was so before the work does not count.
        """
        if self.under_way or self.left or any(not row.found_so for row in self.live):
            return False
        if any(row.fails for row in self.held) or any(_overrun(row) for row in self.recovering):
            return False
        return not any(d.runs or (d.clock is None and d.spell.lost_by) for d in self.down)


def stops(account: Account) -> list[Stop]:
    """Return the stop before each phase, and as each action ends, by time."""
    walk = _Walk(account)
    return [walk.stop(moment) for moment in moments(account.trace)]


class _Walk:
    """Walks through a replay once, and tells how things are at each moment, in turn."""

    def __init__(self, account: Account) -> None:
        self.account = account
        self.case = Case(account)
        self.config = account.trace.start.copy()
        self.views = list(account.trace.start_views)
        self.live = Liveness(self.config)
        self.inhibits = Inhibits(self.case)
        self.pauses = Pauses(account)
        self.last_task: dict[int, Event] = {}
        self.under_way: dict[tuple[int, int], tuple[Task, frozenset[int]]] = {}
        """Phase and serial to an action that is not over, and the items it is at work on."""
        self.done: dict[tuple[int, int], set[int]] = {}
        """Step to the serials of its actions that have begun or are over."""
        self.position = 0
        whole = {rule.id: rule.judge for rule in (*LEFT_HALVES, *LEFT_THINGS)}
        self.judges = [judge for name in _UNFINISHED if (judge := whole[name]) is not None]
        self.halves = self.config.wiring.ids("half")
        self.live_at_start: frozenset[int] = frozenset()
        self.live_at_start = frozenset(row.half for row in self._live())

    def stop(self, moment: Moment) -> Stop:
        """Return the stop at a moment; moments never go back."""
        for event in self.account.trace.events[self.position : moment.position]:
            self._take(event)
        self.position = moment.position
        until = cut(self.account, moment)
        doing = [task for task, items in self.under_way.values() if items]
        return Stop(
            moment,
            tuple(doing),
            tuple(self._begun(moment)),
            tuple(self._down(until)),
            tuple(self._recovering(until)),
            tuple(self._weak(moment)),
            tuple(self._live()),
            tuple(self._left()),
            tuple(self.inhibits.held(moment)),
            tuple(self._people()),
            tuple(self.pauses.rooms(until)),
        )

    def _take(self, event: Event) -> None:
        task = event.task
        self.config.apply(event.changes)
        touched = touched_by(self.config, event.changes)
        self.live.update(event.changes, touched.switches, bool(touched.units))
        self.inhibits.take(event)
        for shift in event.shifts:
            self.views[shift.service] = shift.after
        if event.begins:
            items = {c.item for c in event.changes if c.field is Field.CLAIM}
            working = frozenset(item for item in items if self.config.moving(item))
            self.under_way[task.phase, task.serial] = task, working
            self.done.setdefault((task.phase, task.step), set()).add(task.serial)
        else:
            self.under_way.pop((task.phase, task.serial), None)
        for change in event.changes:
            if change.field in ALTERING:
                self.last_task[change.item] = event

    def _begun(self, moment: Moment) -> Iterator[Begun]:
        for (phase, position), serials in self.done.items():
            if phase != moment.phase:
                continue
            step = self.account.trace.phases[phase].plan.steps[position]
            doing = sum((phase, serial) in self.under_way for serial in serials)
            if len(serials) < len(step.tasks) or doing:
                following = (task for task in step.tasks if task.serial not in serials)
                yield Begun(step, len(serials) - doing, next(following, None))

    def _down(self, until: Cut) -> Iterator[Down]:
        for spell, readings in until.down:
            running = [r for r in readings if r.reconnect_by_s is not None]
            first = min(running, key=lambda r: r.reconnect_by_s or 0, default=None)
            clock = first or tightest(readings)
            yield Down(spell, clock, bool(running), *self.pauses.ends(spell, self.position))

    def _recovering(self, until: Cut) -> Iterator[Down]:
        for spell, readings in until.recovering:
            clock = tightest(readings)
            runs = clock is not None and clock.runs_from_s is not None
            yield Down(spell, clock, runs, spell.restored_by, False)

    def _weak(self, moment: Moment) -> Iterator[tuple[int, View]]:
        for n, view in enumerate(believed(self.account, self.views, moment.time_s)):
            is_up = view.life == ALIVE and view.state is not State.DOWN
            if is_up and view.words != "up":
                yield n, view

    def _live(self) -> Iterator[Open]:
        """Yield the halves that are bare, part-engaged or being mated, demated or capped, live."""
        live, state = self.live, self.config.state
        touching = {
            item: task
            for task, items in self.under_way.values()
            if task.verb in TOUCHING
            for item in items
        }
        for half in self.halves:
            if half not in touching and state[half] not in (BARE, PART_ENGAGED):
                continue
            feeds = {feed for _, island in live.rows(half) for feed in live.hot[island]}
            if feeds:
                found_so = half in self.live_at_start and half not in self.last_task
                words = self.case.state_words(state[half], half)
                yield Open(half, words, tuple(sorted(feeds)), touching.get(half), found_so)

    def _left(self) -> Iterator[Finding]:
        """Yield what the rules of how work leaves things find; what is at work is told apart."""
        case = _AsLeft(self.account, self.config, self.last_task)
        for judge in self.judges:
            for finding in judge(case):
                items = [self.config.wiring.by_id[name] for name in finding.items]
                if not any(self.config.moving(item) for item in items):
                    yield finding

    def _people(self) -> Iterator[Person]:
        for person in self.config.wiring.ids("person"):
            place = self.config.place_of(person)
            holds = tuple(self.config.held_by(person))
            if place != NONE or holds:
                yield Person(person, place, holds)


class _AsLeft(Case):
    """A case whose end is the moment at which work stops."""

    def __init__(
        self, account: Account, config: Configuration, last_task: dict[int, Event]
    ) -> None:
        super().__init__(account)
        self.end = config
        self.last_task = last_task


def _overrun(row: Down) -> bool:
    """Return whether a clock is overrun before a service that recovers is back."""
    return row.clock is not None and row.clock.margin_s < 0
