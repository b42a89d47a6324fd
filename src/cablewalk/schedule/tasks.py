"""Tasks: the actions of a procedure, each with its workers and its minutes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from cablewalk.documents.actions import Action, Estimate, Walk
from cablewalk.documents.procedure import GetAhead, Procedure, Step
from cablewalk.findings import Address, Findings, Path, nearest
from cablewalk.schedule.distance import Distances
from cablewalk.units import seconds

INSTANT = frozenset({"expect", "found", "go_call", "retire"})
"""Verbs that last no time unless minutes are given."""


@dataclass(frozen=True, slots=True)
class Task:
    """One action as planned. Durations are whole seconds (best, likely, worst)."""

    phase: int
    serial: int
    step: int
    """Position of its step in the plan."""
    step_id: str
    verb: str
    action: Action
    workers: tuple[str, ...]
    durations_s: tuple[int, int, int]
    address: Address


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One step as planned."""

    position: int
    id: str
    document: Step
    workers: tuple[str, ...]
    tasks: tuple[Task, ...]
    address: Address
    get_ahead: str = ""


@dataclass(slots=True)
class Plan:
    """All steps of one phase, in document order, get-aheads at their mark."""

    phase: int
    procedure: Procedure
    steps: list[PlannedStep] = field(default_factory=list)

    def tasks(self) -> list[Task]:
        """Return the tasks in serial order."""
        return [task for step in self.steps for task in step.tasks]


def phase_steps(
    procedure: Procedure, get_aheads: Iterable[GetAhead] = ()
) -> list[tuple[Step, Path, str]]:
    """Return (step, path in the document, get-ahead id) in order, chosen get-aheads at the mark."""
    chosen = list(get_aheads)
    rows: list[tuple[Step, Path, str]] = []
    for n, step in enumerate(procedure.steps):
        if step.mark is None:
            rows.append((step, ("steps", n), ""))
            continue
        for ahead in chosen:
            spot = procedure.get_aheads.index(ahead)
            for k, extra in enumerate(ahead.steps):
                rows.append((extra, ("get_aheads", spot, "steps", k), ahead.id))
    return rows


def plan_phase(
    procedure: Procedure,
    phase: int,
    distances: Distances,
    places: dict[str, str],
    known: Iterable[str],
    findings: Findings,
    get_aheads: Iterable[GetAhead] = (),
) -> Plan:
    """Return the plan of one phase.

    Args:
        procedure: the document; its findings carry ``phase + 1`` as document number.
        distances: path lengths between places.
        places: person to place at the phase's start; updated to the places at its end.
        known: ids of the people there are.
        findings: where unknown workers, missing minutes and doubled step ids are noted.
    """
    plan = Plan(phase, procedure)
    people = frozenset(known)
    seen: dict[str, Path] = {}
    serial = 0
    for position, (step, path, ahead) in enumerate(phase_steps(procedure, get_aheads)):
        address = Address(phase + 1, path)
        if step.id in seen:
            findings.error(
                "duplicate-id",
                address,
                f"two steps bear the id {step.id}",
                expected="each step id once in a procedure",
                difference=f"the first is number {int(seen[step.id][-1]) + 1} "
                + ("of the steps" if len(seen[step.id]) == 2 else "of a get-ahead's steps"),
                way_out="rename one of the two",
            )
        seen[step.id] = path
        workers = _people(step.by, procedure.roles, people, address.child("by"), findings)
        tasks = []
        everyone = list(workers)
        for n, action in enumerate(step.do):
            at = address.child("do", n)
            own = _people(action.by, procedure.roles, people, at.child("by"), findings)
            everyone.extend(w for w in own if w not in everyone)
            hands = own or workers
            verb = action.verb
            if not hands:
                findings.error(
                    "nobody",
                    at,
                    f"step {step.id}: nobody is named to {verb}",
                    expected="'by' at the step or at the action",
                    way_out=f"add 'by: {min(people)}' to the step, or whoever does it"
                    if people
                    else "name the people in the baseline, and one of them with 'by'",
                )
            durations = _durations(
                action, verb, hands, procedure, distances, places, at, findings, step.id
            )
            tasks.append(Task(phase, serial, position, step.id, verb, action, hands, durations, at))
            serial += 1
        plan.steps.append(
            PlannedStep(position, step.id, step, tuple(everyone), tuple(tasks), address, ahead)
        )
    return plan


def _people(
    names: Iterable[str],
    roles: Mapping[str, str],
    known: frozenset[str],
    address: Address,
    findings: Findings,
) -> tuple[str, ...]:
    found = []
    for name in names:
        person = roles.get(name, name)
        if person not in known:
            findings.error(
                "unknown-id",
                address,
                f"there is no person or role {name}"
                if name == person
                else f"role {name} names {person}, whom the baseline does not have",
                expected=f"one of {', '.join(sorted(known | roles.keys())) or 'nobody'}",
                way_out=nearest(name, sorted(known | roles.keys())),
            )
        elif person not in found:
            found.append(person)
    return tuple(found)


def _durations(
    action: Action,
    verb: str,
    hands: tuple[str, ...],
    procedure: Procedure,
    distances: Distances,
    places: dict[str, str],
    address: Address,
    findings: Findings,
    step: str,
) -> tuple[int, int, int]:
    """Return best, likely and worst seconds; moves the walkers in ``places``."""
    walk = action.walk
    starts = [places.get(worker, "") for worker in hands]
    if walk is not None:
        places.update(dict.fromkeys(hands, walk.to))
    if action.minutes is not None:
        return _seconds(action.minutes)
    if action.wait is not None:
        return (seconds(action.wait),) * 3
    paced = walk_s(walk, starts, procedure, distances) if walk is not None else None
    if paced is not None:
        return (paced,) * 3
    estimate = procedure.minutes.get(verb)
    if estimate is None and verb not in INSTANT:
        estimate = procedure.minutes.get("any")
    if estimate is not None:
        return _seconds(estimate)
    if verb not in INSTANT:
        findings.error(
            "no-minutes",
            address,
            f"step {step}: nothing says how long '{verb}' takes",
            expected="minutes at the action, or for its verb, or for 'any', in the procedure"
            + (" (or a speed and a path between the places)" if walk is not None else ""),
            difference=f"the procedure has minutes for {', '.join(procedure.minutes)} only"
            if procedure.minutes
            else "the procedure has no minutes at all",
            way_out=f"add 'minutes' to the action, or 'minutes: {{{verb}: …}}' to the procedure",
        )
    return (0, 0, 0)


def walk_s(
    walk: Walk, starts: Iterable[str], procedure: Procedure, distances: Distances
) -> int | None:
    """Return the seconds of a walk of people from where they are, by the length of their paths.

    None where the procedure gives minutes for it, or no speed, or where no path leads there.
    """
    speed = procedure.speed
    if speed is None or "walk" in procedure.minutes:
        return None
    lengths = [distances.between(start, walk.to) for start in starts]
    known = [length for length in lengths if length is not None]
    if len(known) < len(lengths):
        return None
    rate = speed.loaded_m_per_min if walk.carrying else speed.free_m_per_min
    return seconds(max(known, default=0.0) / rate)


def _seconds(estimate: Estimate) -> tuple[int, int, int]:
    return (
        seconds(estimate.best_min),
        seconds(estimate.likely_min),
        seconds(estimate.worst_min),
    )
