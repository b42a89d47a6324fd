"""Hands: walks timed as if they were empty."""

from __future__ import annotations

from cablewalk.findings import Finding, Severity
from cablewalk.replay.configuration import Configuration
from cablewalk.schedule.tasks import Plan, Task


def full_hands(config: Configuration, task: Task, plan: Plan) -> list[Finding]:
    """Return a finding for each worker who walks at free speed though holding something."""
    walk, procedure = task.action.walk, plan.procedure
    timed = task.action.minutes is not None or "walk" in procedure.minutes
    if walk is None or walk.carrying or timed or procedure.speed is None:
        return []
    items = config.wiring.items
    found = []
    for worker in task.workers:
        held = config.held_by(config.wiring.by_id[worker])
        if held:
            found.append(
                Finding(
                    "walk-loaded",
                    Severity.WARNING,
                    task.address,
                    f"{worker} walks to {walk.to} at free speed, holding "
                    f"{', '.join(items[i].id for i in held[:4])}",
                    expected=f"walk: {{to: {walk.to}, carrying: true}}",
                    difference="the minutes told are too few",
                    way_out="say 'carrying: true', give the walk its own minutes, or put it down",
                    step=task.step_id,
                    items=(items[held[0]].id,),
                )
            )
    return found
