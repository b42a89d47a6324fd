"""Clocks as they run at a moment, read off the rows of the report of outages."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from cablewalk.reports.outage import ClockRow, OutageRow
from cablewalk.units import clock, clock_down, clock_up, seconds


@dataclass(frozen=True, slots=True)
class Running:
    """A service that is dark at a moment. Minutes."""

    service: str
    label: str
    dark_min: float
    allowed_min: float | None
    """None: no clock is given for this service."""
    left_min: float | None
    source: str = ""
    number: int = 0
    """Position of the outage in the report, from 0."""

    @property
    def words(self) -> str:
        """How long it is dark, what is allowed, what is left."""
        dark = f"{used_h_mm(self.dark_min)} dark"
        if self.left_min is None or self.allowed_min is None:
            return f"{dark}, no clock given"
        left = (
            f"{left_h_mm(self.left_min)} left"
            if self.left_min >= 0
            else f"{used_h_mm(-self.left_min)} OVER"
        )
        return f"{dark} of {h_mm(self.allowed_min)} allowed, {left}"

    @property
    def used_percent(self) -> float:
        """How much of the allowed minutes is used, 0 to 100."""
        if self.left_min is None or not self.allowed_min:
            return 0.0
        return max(0.0, min(100.0, 100 * (1 - self.left_min / self.allowed_min)))


def h_mm(minutes: float) -> str:
    """Return minutes as ``H:MM``."""
    return clock(seconds(minutes))


def used_h_mm(minutes: float) -> str:
    """Return minutes used, or over, as ``H:MM``, rounded up."""
    return clock_up(seconds(minutes))


def left_h_mm(minutes: float) -> str:
    """Return minutes left as ``H:MM``, rounded down."""
    return clock_down(seconds(minutes))


def running_at(outages: Sequence[OutageRow], at_min: float, down: Collection[str]) -> list[Running]:
    """Return every outage that lasts at a moment, the least left first.

    At the very minute power counts as back, it no longer lasts; at the very minute it begins, it
    does if ``down`` (the services down as the picture has it) names the service.
    """
    found = []
    for number, row in enumerate(outages):
        if row.from_min > at_min or (row.from_min == at_min and row.service not in down):
            continue
        if row.to_min is not None and row.to_min <= at_min:
            continue
        tightest = min(
            ((_left(each, at_min), each) for each in row.clocks), key=lambda p: p[0], default=None
        )
        found.append(
            Running(
                row.service,
                row.label,
                at_min - row.from_min,
                tightest[1].clock_min if tightest else None,
                tightest[0] if tightest else None,
                tightest[1].clock_source if tightest else "",
                number,
            )
        )
    return sorted(found, key=lambda r: (r.left_min is None, r.left_min or 0))


def _left(row: ClockRow, at_min: float) -> float:
    """Return the minutes left on a clock; it may not have begun to run (``starts: demate``)."""
    whole = row.clock_min - row.used_before_min
    if row.runs_out_min is None:
        return whole
    return min(whole, row.runs_out_min - at_min)
