"""A scene: one configuration of a replay with all that is known of it, to ask questions of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cablewalk.continuity.live import Liveness
from cablewalk.continuity.services import Continuity
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import nearest
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import Wiring
from cablewalk.schedule.tasks import PlannedStep
from cablewalk.walk.trace import Trace, View


@dataclass(slots=True)
class Scene:
    """How everything stands at one moment. Nothing here is altered by a question."""

    baseline: Baseline
    config: Configuration
    views: tuple[View, ...]
    continuity: Continuity = field(init=False)
    live: Liveness = field(init=False)

    def __post_init__(self) -> None:
        self.continuity = Continuity(self.config)
        self.live = Liveness(self.config)

    @property
    def wiring(self) -> Wiring:
        """The hardware."""
        return self.config.wiring

    @property
    def under_way(self) -> list[int]:
        """The items that actions are at work on at this moment; their joins are doubtful."""
        return [n for n in range(len(self.wiring.items)) if self.config.moving(n)]


@dataclass(frozen=True, slots=True)
class Spot:
    """A step of a replay that is over, and how many events had happened by then."""

    phase: int
    step: str
    position: int
    time_s: int
    """When the step ends. Mission elapsed time."""


def find_spot(trace: Trace, procedures: Sequence[Procedure], text: str) -> Spot | str:
    """Return where a step is over, or a sentence that tells why that is not known.

    ``text`` is a step's id, or ``PROCEDURE/STEP`` where several procedures have a step of that id.
    """
    known = [
        (phase, step)
        for phase, procedure in enumerate(procedures)
        for step in (
            *(s.id for s in procedure.steps if s.mark is None),
            *(s.id for ahead in procedure.get_aheads for s in ahead.steps),
        )
    ]
    whole = {f"{procedures[phase].procedure}/{step}": (phase, step) for phase, step in known}
    found = [row for row in known if row[1] == text] or [row for row in [whole.get(text)] if row]
    if not found:
        names = [*whole] if "/" in text else list(dict.fromkeys(step for _, step in known))
        return _with_hint(f"there is no step {text!r}", nearest(text, names))
    if len(found) > 1:
        ways = " or ".join(f"{procedures[phase].procedure}/{step}" for phase, step in found)
        return f"{len(found)} procedures have a step {text!r}; say {ways}"
    return _spot(trace, *found[0])


def _spot(trace: Trace, phase: int, step_id: str) -> Spot | str:
    if phase >= len(trace.phases):
        return f"step {step_id!r} was not reached: the replay stopped before its procedure"
    timed = trace.phases[phase]
    step = next((s for s in timed.plan.steps if s.id == step_id), None)
    if step is None:
        return f"step {step_id!r} belongs to a get-ahead that is not in; --get-aheads lets them in"
    if not _is_over(trace, step):
        at = trace.refused[-1]
        return (
            f"how things stand after step {step_id!r} is not known: the replay stopped at step "
            f"{at.task.step_id!r}, because {at.text}"
        )
    end_s = timed.step_end_s[step.position]
    return Spot(phase, step_id, _position(trace, phase, step, end_s), end_s)


def _position(trace: Trace, phase: int, step: PlannedStep, end_s: int) -> int:
    """Return how many events have happened by the end of a step.

    Where it has none of its own (it does nothing, or all of it was skipped), that is what happened
    before its time, and what its workers did in steps before it.
    """
    own = before = 0
    for n, event in enumerate(trace.events, start=1):
        task = event.task
        if (task.phase, task.step) == (phase, step.position):
            own = n
        elif task.phase < phase:
            before = n
        elif task.phase == phase:
            theirs = not set(task.workers).isdisjoint(step.workers)
            if event.time_s < end_s or (theirs and task.step < step.position):
                before = n
    return own or before


def _is_over(trace: Trace, step: PlannedStep) -> bool:
    if not trace.stopped:
        return True
    ended = {(e.task.phase, e.task.serial) for e in trace.events if not e.begins}
    if not step.tasks:
        return False
    return all((task.phase, task.serial) in ended for task in step.tasks)


def scene_at(baseline: Baseline, trace: Trace, spot: Spot | None) -> Scene:
    """Return the scene when a step is over; at the start for None."""
    config, views = trace.start.copy(), list(trace.start_views)
    for event in trace.events[: spot.position if spot else 0]:
        config.apply(event.changes)
        for shift in event.shifts:
            views[shift.service] = shift.after
    return Scene(baseline, config, tuple(views))


def _with_hint(sentence: str, hint: str) -> str:
    return f"{sentence}; {hint}" if hint else sentence
