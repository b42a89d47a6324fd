"""The engine of the spread: what becomes of every service in many runs at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from cablewalk.orders.conflicts import find_conflicts
from cablewalk.orders.course import Course, course
from cablewalk.orders.joinable import Joinable
from cablewalk.orders.network import Network
from cablewalk.orders.support import Support
from cablewalk.orders.table import Table, Tables, TooMany
from cablewalk.timeline.account import Account
from cablewalk.timeline.handed import handed
from cablewalk.timeline.spread_courses import Grouping, Judge, Rows
from cablewalk.timeline.spread_dark import Backs, Facts, Part, outages_of
from cablewalk.timeline.spread_replay import (
    BREAKING,
    Outcome,
    as_replayed,
    outcome,
    replay_sample,
)
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.timeline.spread_times import Times
from cablewalk.units import seconds

ORDERS_AT_MOST: Final = 300
"""Orders replayed whole, where what is possible depends on who is first; then it is given up."""


@dataclass(frozen=True, slots=True)
class Told:
    """The outages of one service in some runs."""

    facts: Facts
    course: Course
    part: Part
    still_s: Seconds | None = None
    """How much longer an outage that is not back lasts, reconnected at the end; None: all are."""


class Engine:
    """Judges runs of a plan, each in its own order.

    Attributes:
        account: the replay with likely durations.
        network: its tasks and events.
        not_judged: services whose table would be too large: judged along the likely order only.
        refused: task to the number of runs in which it is impossible.
        given_up: runs whose order was not replayed, for there were too many orders.
        mixed: services that conflicting work touches: those runs say nothing of them.
    """

    def __init__(self, account: Account) -> None:
        """``account``: a replay with at least one phase that did not stop."""
        self.account = account
        trace = account.trace
        self.network = Network(trace.phases)
        self.not_judged: list[int] = []
        self.refused: dict[int, int] = {}
        self.given_up = 0
        self._replays = 0
        self._shortest = [task.durations_s[0] for task in self.network.tasks]
        replayed = as_replayed(trace, self.network)
        self._order = [
            self.network.event(moment.task, moment.begins)
            for timed in trace.phases
            for moment in timed.moments
        ]
        conflicts = find_conflicts(replayed, self.network, self._order)
        self.variable = conflicts.variable
        joinable = Joinable(replayed, [self.network.tasks[k] for k in sorted(self.variable)])
        self._tables = Tables(replayed, self.network, Support(joinable), BREAKING)
        names = trace.wiring.services
        self._held = {s.service: s.said == names[s.service].id for s in account.outages if s.said}
        """Services held dark at the start, and whether the baseline says so of them themselves."""
        self._lagging = self._late_back()
        # What a service needs is told before it.
        self._facts = [self._fact(n) for n in trace.wiring.service_order]
        self._judges: list[tuple[Facts, Judge[Course] | Course]] = []
        """Services with what tells their courses, or with the one course they have in all runs."""
        mixed: list[Facts] = []
        events: set[int] = set()
        for facts in self._facts:
            touching = sorted({*self._tables.touching(facts.service), *self._verifies(facts)})
            if self.variable.isdisjoint(self._asked(touching)):
                self._add(facts, touching)
            else:
                mixed.append(facts)
                events.update(touching)
        self._mixed = mixed
        self.mixed = [facts.service for facts in mixed]
        self._whole: Judge[Outcome | None] | None = None
        if self.variable:
            for task in self.variable:
                events |= {2 * task, 2 * task + 1}
            grouping = Grouping(self.network, sorted(events), self._shortest)
            self._whole = Judge(grouping, self._replay)

    def _asked(self, events: Sequence[int]) -> set[int]:
        return {event >> 1 for event in events}

    def _verifies(self, facts: Facts) -> set[int]:
        """Return the verifies that may end a service's being held dark: its own, or of others."""
        found: set[int] = set()
        if facts.is_said:
            found.update(self._tables.verifying(facts.service))
        for need in facts.held_by:
            found |= self._verifies(self._fact(need))
        return found

    def _late_back(self) -> set[int]:
        """Return the services that are back later than what restores them."""
        wiring = self.account.trace.wiring
        late: set[int] = set()
        for n in wiring.service_order:
            row = wiring.services[n]
            if row.recovery_s or not late.isdisjoint(row.needs) or n in self._held:
                late.add(n)
        return late

    def _fact(self, number: int) -> Facts:
        baseline = self.account.ground.baseline
        row = self.account.trace.wiring.services[number]
        is_said, is_held = self._held.get(number, False), number in self._held
        return Facts(
            number,
            row.recovery_s,
            tuple(need for need in row.needs if need in self._lagging),
            seconds(baseline.now.dark_min.get(row.id, 0)),
            handed(baseline, row.id),
            baseline.services[row.id].clocks,
            is_said,
            tuple(n for n in row.needs if n in self._held) if is_held and not is_said else (),
        )

    def _add(self, facts: Facts, events: list[int]) -> None:
        """Make the table of a service, and what tells its course by it."""
        breaks = any(clock.starts == "demate" for clock in facts.clocks)
        verifies = self._tables.verifying(facts.service) if facts.is_said else []
        if not facts.is_said:
            events = self._tables.touching(facts.service)
        try:
            table = self._tables.table(facts.service, events, breaks, verifies)
        except TooMany:
            place = {event: n for n, event in enumerate(self._order)}
            events = sorted(events, key=place.__getitem__)
            table = self._tables.along(facts.service, events, breaks, verifies)
            self._judges.append((facts, course(table, range(len(events)))))
            self.not_judged.append(facts.service)
            return
        table = table.without(table.inert())
        if not table.events:
            only = course(table, ())
            if only.turns or facts.is_held:
                self._judges.append((facts, only))
            return
        grouping = Grouping(self.network, table.events, self._shortest)
        self._judges.append((facts, Judge(grouping, _by_table(table))))

    def _replay(self, times: Times, run: int, order: tuple[int, ...]) -> Outcome | None:
        """Replay the order of one run whole."""
        if self._replays == ORDERS_AT_MOST:
            return None
        self._replays += 1
        moments = [int(row[run]) for row in times.events]
        durations = [end - begin for begin, end in zip(moments[::2], moments[1::2], strict=True)]
        _, trace = replay_sample(self.account, self.network, durations)
        verified = {n for n, is_said in self._held.items() if is_said}
        return outcome(trace, self.network, self.mixed, verified)

    def told(self, times: Times) -> Iterator[Told]:
        """Yield the outages of every service; for each service the parts are all runs."""
        backs = Backs(times.runs)
        needed = {need for facts in self._facts for need in facts.needs}

        def parts(facts: Facts, course: Course, rows: Rows) -> Iterator[Told]:
            for part in outages_of(course, facts, times, rows, backs):
                if facts.service in needed:
                    backs.note(facts, part, times)
                is_open = bool(part.outages) and part.outages[-1].to_s is None
                still = backs.still_s(facts, part) if is_open else None
                yield Told(facts, course, part, still)

        for facts, judge in self._judges:
            if isinstance(judge, Course):
                yield from parts(facts, judge, times.everyone)
                continue
            for rows, found in judge.courses(times):
                yield from parts(facts, found, rows)
        if self._whole is None:
            return
        for rows, result in self._whole.courses(times):
            if result is None:
                self.given_up += rows.size
                continue
            for task in result.refused:
                self.refused[task] = self.refused.get(task, 0) + rows.size
            for facts, found in zip(self._mixed, result.courses, strict=True):
                yield from parts(facts, found, rows)


def _by_table(table: Table) -> Callable[[Times, int, tuple[int, ...]], Course]:
    """Return what works a course out by a table."""
    bit = {event: n for n, event in enumerate(table.events)}

    def work_out(times: Times, run: int, order: tuple[int, ...]) -> Course:
        return course(table, [bit[event] for event in order])

    return work_out
