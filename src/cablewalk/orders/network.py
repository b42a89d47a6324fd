"""The network: every beginning and ending of a replay, and which must come before which."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from cablewalk.findings import Findings
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.schedule.order import Timed, predecessors
from cablewalk.schedule.tasks import Plan, Task


@dataclass(frozen=True, slots=True)
class Event:
    """A task that begins or ends. ``number`` is its position in the network."""

    number: int
    task: Task
    begins: bool


@dataclass(frozen=True, slots=True)
class Happened:
    """An event as it went in the order that was replayed."""

    event: int
    changes: tuple[Change, ...]
    down: tuple[tuple[int, bool], ...] = ()
    """Services whose state it altered, and whether they are down after it."""


@dataclass(frozen=True, slots=True)
class Replayed:
    """One order of the events that was replayed: what all others are measured against."""

    start: Configuration
    lives: tuple[int, ...]
    """The life of each service at the start, those come alive at once included."""
    down: tuple[bool, ...]
    """Whether each service's strings leave it down at the start."""
    happened: tuple[Happened, ...]


class Network:
    """All phases of a replay as one partial order.

    Tasks are numbered by phase, then by serial; task ``k`` begins as event ``2k`` and ends as
    event ``2k + 1``. All of a phase comes before the next.

    Attributes:
        plans: the plan of each phase.
        before: for each phase, the steps that each step waits for.
        tasks: all tasks; first: for each phase, the number of its first task.
        events: all events.
        earlier: for each event, the events that must come before it, as a set of bits.
    """

    def __init__(self, phases: Sequence[Timed]) -> None:
        self.plans: list[Plan] = [timed.plan for timed in phases]
        self.before: list[list[set[int]]] = []
        self.tasks: list[Task] = []
        self.first: list[int] = []
        for plan in self.plans:
            needs = predecessors(plan, Findings())
            assert needs is not None, "the plan was replayed, so it can be ordered"
            self.before.append(needs)
            self.first.append(len(self.tasks))
            self.tasks.extend(plan.tasks())
        self.events = [
            Event(2 * k + end, task, not end) for k, task in enumerate(self.tasks) for end in (0, 1)
        ]
        self.earlier = self._earlier()

    def number(self, task: Task) -> int:
        """Return the number of a task."""
        return self.first[task.phase] + task.serial

    def event(self, task: Task, begins: bool) -> int:
        """Return the number of a task's beginning or ending."""
        return 2 * self.number(task) + (not begins)

    @cached_property
    def topological(self) -> list[list[int]]:
        """For each phase, its steps so ordered that what must end first comes first."""
        return [list(_topological(needs)) for needs in self.before]

    @cached_property
    def after(self) -> list[list[list[int]]]:
        """For each phase, the steps that wait for each step."""
        found: list[list[list[int]]] = []
        for needs in self.before:
            waiting: list[list[int]] = [[] for _ in needs]
            for step, each in enumerate(needs):
                for need in each:
                    waiting[need].append(step)
            found.append(waiting)
        return found

    def _earlier(self) -> list[int]:
        earlier = [0] * len(self.events)
        past = 0
        for phase, plan in enumerate(self.plans):
            upto = [0] * len(plan.steps)
            """Step to all events that have happened when it is over."""
            for n in self.topological[phase]:
                seen = past
                for need in self.before[phase][n]:
                    seen |= upto[need]
                for task in plan.steps[n].tasks:
                    for event in (self.event(task, True), self.event(task, False)):
                        earlier[event] = seen
                        seen |= 1 << event
                upto[n] = seen
            for task in plan.tasks():
                past |= 3 << (2 * self.number(task))
        return earlier

    def apart(self, a: int, b: int) -> bool:
        """Return whether neither of two events must come before the other."""
        return a != b and not (self.earlier[a] >> b & 1 or self.earlier[b] >> a & 1)

    def tasks_apart(self, a: int, b: int) -> bool:
        """Return whether neither of two tasks must be over before the other begins."""
        if a == b:
            return False
        return not (
            self.earlier[2 * a] >> (2 * b + 1) & 1 or self.earlier[2 * b] >> (2 * a + 1) & 1
        )

    def pairs_apart(self, events: Sequence[int]) -> list[tuple[int, int]]:
        """Return the pairs among ``events`` that may happen in either order."""
        return [(a, b) for n, a in enumerate(events) for b in events[n + 1 :] if self.apart(a, b)]


def _topological(needs: Sequence[set[int]]) -> Iterator[int]:
    left = [len(each) for each in needs]
    follows: list[list[int]] = [[] for _ in needs]
    for n, each in enumerate(needs):
        for need in each:
            follows[need].append(n)
    ready = [n for n, count in enumerate(left) if count == 0]
    while ready:
        step = ready.pop()
        yield step
        for other in follows[step]:
            left[other] -= 1
            if left[other] == 0:
                ready.append(other)


def bits(mask: int) -> Iterator[int]:
    """Yield the positions of the bits set, the lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low
