"""Replays of one sampled order, from scratch: where what is possible depends on the order."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

from cablewalk.continuity.services import State
from cablewalk.orders.course import DOWN, GONE, SEEN, UP, Course
from cablewalk.orders.network import Happened, Network, Replayed
from cablewalk.replay.configuration import ALIVE, RETIRED
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import Timed, time_phase
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.account import Account
from cablewalk.units import seconds
from cablewalk.walk.fold import Fold
from cablewalk.walk.trace import Trace, View
from cablewalk.walk.watch import TOUCHING

BREAKING: Final = TOUCHING | {"found"}
"""Verbs whose beginning breaks the joins of what they are at work on."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one order that was replayed came to."""

    courses: tuple[Course, ...]
    """What became of each service asked about."""
    refused: frozenset[int]
    """Numbers of the tasks that were impossible."""


def as_replayed(trace: Trace, network: Network) -> Replayed:
    """Return a replay as the orders room takes it."""
    return Replayed(
        trace.start,
        tuple(view.life for view in trace.start_views),
        tuple(view.state is State.DOWN for view in trace.start_views),
        tuple(
            Happened(
                network.event(event.task, event.begins),
                event.changes,
                tuple((s.service, s.after.state is State.DOWN) for s in event.shifts),
            )
            for event in trace.events
        ),
    )


def replay_sample(
    account: Account, network: Network, durations_s: Sequence[int]
) -> tuple[list[Timed], Trace]:
    """Replay the plan with other durations; what is impossible is skipped.

    Args:
        account: the replay with likely durations.
        network: its tasks.
        durations_s: seconds each task lasts, by number.
    """
    start = account.trace.start.copy()
    trace = Trace(account.trace.wiring, start.copy(), ())
    fold = Fold(trace, start, True)
    phases: list[Timed] = []

    def duration(task: Task) -> int:
        return durations_s[network.number(task)]

    at = account.trace.phases[0].start_s
    for phase, plan in enumerate(network.plans):
        if phase:
            at = phases[-1].end_s + seconds(plan.procedure.gap_min or 0)
        timed = time_phase(plan, network.before[phase], at, duration)
        phases.append(timed)
        for moment in timed.moments:
            fold.moment(moment, plan)
    trace.phases = phases
    trace.end_s = phases[-1].end_s
    return phases, trace


def outcome(
    trace: Trace, network: Network, services: Sequence[int], verified: Collection[int] = ()
) -> Outcome:
    """Return what became of services in an order that was replayed.

    ``verified``: the services of which it matters when they are first verified.
    """
    return Outcome(
        tuple(_course(trace, network, n, n in verified) for n in services),
        frozenset(network.number(refused.task) for refused in trace.refused),
    )


def _down(view: View) -> bool:
    return view.life == ALIVE and view.state is State.DOWN


def _course(trace: Trace, network: Network, service: int, verifies: bool) -> Course:
    view = trace.start_views[service]
    was_down = _down(view)
    turns = [(NONE, DOWN)] if was_down else []
    breaks = []
    row = trace.wiring.services[service]
    strings = frozenset(row.strings)
    for event in trace.events:
        number = network.event(event.task, event.begins)
        if not strings.isdisjoint(event.joins_broken):
            breaks.append(number)
        for shift in event.shifts:
            if shift.service != service:
                continue
            view = shift.after
            if view.life == RETIRED:
                if not turns or turns[-1][1] != GONE:
                    turns.append((number, GONE))
            elif _down(view) != was_down:
                turns.append((number, UP if was_down else DOWN))
            was_down = _down(view)
        shows = verifies and not event.begins and event.task.action.verify == row.id
        if shows and view.life == ALIVE and not was_down:
            verifies = False
            turns.append((number, SEEN))
    return Course(tuple(turns), tuple(breaks))
