"""Phase limits: what is left of them, the chance of exceeding them, which get-aheads fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cablewalk.documents.phase_limits import Consumables, Decision, TurnBack
from cablewalk.documents.procedure import GetAhead, Procedure
from cablewalk.schedule.order import Timed
from cablewalk.timeline.account import Account
from cablewalk.timeline.spread import OutageSpread, Spread
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import clock_down, clock_up, parse_clock

P90 = 0.9
P50 = 0.5


@dataclass(frozen=True, slots=True)
class Judged:
    """One limit of a phase against all runs. Seconds on the phase's own clock.

    Attributes:
        what: ``consumables``, ``turn-back`` or ``decision``.
        name: id of the decision point, or empty.
        step: the step that must have begun (turn-back) or be over (decision); empty for the
            whole phase.
        when: when that comes about.
        likely_s: when it does by likely estimates.
    """

    phase: int
    what: str
    name: str
    step: str
    limit_s: int
    source: str
    otherwise: str
    when: Tally
    likely_s: int

    @property
    def margin_s(self) -> int:
        """What is left in nine runs of ten; negative: exceeded."""
        return self.limit_s - self.when.at(P90)

    @property
    def chance_over(self) -> float:
        """The share of runs in which the limit is exceeded."""
        return self.when.over(self.limit_s) / self.when.number


@dataclass(frozen=True, slots=True)
class Missing:
    """A limit that is not judged, and what is missing."""

    phase: int
    what: str
    because: str


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether a get-ahead fits into what is left, with those of higher priority in."""

    phase: int
    ahead: GetAhead
    fits: bool | None
    """None: not judged."""
    because: str


def judge_limits(found: Spread) -> tuple[list[Judged], list[Missing]]:
    """Return every limit of every phase against the runs, and what is not judged."""

    def moment(limit: _Limit) -> Tally:
        row = None if limit.step is None else found.steps[limit.phase][limit.step]
        when = (
            found.finish_pet[limit.phase]
            if row is None
            else row.begin_pet
            if limit.begins
            else row.end_pet
        )
        assert when is not None, "the spread tallies what a limit asks for"
        return when

    return _judge(found.engine.account.trace.phases, moment)


def judge_likely(account: Account) -> list[Judged]:
    """Return every limit of every phase against the one run that has likely minutes throughout."""
    phases = account.trace.phases

    def moment(limit: _Limit) -> Tally:
        tally = Tally()
        tally.add(np.array([limit.likely_s(phases[limit.phase])], np.int32))
        return tally

    return _judge(phases, moment)[0]


@dataclass(frozen=True, slots=True)
class _Limit:
    """What a limit asks about: the end of a phase, or a step's begin or end."""

    phase: int
    what: str
    given: Consumables | TurnBack | Decision
    step: int | None = None
    begins: bool = False

    def likely_s(self, timed: Timed) -> int:
        if self.step is None:
            return timed.end_s - timed.zero_s
        times = timed.step_start_s if self.begins else timed.step_end_s
        return times[self.step] - timed.zero_s


def _judge(
    phases: Sequence[Timed], moment: Callable[[_Limit], Tally]
) -> tuple[list[Judged], list[Missing]]:
    judged: list[Judged] = []
    missing: list[Missing] = []
    for phase, timed in enumerate(phases):
        limits = timed.plan.procedure.phase_limits
        steps = {step.id: step.position for step in timed.plan.steps}
        asked: list[_Limit] = []
        if limits is None or limits.consumables is None:
            missing.append(Missing(phase, "consumables", "phase_limits.consumables is not given"))
        else:
            asked.append(_Limit(phase, "consumables", limits.consumables))
        back = limits.turn_back if limits else None
        if back is None:
            missing.append(Missing(phase, "turn-back", "phase_limits.turn_back is not given"))
        elif back.step not in steps:
            missing.append(Missing(phase, "turn-back", _not_in(back.step)))
        else:
            asked.append(_Limit(phase, "turn-back", back, steps[back.step], True))
        for decision in limits.decisions if limits else ():
            if decision.step not in steps:
                missing.append(Missing(phase, f"decision {decision.id}", _not_in(decision.step)))
            else:
                asked.append(_Limit(phase, "decision", decision, steps[decision.step]))
        judged.extend(_judged(limit, timed, moment(limit)) for limit in asked)
    return judged, missing


