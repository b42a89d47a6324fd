"""Which limits the phases give, and which are not judged: no sampling is needed to tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cablewalk.documents.phase_limits import Consumables, Decision, TurnBack
from cablewalk.schedule.order import Timed
from cablewalk.timeline.account import Account


@dataclass(frozen=True, slots=True)
class Missing:
    """A limit that is not judged, and what is missing."""

    phase: int
    what: str
    because: str


@dataclass(frozen=True, slots=True)
class Limit:
    """What a limit asks about: the end of a phase, or a step's begin or end."""

    phase: int
    what: str
    given: Consumables | TurnBack | Decision
    step: int | None = None
    begins: bool = False

    def likely_s(self, timed: Timed) -> int:
        """Return when that is by likely minutes. Seconds on the phase's own clock."""
        if self.step is None:
            return timed.end_s - timed.zero_s
        times = timed.step_start_s if self.begins else timed.step_end_s
        return times[self.step] - timed.zero_s


def missing_limits(account: Account) -> list[Missing]:
    """Return the limits of the phases that are not judged, and what is missing."""
    return limits_of(account.trace.phases)[1]


def limits_of(phases: Sequence[Timed]) -> tuple[list[Limit], list[Missing]]:
    """Return the limits that can be judged, and those that cannot."""
    asked: list[Limit] = []
    missing: list[Missing] = []
    for phase, timed in enumerate(phases):
        limits = timed.plan.procedure.phase_limits
        steps = {step.id: step.position for step in timed.plan.steps}
        if limits is None or limits.consumables is None:
            missing.append(Missing(phase, "consumables", "phase_limits.consumables is not given"))
        else:
            asked.append(Limit(phase, "consumables", limits.consumables))
        back = limits.turn_back if limits else None
        if back is None:
            missing.append(Missing(phase, "turn-back", "phase_limits.turn_back is not given"))
        elif back.step not in steps:
            missing.append(Missing(phase, "turn-back", not_in(back.step)))
        else:
            asked.append(Limit(phase, "turn-back", back, steps[back.step], True))
        for decision in limits.decisions if limits else ():
            if decision.step not in steps:
                missing.append(Missing(phase, f"decision {decision.id}", not_in(decision.step)))
            else:
                asked.append(Limit(phase, "decision", decision, steps[decision.step]))
    return asked, missing


def not_in(step: str) -> str:
    """Return why a limit is not judged: a name that nothing bears is refused with the document."""
    return f"step {step} is of a get-ahead that is not in"
