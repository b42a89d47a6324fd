"""Get-aheads that still fit into what is left of the plan."""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.timeline.forecast import Ahead, Forecast, forecast
from cablewalk.walk.asrun_state import Tracked


@dataclass(frozen=True, slots=True)
class Extra:
    """A get-ahead, and whether it fits."""

    phase: int
    """Number of its phase, from 0."""
    id: str
    title: str
    adds_s: int
    """How much later its phase will be over with it."""
    why_not: str
    """Empty: it fits."""


def extras(tracked: Tracked, now_s: int, base: Forecast) -> list[Extra]:
    """Return the get-aheads not yet done, by phase and priority, each on top of those that fit.

    One fits when what it needs will hold, nothing becomes impossible, and no clock is exceeded,
    that were not without it, in its phase or a later one. Whether there is time for it is for
    people to say.
    """
    found: list[Extra] = []
    chosen: list[Ahead] = []
    so_far = base
    for n, coming in enumerate(base.phases):
        number, plan = coming.phase.number, coming.phase.plan
        done = {
            step.get_ahead
            for step in plan.steps
            if step.get_ahead and any(p == number and s == step.id for p, s, _ in tracked.answered)
        }
        for ahead in sorted(coming.phase.procedure.get_aheads, key=lambda a: a.priority):
            if ahead.id in done:
                continue
            tried = forecast(tracked, now_s, [*chosen, (number, ahead.id)])
            why = _why_not(tracked, tried, so_far, (number, ahead.id))
            adds = tried.phases[n].end_s - so_far.phases[n].end_s
            found.append(Extra(number, ahead.id, ahead.title, adds, why))
            if not why:
                chosen.append((number, ahead.id))
                so_far = tried
    return found


def _why_not(tracked: Tracked, tried: Forecast, base: Forecast, name: Ahead) -> str:
    if name in tried.not_when:
        return "what it needs will not hold"
    known = {(r.task.phase, r.task.step_id, r.task.verb, r.text) for r in base.refused}
    for refused in tried.refused:
        task = refused.task
        if (task.phase, task.step_id, task.verb, refused.text) not in known:
            later = "" if task.phase == name[0] else f" of {_procedure(tracked, task.phase)}"
            return f"step {task.step_id}{later} becomes impossible: {refused.text}"
    more = tried.exceeded - base.exceeded
    if more:
        services = tracked.ground.wiring.services
        return f"a clock is exceeded: {', '.join(sorted({services[s].id for s, _ in more}))}"
    return ""


def _procedure(tracked: Tracked, phase: int) -> str:
    return tracked.procedures[phase].procedure
