"""The spread: how sure finishes, outages and clocks are, from best, likely and worst estimates."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cablewalk.orders.network import Event, Network
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import LIKELY
from cablewalk.schedule.tasks import Plan
from cablewalk.timeline.account import Account
from cablewalk.timeline.spread_clocks import read
from cablewalk.timeline.spread_engine import Engine, Told
from cablewalk.timeline.spread_tally import Tally, counted
from cablewalk.timeline.spread_times import Times, draw, slacks, streams, times_of
from cablewalk.units import seconds

CHUNK = 65536
"""Runs judged at once: many, for each order costs its calls whatever the number of its runs."""

Key = tuple[int, int]
"""(service, event that took it down): one outage in whatever runs it occurs."""


@dataclass(slots=True)
class OutageSpread:
    """One outage over the runs in which it occurs."""

    service: int
    lost: Event | None
    """None: it was down at the start."""
    lasted: Tally = field(default_factory=Tally)
    """Seconds dark, up to the end of the last phase where it is not back."""
    back_pet: Tally = field(default_factory=Tally)
    """When it is back, on the clock of the phase in which it was lost."""
    over: dict[int, int] = field(default_factory=dict)
    """Clock's position to the number of runs in which this outage overruns it."""

    @property
    def runs(self) -> int:
        """In how many runs it occurs."""
        return self.lasted.number

    @property
    def not_back(self) -> int:
        """In how many runs it lasts to the end."""
        return self.lasted.number - self.back_pet.number


@dataclass(slots=True)
class StepSpread:
    """One step over all runs."""

    slack: Tally = field(default_factory=Tally)
    begin_pet: Tally | None = None
    """When it begins; None unless a limit of the phase asks."""
    end_pet: Tally | None = None
    slack_likely_s: int = 0

    @property
    def critical(self) -> int:
        """Runs in which any delay of it delays its phase."""
        return self.slack.exactly(0)


@dataclass(slots=True)
class Spread:
    """What came of all runs. Times are whole seconds.

    Attributes:
        runs, seed: how many, and what the random numbers started from.
        shapes: for each phase, the distribution of its estimates.
        finish_pet: for each phase, when it is over on its own clock.
        outages: each outage that occurs in any run.
        over: (service, clock's position) to the runs in which any outage overruns it.
        steps: for each phase, its steps.
        judged: service to the number of runs in which it was judged.
    """

    engine: Engine
    runs: int
    seed: int
    shapes: tuple[str, ...]
    finish_pet: list[Tally]
    steps: list[list[StepSpread]]
    outages: dict[Key, OutageSpread] = field(default_factory=dict)
    over: dict[tuple[int, int], int] = field(default_factory=dict)

    @property
    def network(self) -> Network:
        """The tasks and events."""
        return self.engine.network


def spread(
    account: Account,
    shapes: Sequence[str],
    runs: int,
    seed: int,
    progress: Callable[[int], None] | None = None,
) -> Spread:
    """Return the spread of a plan, every run judged in its own order.

    Args:
        account: a replay of at least one phase that did not stop.
        shapes: ``beta`` or ``triangular`` for each phase.
        runs: how many samples, at least 1.
        seed: what the random numbers start from; the same seed gives the same result.
        progress: told the number of runs done, now and then.
    """
    engine = Engine(account)
    network, phases = engine.network, account.trace.phases
    found = Spread(
        engine,
        runs,
        seed,
        tuple(shapes),
        [Tally() for _ in phases],
        [_steps(timed.plan) for timed in phases],
    )
    likely = np.array([[task.durations_s[LIKELY]] for task in network.tasks], np.int32)
    nominal = times_of(network, phases, likely.reshape(-1, 1))
    for phase, rows in enumerate(found.steps):
        for step, slack in zip(rows, slacks(network, nominal, phase), strict=True):
            step.slack_likely_s = int(slack[0])
    sources = streams(network, seed)
    done, drawn = 0, None
    while done < runs:
        size = min(CHUNK, runs - done)
        drawn = draw(network, shapes, size, sources, drawn)
        times = times_of(network, phases, drawn, consumed=True)
        _finishes(found, times)
        for told in engine.told(times):
            _outages(found, told, times)
        done += size
        if progress is not None:
            progress(done)
    return found


def _steps(plan: Plan) -> list[StepSpread]:
    """Return the steps of a phase, with room for what its limits ask of them."""
    limits = plan.procedure.phase_limits
    back = {limits.turn_back.step} if limits and limits.turn_back else set()
    decided = {decision.step for decision in limits.decisions} if limits else set()
    return [
        StepSpread(
            begin_pet=Tally() if step.id in back else None,
            end_pet=Tally() if step.id in decided else None,
        )
        for step in plan.steps
    ]


def _finishes(found: Spread, times: Times) -> None:
    for phase, tally in enumerate(found.finish_pet):
        zero = times.zero[phase]
        tally.add(times.phase_end[phase] - zero)
        # Steps that share their slack are counted once.
        known: dict[int, tuple[int, NDArray[np.int64]]] = {}
        rooms = slacks(found.network, times, phase)
        for n, (step, room) in enumerate(zip(found.steps[phase], rooms, strict=True)):
            if id(room) not in known:
                known[id(room)] = counted(room)
            step.slack.merge(*known[id(room)])
            if step.begin_pet is not None:
                step.begin_pet.add(times.step_start[phase][n] - zero)
            if step.end_pet is not None:
                step.end_pet.add(times.step_end[phase][n] - zero)


def _outages(found: Spread, told: Told, times: Times) -> None:
    facts, part = told.facts, told.part
    events = found.network.events
    for dark in part.outages:
        row = found.outages.setdefault(
            (facts.service, dark.lost),
            OutageSpread(facts.service, None if dark.lost == NONE else events[dark.lost]),
        )
        end = dark.to_s if dark.to_s is not None else times.of(times.end, part.rows)
        row.lasted.add(end - dark.from_s)
        if dark.to_s is not None:
            phase = row.lost.task.phase if row.lost else 0
            row.back_pet.add(dark.to_s - times.of(times.zero[phase], part.rows))
    for k, clock in enumerate(facts.clocks):
        allowed = seconds(clock.allowed_min)
        any_over = np.zeros(part.rows.size, bool)
        for dark, used in zip(part.outages, read(k, part, told.course, facts, times), strict=True):
            total = used.total_s
            if dark.to_s is None and told.still_s is not None:
                # As if it were reconnected at the end, where its clock runs.
                total = total + np.where(used.used_s > 0, told.still_s, 0)
            over = total > allowed
            counts = found.outages[(facts.service, dark.lost)].over
            counts[k] = counts.get(k, 0) + int(np.count_nonzero(over))
            any_over |= over
        key = (facts.service, k)
        found.over[key] = found.over.get(key, 0) + int(np.count_nonzero(any_over))
