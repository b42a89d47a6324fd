"""Slips: how much longer each outage gets if a step takes ten minutes more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from cablewalk.schedule.order import LIKELY
from cablewalk.timeline.spread import Key
from cablewalk.timeline.spread_engine import Engine
from cablewalk.timeline.spread_times import times_of

SLIP_S: Final = 600


@dataclass(frozen=True, slots=True)
class Slip:
    """What one step's slip does to one outage.

    ``grows_s`` is how much longer it lasts; the whole of it where it would not occur else.
    """

    phase: int
    step: int
    outage: Key
    grows_s: int
    new: bool


def slips(engine: Engine, slip_s: int = SLIP_S) -> list[Slip]:
    """Return every slip that lengthens, shortens or brings about an outage.

    All else lasts as likely; the last action of the step lasts longer. Each case is judged in
    its own order.
    """
    network = engine.network
    late = [
        (phase, step.position, network.number(step.tasks[-1]))
        for phase, plan in enumerate(network.plans)
        for step in plan.steps
        if step.tasks
    ]
    likely = np.array([task.durations_s[LIKELY] for task in network.tasks], np.int32)
    durations = np.repeat(likely[:, np.newaxis], len(late) + 1, axis=1)
    for column, (_, _, task) in enumerate(late, start=1):
        durations[task, column] += slip_s
    times = times_of(network, engine.account.trace.phases, durations)
    lasted: dict[Key, dict[int, int]] = {}
    for told in engine.told(times):
        for dark in told.part.outages:
            row = lasted.setdefault((told.facts.service, dark.lost), {})
            spans = dark.lasted(times.end[told.part.rows])
            row.update(zip(told.part.rows.tolist(), spans.tolist(), strict=True))
    found = []
    for key, by_column in sorted(lasted.items()):
        for column, (phase, step, _) in enumerate(late, start=1):
            grows = by_column.get(column, 0) - by_column.get(0, 0)
            if grows:
                found.append(Slip(phase, step, key, grows, 0 not in by_column))
    return found
