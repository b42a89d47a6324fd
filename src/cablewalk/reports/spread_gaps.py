"""What sampling could not judge as it should, as reports tell it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from pydantic import Field

from cablewalk.reports.base import Part

if TYPE_CHECKING:  # it brings numpy, which a report without samples does not need
    from cablewalk.timeline.spread import Spread


class RefusedRow(Part):
    """An action that is impossible in some orders."""

    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="Id of the step.")
    verb: str = Field(description="What was to be done.")
    chance: float = Field(description="Share of the runs in which it is impossible.")


class Gaps(NamedTuple):
    """What was not judged, or not in its own order, because there were too many orders."""

    not_judged_in_own_order: tuple[str, ...] = ()
    impossible: tuple[RefusedRow, ...] = ()
    runs_given_up: int = 0
    given_up_services: tuple[str, ...] = ()


def gaps_of(found: Spread) -> Gaps:
    """Return what the search for orders gave up, and what is impossible in some orders."""
    engine, network = found.engine, found.network
    services = engine.account.trace.wiring.services
    refused = tuple(
        RefusedRow(
            phase=network.plans[network.tasks[k].phase].procedure.procedure,
            step=network.tasks[k].step_id,
            verb=network.tasks[k].verb,
            chance=count / found.runs,
        )
        for k, count in sorted(engine.refused.items())
    )
    return Gaps(
        tuple(services[n].id for n in engine.not_judged),
        refused,
        engine.given_up,
        tuple(services[n].id for n in engine.mixed) if engine.given_up else (),
    )


def error_of_a_share(runs: int) -> float:
    """Return the largest standard error that a share estimated from so many runs can have."""
    return 0.5 / math.sqrt(runs)
