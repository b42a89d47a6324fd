"""Clocks in many runs at once: what each outage uses of them.

The rules are those of :mod:`cablewalk.timeline.clocks`; a test holds the two against each other,
run by run.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from cablewalk.documents.service import Clock
from cablewalk.orders.course import Course
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.spread_courses import Rows
from cablewalk.timeline.spread_dark import Dark, Facts, Part
from cablewalk.timeline.spread_tally import Seconds
from cablewalk.timeline.spread_times import Times
from cablewalk.units import seconds


class Used(NamedTuple):
    """One clock at one outage, an entry a run. Seconds."""

    before_s: Seconds
    used_s: Seconds

    @property
    def total_s(self) -> Seconds:
        """All that is used, this outage included."""
        result: Seconds = self.before_s + self.used_s
        return result


def read(number: int, part: Part, course: Course, facts: Facts, times: Times) -> list[Used]:
    """Return what each outage of some runs uses of the clock at a position."""
    clock = facts.clocks[number]
    used = np.full(part.rows.size, facts.handed.used_s[number], np.int32)
    first = times.of(times.phase_start[0], part.rows)
    last_end: Seconds | None = first - np.int32(facts.handed.up_s)
    if part.outages and part.outages[0].lost == NONE:
        last_end = None
    found = []
    for dark in part.outages:
        reset = clock.resets_after_up_min
        if reset is not None and last_end is not None:
            used = np.where(dark.from_s - last_end >= seconds(reset), np.int32(0), used)
        end = times.of(times.end, part.rows) if dark.to_s is None else dark.to_s
        ran_s = facts.handed.ran_s(clock, facts.dark_s) if dark.lost == NONE else None
        if ran_s is not None:
            spent: Seconds = np.maximum(0, end - (first - np.int32(ran_s)))
        else:
            spent = _spent(clock, dark, course.breaks, end, times, part.rows)
        found.append(Used(used, spent))
        used = used + spent
        last_end = dark.to_s
    return found


def _spent(
    clock: Clock, dark: Dark, breaks: Sequence[int], end: Seconds, times: Times, rows: Rows
) -> Seconds:
    if clock.starts == "power_off":
        whole: Seconds = np.maximum(0, end - dark.from_s)
        return whole
    spent = np.zeros(rows.size, np.int32)
    running = np.zeros(rows.size, bool)
    for event in breaks:
        now = times.of(times.events[event], rows)
        inside = ~running & (now >= dark.from_s)
        if dark.to_s is not None:
            inside &= now < dark.to_s
        spent = np.where(inside, np.maximum(0, end - now), spent)
        running |= inside
    return spent
