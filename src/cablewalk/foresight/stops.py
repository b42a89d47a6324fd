"""Stops: how everything is left if work stops as a step is over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from cablewalk.checks.case import ALTERING, Case
from cablewalk.checks.left_halves import RULES as LEFT_HALVES
from cablewalk.checks.left_things import RULES as LEFT_THINGS
from cablewalk.continuity.graph import BARE, PART_ENGAGED
from cablewalk.continuity.live import Liveness
from cablewalk.continuity.touched import touched_by
from cablewalk.findings import Finding
from cablewalk.foresight.pause import Pauses, Room
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import Reading, tightest
from cablewalk.timeline.spells import Spell
from cablewalk.walk.trace import Event

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
    """A service that is down as work stops.

    ``clock``: the clock that runs out first of those that run; else the tightest there is, which
    does not run yet; None: it has none.
    """

    spell: Spell
    clock: Reading | None
    runs: bool


@dataclass(frozen=True, slots=True)
class Stop:
    """Work stops: no further action begins. Times are mission elapsed seconds.

    Attributes:
        position: how many events of the replay have happened.
        phase: the phase under way.
        steps: ids of the steps that end here.
        under_way: actions that others are at, neither done nor undone; walks, waits and looks
            leave nothing half done, and are not among them.
        down: services down until somebody goes on, in the baseline's order.
        recovering: outages of services that come back by themselves, being reconnected.
        live: bare or part-engaged half to the feeds that may make its contacts live.
        left: what is left unfinished.
        inhibits: ids of the inhibits that still hold something back.
        room: how long work may stand still and then go on as planned.
    """

    position: int
    time_s: int
    phase: int
    steps: tuple[str, ...]
    under_way: tuple[Task, ...]
    down: tuple[Down, ...]
    recovering: tuple[Spell, ...]
    live: dict[int, tuple[int, ...]]
    left: tuple[Finding, ...]
    inhibits: tuple[str, ...]
    room: Room | None

    @property
    def is_good(self) -> bool:
        """Whether it can be left so: nothing is half done, bare or live, and no clock runs.

        A service that the work took down and that has no clock counts as one whose clock runs:
        nobody says how long it may be down.
        """
        if self.under_way or self.live or self.left:
            return False
        return not any(d.runs or (d.clock is None and d.spell.lost_by) for d in self.down)


def stops(account: Account) -> list[Stop]:
    """Return the stop as each step ends, by time; steps that end together share one.

    The first is before any step; a step whose actions were all skipped has none. Where a step
    ends and the same worker's next begins at the same time, work stops between the two.
    """
    walk = _Walk(account)
    return [walk.stop(position, steps) for position, steps in _moments(account)]


def _moments(account: Account) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Yield how many events have happened as steps end, and the ids of those steps."""
    events = account.trace.events
    yield 0, ()
    last = {
        (event.task.phase, event.task.step): n for n, event in enumerate(events) if not event.begins
    }
    still = {
        (event.task.phase, event.task.step): n for n, event in enumerate(events) if event.begins
    }
    ending: list[str] = []
    for n, event in enumerate(events):
        key = event.task.phase, event.task.step
        if not event.begins and last[key] == n and still[key] < n:
            ending.append(event.task.step_id)
        following = events[n + 1] if n + 1 < len(events) else None
        together = following is not None and not following.begins
        if ending and not (together and following and following.time_s == event.time_s):
            yield n + 1, tuple(ending)
            ending = []


class _Walk:
    """Walks through a replay once, and tells how things are at each place asked for in turn."""

    def __init__(self, account: Account) -> None:
        self.account = account
        self.case = Case(account)
        self.config = account.trace.start.copy()
        self.live = Liveness(self.config)
        self.last_task: dict[int, Event] = {}
        self.under_way: dict[tuple[int, int], Task] = {}
        self.position = 0
        whole = {rule.id: rule.judge for rule in (*LEFT_HALVES, *LEFT_THINGS)}
        self.pauses = Pauses(account)
        self.judges = [judge for name in _UNFINISHED if (judge := whole[name]) is not None]

    def stop(self, position: int, steps: Sequence[str]) -> Stop:
        """Return the stop after so many events; ``position`` never goes back."""
        trace = self.account.trace
        for event in trace.events[self.position : position]:
            self._take(event)
        self.position = position
        last = trace.events[position - 1] if position else None
        phase = last.task.phase if last else 0
        return Stop(
            position,
            self.pauses.time_s(position),
            phase,
            tuple(steps),
            tuple(self.under_way.values()),
            tuple(self._down()),
            tuple(s for s in self.account.outages if self.pauses.recovers(s, position)),
            self._bare_and_live(),
            tuple(self._left()),
            tuple(self._inhibits(phase)),
            self.pauses.room(phase, position),
        )

    def _take(self, event: Event) -> None:
        task = event.task
        self.config.apply(event.changes)
        touched = touched_by(self.config, event.changes)
        self.live.update(event.changes, touched.switches, bool(touched.units))
        if event.begins:
            if any(self.config.moving(c.item) for c in event.changes if c.field is Field.CLAIM):
                self.under_way[task.phase, task.serial] = task
        else:
            self.under_way.pop((task.phase, task.serial), None)
        for change in event.changes:
            if change.field in ALTERING:
                self.last_task[change.item] = event

    def _down(self) -> Iterator[Down]:
        pauses, position = self.pauses, self.position
        for n, spell in enumerate(self.account.outages):
            if pauses.lasts(spell, position):
                readings = self.account.readings[n]
                running = [r for r in readings if pauses.runs(r, position)]
                yield Down(spell, _first_out(running) or tightest(readings), bool(running))

    def _bare_and_live(self) -> dict[int, tuple[int, ...]]:
        live, state = self.live, self.config.state
        found = {}
        for half in self.config.wiring.ids("half"):
            if state[half] not in (BARE, PART_ENGAGED) or self.config.moving(half):
                continue
            feeds = {feed for n in live.contacts(half) for feed in live.hot[live.at(half, n)]}
            if feeds:
                found[half] = tuple(sorted(feeds))
        return found

    def _left(self) -> Iterator[Finding]:
        """Yield what the rules of how work leaves things find; what is at work is told apart."""
        case = _AsLeft(self.account, self.config, self.last_task)
        for judge in self.judges:
            for finding in judge(case):
                items = [self.config.wiring.by_id[name] for name in finding.items]
                if not any(self.config.moving(item) for item in items):
                    yield finding

    def _inhibits(self, phase: int) -> Iterator[str]:
        events = self.account.trace.events
        for one in self.case.stated:
            if one.phase != phase or one.start >= self.position:
                continue
            is_released = one.stop < len(events) and events[one.stop].task.phase == phase
            # It holds until its release begins; without one, until the phase is over.
            if self.position < one.stop or (is_released and self.position == one.stop):
                yield one.id


class _AsLeft(Case):
    """A case whose end is the moment at which work stops."""

    def __init__(
        self, account: Account, config: Configuration, last_task: dict[int, Event]
    ) -> None:
        super().__init__(account)
        self.end = config
        self.last_task = last_task


def _first_out(readings: Sequence[Reading]) -> Reading | None:
    """Return the clock that must be met first, of those that run."""
    return min(readings, key=lambda r: r.reconnect_by_s or 0, default=None)
