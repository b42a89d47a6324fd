"""Phase limits: what is left of them, the chance of exceeding them, which get-aheads fit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from cablewalk.documents.procedure import GetAhead, Procedure
from cablewalk.findings import Address, Finding, Severity
from cablewalk.timeline.account import Account
from cablewalk.timeline.spread import OutageSpread, Spread
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import clock, clock_down, clock_up, parse_clock

P90 = 0.9


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
    judged: list[Judged] = []
    missing: list[Missing] = []
    for phase, plan in enumerate(found.network.plans):
        limits = plan.procedure.phase_limits
        steps = {step.id: step.position for step in plan.steps}
        finish = found.finish_pet[phase]
        timed = found.engine.account.trace.phases[phase]
        over_s = timed.end_s - timed.zero_s
        consumables = limits.consumables if limits else None
        if consumables is None:
            missing.append(Missing(phase, "consumables", "phase_limits.consumables is not given"))
        else:
            limit_s = parse_clock(consumables.by_pet)
            judged.append(
                Judged(
                    phase, "consumables", "", "", limit_s, consumables.source, "", finish, over_s
                )
            )
        back = limits.turn_back if limits else None
        if back is None:
            missing.append(Missing(phase, "turn-back", "phase_limits.turn_back is not given"))
        elif back.step not in steps:
            missing.append(Missing(phase, "turn-back", _not_in(back.step)))
        else:
            when = found.steps[phase][steps[back.step]].begin_pet
            assert when is not None, "the spread tallies what a limit asks for"
            limit_s = parse_clock(back.by_pet)
            begins_s = timed.step_start_s[steps[back.step]] - timed.zero_s
            judged.append(
                Judged(phase, "turn-back", "", back.step, limit_s, back.source, "", when, begins_s)
            )
        for decision in limits.decisions if limits else ():
            if decision.step not in steps:
                missing.append(Missing(phase, f"decision {decision.id}", _not_in(decision.step)))
                continue
            over = found.steps[phase][steps[decision.step]].end_pet
            assert over is not None, "the spread tallies what a limit asks for"
            judged.append(
                Judged(
                    phase,
                    "decision",
                    decision.id,
                    decision.step,
                    parse_clock(decision.by_pet),
                    decision.source,
                    decision.otherwise,
                    over,
                    timed.step_end_s[steps[decision.step]] - timed.zero_s,
                )
            )
    return judged, missing


_WHERE = {"consumables": ("consumables",), "turn-back": ("turn_back",)}
_WHAT = {"consumables": "it is over", "turn-back": "the way back begins", "decision": "it is done"}


def limit_findings(found: Spread, judged: Sequence[Judged]) -> Iterator[Finding]:
    """Yield an error for each limit that likely estimates exceed, a warning where P90 does."""
    for row in judged:
        late_s = row.likely_s - row.limit_s
        likely = late_s > 0
        if not likely and row.margin_s >= 0:
            continue
        procedure = found.network.plans[row.phase].procedure
        path: tuple[str | int, ...] = _WHERE.get(row.what, ())
        if row.what == "decision":
            assert procedure.phase_limits is not None, "a limit that is judged is given"
            names = [decision.id for decision in procedure.phase_limits.decisions]
            path = ("decisions", names.index(row.name))
        at_s = row.likely_s if likely else row.when.at(P90)
        how = "by likely estimates" if likely else "at P90"
        name = f"{row.what} {row.name}".strip()
        yield Finding(
            "phase-limit-exceeded",
            Severity.ERROR if likely else Severity.WARNING,
            Address(row.phase + 1, ("phase_limits", *path)),
            f"{procedure.procedure}: {_WHAT[row.what]} at {clock_up(at_s)} {how}",
            expected=f"{name} by {clock(row.limit_s)}",
            difference=f"{clock_up(at_s - row.limit_s)} too late; exceeded in "
            f"{100 * row.chance_over:.1f} % of the runs",
            way_out=row.otherwise or "shorten the work before it, or leave some for another phase",
            step=row.step or None,
            source=row.source,
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
