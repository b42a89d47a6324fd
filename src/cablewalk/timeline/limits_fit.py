"""Which get-aheads fit into what a phase's limits leave."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from cablewalk.documents.procedure import GetAhead, Procedure, Step
from cablewalk.timeline.account import Account
from cablewalk.timeline.limits import P90, judge_limits
from cablewalk.timeline.limits_given import not_in
from cablewalk.timeline.spread import OutageSpread, Spread
from cablewalk.units import clock_down, clock_up


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether a get-ahead fits into what is left, those of higher priority that fit done too."""

    phase: int
    ahead: GetAhead
    fits: bool | None
    """None: not judged."""
    because: str


def fitting(
    procedures: Sequence[Procedure],
    with_aheads: Callable[[Sequence[Procedure], int], Account],
    spread_of: Callable[[Account], Spread],
) -> list[Fit]:
    """Return, for each get-ahead by priority, whether it fits at P90.

    Each is let in with all before it that fit; one that does not fit, or cannot be done, would
    not be done and is left out. It fits where the phase still ends within its consumables, turns
    back in time, and every outage that the get-aheads open is over by the turn-back.

    Args:
        procedures: the phases.
        with_aheads: the replay of phases, so many get-aheads of each let in.
        spread_of: the spread of a replay.
    """
    most = max((len(p.get_aheads) for p in procedures), default=0)
    keep: list[set[str]] = [set() for _ in procedures]
    fits: list[Fit] = []
    for phase, procedure in enumerate(procedures):
        for ahead in sorted(procedure.get_aheads, key=lambda a: a.priority):
            keep[phase].add(ahead.id)
            tried = [_only(p, kept) for p, kept in zip(procedures, keep, strict=True)]
            fit = _tried(with_aheads(tried, most), spread_of, phase, ahead, procedure)
            fits.append(fit)
            if fit.fits is False:
                keep[phase].discard(ahead.id)
    return fits


def _only(procedure: Procedure, kept: Collection[str]) -> Procedure:
    """Return a procedure without its other get-aheads, and without what names their steps.

    As in a replay that does not let them in: nothing waits for them, and a limit on one of their
    steps is not judged.
    """
    out = [ahead for ahead in procedure.get_aheads if ahead.id not in kept]
    if not out:
        return procedure
    steps = {step.id for ahead in out for step in ahead.steps}
    calls = {action.go_call for ahead in out for step in ahead.steps for action in step.do}

    def unbound(step: Step) -> Step:
        return step.model_copy(
            update={
                "after": tuple(name for name in step.after if name not in steps),
                "lead_min": {k: v for k, v in step.lead_min.items() if k not in steps},
                "go": tuple(name for name in step.go if name not in calls),
            }
        )

    limits = procedure.phase_limits
    if limits is not None:
        back = limits.turn_back
        limits = limits.model_copy(
            update={
                "turn_back": None if back is None or back.step in steps else back,
                "decisions": tuple(d for d in limits.decisions if d.step not in steps),
            }
        )
    return procedure.model_copy(
        update={
            "steps": tuple(unbound(step) for step in procedure.steps),
            "get_aheads": tuple(
                ahead.model_copy(update={"steps": tuple(unbound(step) for step in ahead.steps)})
                for ahead in procedure.get_aheads
                if ahead.id in kept
            ),
            "phase_limits": limits,
        }
    )


def _tried(
    account: Account,
    spread_of: Callable[[Account], Spread],
    phase: int,
    ahead: GetAhead,
    procedure: Procedure,
) -> Fit:
    """Return whether a get-ahead fits, given the replay that may let it in."""
    if (phase, ahead.id) not in account.trace.get_aheads:
        return Fit(phase, ahead, False, "it cannot be done: what it needs is not so")
    if account.trace.stopped:
        step = account.trace.refused[-1].task.step_id
        return Fit(phase, ahead, False, f"step {step} cannot be done after it")
    found = spread_of(account)
    judged, missing = judge_limits(found)
    own = [j for j in judged if j.phase == phase and j.what != "decision"]
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
    lacking = [m for m in missing if m.phase == phase and not m.what.startswith("decision")]
    if lacking:
        given = procedure.phase_limits.turn_back if procedure.phase_limits else None
        told = (
            f"turn-back: {not_in(given.step)}"
            if given is not None and m.what == "turn-back"
            else m.because
            for m in lacking
        )
        return Fit(phase, ahead, None, "; ".join(told))
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
