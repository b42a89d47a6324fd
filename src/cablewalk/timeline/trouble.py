"""Trouble ahead: what of the rest of the plan cannot be done as planned, or goes wrong so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from cablewalk.findings import Finding, Severity
from cablewalk.schedule.order import LIKELY
from cablewalk.timeline.forecast import Rest, play_rest
from cablewalk.walk.asrun_entry import Key
from cablewalk.walk.asrun_state import Phase, Tracked
from cablewalk.walk.trace import Refused

Cause = tuple[int, str]
"""Number of the phase, from 0, and id of the step that cannot be done."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """An action of the rest that cannot be done as planned, not for the sake of another one."""

    phase: Phase
    refused: Refused
    place: int
    """Position of the action in its step, from 0."""
    refusal: Finding
    """Why, and what would be possible then instead."""
    follows: tuple[str, ...]
    """Other steps of that phase that cannot be done as planned because of it."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """What stands in the way of the rest of the plan, outages and clocks aside."""

    obstacles: list[Obstacle]
    errors: list[Finding]
    """What else is wrong in doing it: live contacts, losses nobody planned, tests that fail."""
    refused: dict[Key, Refused]
    """Phase and serial of each action that cannot be done as planned, whatever for."""
    done_already: dict[Key, str]
    """Phase and serial of each action done off the plan before, to how its items stand already."""


def trouble_ahead(tracked: Tracked, now_s: int) -> Trouble:
    """Return what of the rest cannot be done as planned, and what is wrong in doing it.

    Nothing is worked out of outages and clocks, so it costs what is left of the plan, however
    long the log is. ``now_s`` is mission elapsed time; at least one phase has begun.
    """
    rest = play_rest(tracked, now_s, (), LIKELY)
    return Trouble(
        _obstacles(tracked, rest),
        errors_to_come(rest.findings),
        {(r.task.phase, r.task.serial): r for r in rest.trace.refused},
        rest.fold.done_already,
    )


def errors_to_come(findings: Iterable[Finding]) -> list[Finding]:
    """Return those errors the rest brings that follow from no refusal; clocks are told elsewhere.

    One that has happened already in another step is told again: it will happen again.
    """
    elsewhere = ("refused", "clock-exceeded")
    return [
        f
        for f in findings
        if f.severity is Severity.ERROR and f.rule not in elsewhere and f.because_of is None
    ]


def _obstacles(tracked: Tracked, rest: Rest) -> list[Obstacle]:
    """Return which steps of the rest cannot be done as planned, causes only, by time."""
    said = (finding for finding in rest.findings if finding.rule == "refused")
    told = dict(zip(((r.task.phase, r.task.serial) for r in rest.trace.refused), said, strict=True))
    coming = {row.phase.number: row for row in rest.phases}
    found = []
    for first, *_ in by_cause(rest.trace.refused, rest.fold.guilty):
        task = first.task
        row = coming[task.phase]
        begun = task.phase < len(tracked.phases)
        step = row.phase.by_id[task.step_id] if begun else row.timed.plan.steps[task.step]
        place = next(n for n, own in enumerate(step.tasks) if own.serial == task.serial)
        cause = (first.because_of or task.step_id, task.phase + 1)
        follows = dict.fromkeys(
            f.step or ""
            for f in rest.findings
            if (f.because_of, f.address.document) == cause and f.severity is Severity.ERROR
        )
        follows.pop(task.step_id, None)
        refusal = told[(task.phase, task.serial)]
        found.append(Obstacle(row.phase, first, place, refusal, tuple(follows)))
    return found


def by_cause(
    refused: Sequence[Refused], guilty: Mapping[Key, frozenset[str]]
) -> list[list[Refused]]:
    """Return what cannot be done in groups: a cause first, then what follows from it.

    Two refusals of one step are one where the same thing or person stands in the way of both.

    Args:
        refused: what cannot be done, by time.
        guilty: phase and serial of an action to the ids of what stands in its way.
    """
    groups: list[list[Refused]] = []
    of: dict[Cause, list[int]] = {}
    """Step to the groups that hold refusals of it."""
    for row in refused:
        step = (row.task.phase, row.task.step_id)
        own = of.setdefault(step, [])
        if row.because_of is not None:
            near = of.setdefault((row.task.phase, row.because_of), own)
        else:
            near = [n for n in own if _shared(row, groups[n], guilty)]
        if not near:
            groups.append([])
        at = near[0] if near else len(groups) - 1
        groups[at].append(row)
        if at not in own:
            own.append(at)
    return groups


def _shared(row: Refused, group: list[Refused], guilty: Mapping[Key, frozenset[str]]) -> bool:
    own = guilty[(row.task.phase, row.task.serial)]
    return any(own & guilty[(r.task.phase, r.task.serial)] for r in group)
