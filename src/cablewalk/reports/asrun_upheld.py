"""Services up against their joins as left: what a baseline cannot say, and somebody owes."""

from __future__ import annotations

from pydantic import Field

from cablewalk.reports.asrun_log import number
from cablewalk.reports.base import Part
from cablewalk.timeline.up_against_joins import against_joins
from cablewalk.walk.asrun_state import Tracked


class UpheldRow(Part):
    """A service that is up as left because it was seen so; by its joins it is down."""

    service: str = Field(description="Id of the service.")
    seen: str = Field(
        description="Number of the entry by which it was found up; empty: it was not itself, it "
        "stands by one it needs."
    )
    needs: tuple[str, ...] = Field(description="Those it needs that are so too.")
    why_down: str = Field(description="What has it down by its joins.")


def upheld(tracked: Tracked) -> tuple[UpheldRow, ...]:
    """Return every service that is up as left against its joins, or by one that is."""
    fold, services = tracked.fold, tracked.ground.wiring.services
    found = against_joins(fold.config, fold.views)
    return tuple(
        UpheldRow(
            service=services[n].id,
            seen=_seen(tracked, services[n].id) if n in fold.said_up else "",
            needs=tuple(services[m].id for m in services[n].needs if m in found),
            why_down=why,
        )
        for n, why in found.items()
    )


def _seen(tracked: Tracked, service: str) -> str:
    """Return the number of the last entry by which a service was found up."""
    acted = ((e.key, e.action) for e in tracked.effective.entries if e.action is not None)
    seen = [key for key, action in acted if service in (action.found or {})]
    return number(seen[-1] if seen else None)
