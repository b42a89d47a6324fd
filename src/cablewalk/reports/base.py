"""What every part of a report shares: strictness, and times in both clocks."""

from __future__ import annotations

from collections.abc import Callable

from pydantic import BaseModel, ConfigDict, Field

from cablewalk.schedule.order import Timed
from cablewalk.units import clock, clock_down, clock_up, minutes
from cablewalk.walk.trace import Trace

REPORT_VERSION = 1
"""The version of every report's fields."""


class Part(BaseModel):
    """A frozen part of a report; numbers are finite. Times ``_min`` are minutes.

    A moment in ``_min`` is mission elapsed time: 0 is PET 0:00 of the first phase, and it runs
    on through the gaps between phases.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        defer_build=True,
    )


class Pet(Part):
    """A moment in phase elapsed time."""

    phase: str = Field(description="Id of the procedure whose clock this is.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    pet: str = Field(
        description="Phase elapsed time, H:MM, to the nearest minute; may be negative."
    )


def pet_at(trace: Trace, time_s: int, phase: int | None = None) -> Pet:
    """Return mission elapsed seconds as phase elapsed time.

    Args:
        trace: a replay with at least one phase.
        time_s: mission elapsed seconds.
        phase: the phase whose clock to use; else the last that has started by then (the gap
            after a phase is on its clock), or the first.
    """
    return _told(trace, time_s, phase, clock)


def pet_or_none(trace: Trace, time_s: int | None, phase: int | None = None) -> Pet | None:
    """Return :func:`pet_at`, or None for no moment."""
    return None if time_s is None else pet_at(trace, time_s, phase)


def deadline_or_none(trace: Trace, time_s: int | None, phase: int | None = None) -> Pet | None:
    """Return a moment by which something must be, rounded down, or None for none.

    Nobody may be told half a minute too many.
    """
    return None if time_s is None else _told(trace, time_s, phase, clock_down)


def back_or_none(trace: Trace, time_s: int | None, phase: int | None = None) -> Pet | None:
    """Return a moment at which something is there again, rounded up, or None for none.

    Nobody may be told that it is there half a minute before it is.
    """
    return None if time_s is None else _told(trace, time_s, phase, clock_up)


def _told(trace: Trace, time_s: int, phase: int | None, told: Callable[[int], str]) -> Pet:
    if phase is None:
        started = [n for n, timed in enumerate(trace.phases) if timed.start_s <= time_s]
        phase = started[-1] if started else 0
    timed = trace.phases[phase]
    return Pet(phase=procedure_id(timed), phase_number=phase + 1, pet=told(time_s - timed.zero_s))


def min_or_none(time_s: int | None) -> float | None:
    """Return seconds as minutes, or None for none."""
    return None if time_s is None else minutes(time_s)


def procedure_id(timed: Timed) -> str:
    """Return the id of the procedure of a phase."""
    return timed.plan.procedure.procedure


def phase_end_s(trace: Trace, phase: int) -> int:
    """Return when a phase ends, or where the replay stopped in it. Mission elapsed seconds."""
    last = trace.stopped and phase == len(trace.phases) - 1
    return trace.end_s if last else trace.phases[phase].end_s
