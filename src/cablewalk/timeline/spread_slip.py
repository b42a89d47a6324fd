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

    All else lasts as likely; one action of the step lasts longer. Which one matters where the
    service goes down or comes back within the step: each is tried, and of a step the most that it
    does to an outage is told. Each case is judged in its own order.
    """
    network = engine.network
    likely = np.array([task.durations_s[LIKELY] for task in network.tasks], np.int32)
    durations = np.repeat(likely[:, np.newaxis], likely.size + 1, axis=1)
    late = np.arange(likely.size)
    durations[late, late + 1] += slip_s
    times = times_of(network, engine.account.trace.phases, durations)
    lasted: dict[Key, dict[int, int]] = {}
    for told in engine.told(times):
        for dark in told.part.outages:
            row = lasted.setdefault((told.facts.service, dark.lost), {})
            spans = dark.lasted(times.of(times.end, told.part.rows))
            row.update(zip(told.part.rows.tolist(), spans.tolist(), strict=True))
    found = []
    for key, by_column in sorted(lasted.items()):
        most: dict[tuple[int, int], int] = {}
        for column, task in enumerate(network.tasks, start=1):
            grows = by_column.get(column, 0) - by_column.get(0, 0)
            step = task.phase, task.step
            if (grows > 0, abs(grows)) > (most.get(step, 0) > 0, abs(most.get(step, 0))):
                most[step] = grows
        found += [
            Slip(phase, step, key, grows, 0 not in by_column)
            for (phase, step), grows in most.items()
        ]
    return found
