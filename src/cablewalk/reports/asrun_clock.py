"""Clocks that run now: services that are down, or do not count as back yet."""

from __future__ import annotations

from pydantic import Field

from cablewalk.continuity.services import State
from cablewalk.reports.asrun_log import utc_text
from cablewalk.reports.base import Part
from cablewalk.reports.outage import OutageRow, outage_rows
from cablewalk.timeline.account import Account
from cablewalk.timeline.asrun import is_upheld
from cablewalk.units import clock_down, clock_up, minutes
from cablewalk.walk.asrun_state import Tracked


class RunningClock(Part):
    """A service that is down, or does not count as back yet, and its tightest clock as it runs."""

    outage: OutageRow = Field(description="The outage.")
    dark_min: float = Field(description="Minutes it has been down, up to now.")
    since_before: bool = Field(description="It was dark already before this log's first phase.")
    reconnect_by_pet: str | None = Field(
        description="Reconnect no later than, on the clock of the phase begun last, rounded down "
        "to the minute; null where it has no clock, or is reconnected."
    )
    reconnect_by_utc: str | None = Field(description="That moment, UTC; or null.")
    left_min: float | None = Field(description="Minutes from now until then; or null.")
    reconnected: bool = Field(
        description="It is reconnected and recovers: nothing is left to do but to wait."
    )
    back_pet: str | None = Field(
        description="When it counts as back, on the clock of the phase begun last, rounded up to "
        "the minute; null: it is not reconnected."
    )
    why: str = Field(
        description="Why it is not up, or does not count as back, shortly: it recovers, is held "
        "dark until verified or found up, needs another that is down, or what its joins lack."
    )
    margin_min: float | None = Field(
        description="Of one that is reconnected, minutes from when it counts as back until its "
        "clock runs out; negative: exceeded; or null."
    )

    @property
    def in_hand_min(self) -> float | None:
        """Minutes in hand: until it must be reconnected, or as it counts as back."""
        return self.margin_min if self.reconnected else self.left_min


def running_clocks(tracked: Tracked, account: Account, now_s: int) -> tuple[RunningClock, ...]:
    """Return every service that is down or recovers, at a moment, mission elapsed seconds."""
    found = []
    zero_s = tracked.phases[-1].zero_s
    rows = [
        row
        for row in outage_rows(account)
        if not row.retired and (row.to_min is None or row.to_min > minutes(now_s))
    ]
    running = {row.service for row in rows}
    for row in rows:
        reconnected = row.to_min is not None
        by = None if reconnected else row.reconnect_by_min
        by_s = None if by is None else round(by * 60)
        found.append(
            RunningClock(
                outage=row,
                dark_min=minutes(now_s - round(row.from_min * 60)),
                since_before=row.at_start and not is_upheld(tracked, row.service),
                reconnect_by_pet=None if by_s is None else clock_down(by_s - zero_s),
                reconnect_by_utc=None if by_s is None else utc_text(tracked.zero_utc_s + by_s),
                left_min=None if by_s is None else minutes(by_s - now_s),
                reconnected=reconnected,
                back_pet=None if row.to_min is None else clock_up(round(row.to_min * 60) - zero_s),
                why=_why(tracked, row, running),
                margin_min=None
                if row.to_min is None or row.runs_out_min is None
                else round(row.runs_out_min - row.to_min, 4),
            )
        )
    return tuple(found)


def _why(tracked: Tracked, row: OutageRow, running: set[str]) -> str:
    """Return in a few words why a service is not up; ``running``: those of which that is so."""
    fold, services = tracked.fold, tracked.ground.wiring.services
    n = tracked.ground.wiring.service_by_id[row.service]
    states = fold.states()
    needed = [services[m].id for m in services[n].needs if services[m].id in running]
    down = [name for m in services[n].needs if (name := services[m].id) in needed
            and states[m] is State.DOWN]  # fmt: skip
    if row.to_min is not None:
        return f"recovering, after {' and '.join(needed)}" if needed else "recovering"
    if n in fold.said_down:
        seen = row.service in tracked.ground.baseline.now.found_down or any(
            row.service in (p.task.action.found or {}) and p.entry.outcome == "found"
            for p in tracked.played
        )
        since = "found down" if seen else "handed over dark"
        return f"{since}: held so until it is verified or found up"
    if down:
        are = "is" if len(down) == 1 else "are"
        return f"it needs {' and '.join(down)}, which {are} down"
    if needed:
        return f"it needs {' and '.join(needed)}, not back yet"
    # Of several things that are amiss the first: 'cablewalk replay' and 'trace' tell all.
    return fold.continuity.why_down(n).partition("; ")[0]
