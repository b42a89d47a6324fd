"""Trouble ahead: what of the rest of the plan cannot be done as planned, or goes wrong so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cablewalk.findings import Finding, Severity
from cablewalk.schedule.order import LIKELY
from cablewalk.timeline.forecast import Rest, play_rest
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


def trouble_ahead(tracked: Tracked, now_s: int) -> Trouble:
    """Return what of the rest cannot be done as planned, and what is wrong in doing it.

    Nothing is worked out of outages and clocks, so it costs what is left of the plan, however
    long the log is. ``now_s`` is mission elapsed time; at least one phase has begun.
    """
    rest = play_rest(tracked, now_s, (), LIKELY)
    return Trouble(_obstacles(tracked, rest), errors_to_come(rest.findings))


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
    for first, *_ in by_cause(rest.trace.refused):
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


def by_cause(refused: Sequence[Refused]) -> list[list[Refused]]:
    """Return what cannot be done in groups: a cause first, then what follows from it.

    Of a step only the first refusal is a cause, for the next ones of it mostly are one with it.
    """
    groups: dict[Cause, list[Refused]] = {}
    under: dict[Cause, Cause] = {}
    for row in refused:
        cause = (row.task.phase, row.because_of or row.task.step_id)
        spot = under.setdefault((row.task.phase, row.task.step_id), cause)
        groups.setdefault(spot if row.because_of is None else cause, []).append(row)
    return list(groups.values())
