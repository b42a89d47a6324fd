"""The report of ``cablewalk replay``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.standing import ServiceRow, service_rows
from cablewalk.reports.step import StepRow
from cablewalk.reports.steps import step_rows
from cablewalk.timeline.account import Account, believed
from cablewalk.timeline.spells import start_s


class ReplayReport(Report):
    """Every step in time order: what it did to the hardware and to the services."""

    report: Literal["replay"] = Field(description="Which report this is.")
    steps: tuple[StepRow, ...] = Field(
        description="The steps, phase by phase, by the time they begin."
    )
    services_at_start: tuple[ServiceRow, ...] = Field(description="The services as it begins.")
    services_at_end: tuple[ServiceRow, ...] = Field(
        description="The services as it ends, or where it stopped."
    )


def replay_report(account: Account, sources: Sequence[Source]) -> ReplayReport:
    """Return the report of a replay with at least one phase; ``sources``: the baseline's first."""
    trace = account.trace
    begun = believed(account, trace.start_views, start_s(trace))
    ended = believed(account, trace.end_views, trace.end_s)
    return ReplayReport(
        **heading(account, sources),
        report="replay",
        steps=step_rows(account),
        services_at_start=service_rows(account, begun),
        services_at_end=service_rows(account, ended),
    )