def _judged(limit: _Limit, timed: Timed, when: Tally) -> Judged:
    given = limit.given
    return Judged(
        limit.phase,
        limit.what,
        given.id if isinstance(given, Decision) else "",
        "" if isinstance(given, Consumables) else given.step,
        parse_clock(given.by_pet),
        given.source,
        given.otherwise if isinstance(given, Decision) else "",
        when,
        limit.likely_s(timed),
    )


def _not_in(step: str) -> str:
    """Return why a limit is not judged: a name that nothing bears is refused with the document."""
    return f"step {step} is of a get-ahead that is not in"


def fitting(
    procedures: tuple[Procedure, ...],
    with_aheads: Callable[[int], Account],
    spread_of: Callable[[Account], Spread],
) -> list[Fit]:
    """Return, for each get-ahead by priority, whether it fits at P90.

    Each is let in with all of higher priority that can be; it fits where the phase still ends
    within its consumables, turns back in time, and every outage that the get-ahead opens is
    over by the turn-back.

    Args:
        procedures: the phases.
        with_aheads: the replay with so many get-aheads let in.
        spread_of: the spread of a replay.
    """
    most = max((len(p.get_aheads) for p in procedures), default=0)
    fits: list[Fit] = []
    told: set[tuple[int, str]] = set()
    for count in range(1, most + 1):
        account = with_aheads(count)
        fresh = [(phase, name) for phase, name in account.trace.get_aheads]
        fresh = [row for row in fresh if row not in told]
        if not fresh or account.trace.stopped:
            break
        told.update(fresh)
        found = spread_of(account)
        for phase, name in fresh:
            ahead = next(a for a in procedures[phase].get_aheads if a.id == name)
            fits.append(_fit(found, phase, ahead))
    for phase, procedure in enumerate(procedures):
        for ahead in sorted(procedure.get_aheads, key=lambda a: a.priority):
            if (phase, ahead.id) not in told:
                fits.append(Fit(phase, ahead, False, "it cannot be done: what it needs is not so"))
    return sorted(fits, key=lambda fit: (fit.phase, fit.ahead.priority))


def _fit(found: Spread, phase: int, ahead: GetAhead) -> Fit:
    judged, missing = judge_limits(found)
    own = [j for j in judged if j.phase == phase and j.what != "decision"]
    lacking = [m.because for m in missing if m.phase == phase and not m.what.startswith("deci")]
    for row in own:
        if row.margin_s < 0:
            late = clock_up(-row.margin_s)
            return Fit(phase, ahead, False, f"{row.what} exceeded by {late} at P90")
    back = next((j for j in own if j.what == "turn-back"), None)
    for outage in _opened(found, phase):
        service = found.engine.account.trace.wiring.services[outage.service].id
        if outage.not_back > (1 - P90) * outage.runs:
            return Fit(phase, ahead, False, f"the outage of {service} stays open")
        if back is not None and outage.back_pet.at(P90) > back.limit_s:
            late = clock_up(outage.back_pet.at(P90) - back.limit_s)
            because = f"{service}, taken down, is back {late} after the turn-back at P90"
            return Fit(phase, ahead, False, because)
    if lacking:
        return Fit(phase, ahead, None, "; ".join(lacking))
    left = ", ".join(f"{clock_down(row.margin_s)} left to {row.what}" for row in own)
    return Fit(phase, ahead, True, f"at P90 {left}")


def _opened(found: Spread, phase: int) -> list[OutageSpread]:
    """Return the outages that a step of a get-ahead opens, in any run.

    All get-aheads that are in count: one that takes a service down as another brings it back
    prolongs the other's outage.
    """
    steps = {step.id for step in found.network.plans[phase].steps if step.get_ahead}
    return [
        outage
        for outage in found.outages.values()
        if outage.lost is not None
        and outage.lost.task.phase == phase
        and outage.lost.task.step_id in steps
    ]
