"""Losses: which are planned, and what is said of those that are not."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.findings import Finding, Severity
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.walk.trace import Reason


def is_planned(plan: Plan, task: Task, service: str) -> bool:
    """Return whether the step or its procedure says that this service may go down."""
    step = plan.steps[task.step].document
    return service in step.loses or service in plan.procedure.planned_outages


def unplanned(task: Task, service: str, reasons: Sequence[Reason]) -> Finding:
    """Return the finding that a service goes down and nothing plans it."""
    return Finding(
        "unplanned-loss",
        Severity.ERROR,
        task.address,
        f"{service} goes down, and nothing plans it",
        expected=f"{service} stays up, or the step says 'loses: {service}'",
        difference="; ".join(reason.text for reason in reasons),
        way_out=f"re-route {service} first, or plan the outage (loses, planned_outages)",
        step=task.step_id,
        items=(service,),
    )
