"""What is told before the first step: roles, ways, cautions, inhibits and calls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cablewalk.documents.inhibits import Inhibit
from cablewalk.documents.procedure import Procedure
from cablewalk.reports.step import StepRow
from cablewalk.timeline.account import Account


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts in a phase."""

    role: str
    """Empty for a person who is named without a role."""
    person: str
    kind: str
    steps: int


@dataclass(slots=True)
class Caution:
    """A caution, with the steps it stands at."""

    text: str
    steps: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Call:
    """A GO: who gives it in which step, and what waits for it."""

    name: str
    given_by: str
    step: str
    pet: str
    waiting: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InhibitRow:
    """An inhibit with its owner's name."""

    inhibit: Inhibit
    owner: str


@dataclass(slots=True)
class Brief:
    """One phase, as it is told before it begins."""

    number: int
    procedure: Procedure
    actors: list[Actor]
    cautions: list[Caution]
    inhibits: list[InhibitRow]
    calls: list[Call]
    not_in: list[str]
    """Get-aheads that this replay does not have."""


def briefs_of(account: Account, steps: Sequence[StepRow]) -> list[Brief]:
    """Return the brief of each phase that was replayed."""
    return [_brief(account, n, steps) for n in range(len(account.trace.phases))]


def _brief(account: Account, phase: int, every: Sequence[StepRow]) -> Brief:
    procedure = account.procedures[phase]
    steps = [s for s in every if s.phase_number == phase + 1]
    waiting: dict[str, list[str]] = {}
    for planned in account.trace.phases[phase].plan.steps:
        for name in planned.document.go:
            waiting.setdefault(name, []).append(planned.id)
    calls = [
        Call(
            action.text.removeprefix("go call "),
            ", ".join(action.people),
            step.id,
            action.end_pet.pet,
            tuple(waiting.get(action.text.removeprefix("go call "), ())),
        )
        for step in steps
        for action in step.actions
        if action.verb == "go_call"
    ]
    return Brief(
        phase + 1,
        procedure,
        _actors(account, procedure, steps),
        cautions_of(steps),
        [InhibitRow(i, _owner(procedure, i)) for i in procedure.inhibits],
        calls,
        [
            f"{ahead.id} {ahead.title}".strip()
            for ahead in procedure.get_aheads
            if (phase, ahead.id) not in account.trace.get_aheads
        ],
    )


def _owner(procedure: Procedure, inhibit: Inhibit) -> str:
    person = procedure.roles.get(inhibit.owner)
    return f"{inhibit.owner.upper()} {person}" if person else inhibit.owner


def _actors(account: Account, procedure: Procedure, steps: Sequence[StepRow]) -> list[Actor]:
    role = {person: name for name, person in procedure.roles.items()}
    named = dict.fromkeys([*role, *(p for s in steps for p in s.people)])
    people = account.ground.baseline.people
    return [
        Actor(
            role.get(person, ""),
            people[person].label or person if person in people else person,
            people[person].kind if person in people else "",
            sum(person in s.people for s in steps),
        )
        for person in named
    ]


def cautions_of(steps: Sequence[StepRow]) -> list[Caution]:
    """Return every caution once, in the order first met."""
    found: dict[str, Caution] = {}
    for step in steps:
        for text in step.cautions:
            found.setdefault(text, Caution(text)).steps.append(step.id)
    return list(found.values())
