"""Rules of the workers: hands, joint steps, two at one item."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.rule import PRACTICE, Rule
from cablewalk.checks.touches import claimed
from cablewalk.findings import Finding, Findings, Severity
from cablewalk.replay.change import Field
from cablewalk.schedule.order import predecessors
from cablewalk.schedule.tasks import Plan

ERROR, WARNING = Severity.ERROR, Severity.WARNING
_SHARED = ("half", "leg", "cap", "cover", "segment", "switch", "unit", "panel", "bag")


def _hands(case: Case) -> Iterator[Finding]:
    wiring = case.wiring
    told: set[tuple[int, int]] = set()
    for _position, event, config in case.walk():
        takers = {
            change.new
            for change in event.changes
            if change.field is Field.LINK and isinstance(change.new, int)
        } & wiring.can_hold.keys()
        for person in sorted(takers):
            held = config.held_by(person)
            limit = wiring.can_hold[person]
            if len(held) <= limit or (person, len(held)) in told:
                continue
            told.add((person, len(held)))
            yield Finding(
                "holds-too-much",
                ERROR,
                event.task.address,
                f"{case.id(person)} holds {len(held)} things: "
                f"{', '.join(case.id(item) for item in held)}",
                expected=f"at most {limit} (can_hold)",
                difference=f"{len(held) - limit} too many",
                way_out="restrain, stow, leave or hand over something first",
                step=event.task.step_id,
                items=(case.id(person), *(case.id(item) for item in held)),
            )


def _alone(case: Case) -> Iterator[Finding]:
    for timed in case.trace.phases:
        roles = timed.plan.procedure.roles
        for step in timed.plan.steps:
            names = step.document.by
            people = {roles.get(name, name) for name in names}
            if len(people) < len(names):
                yield Finding(
                    "joint-step-alone",
                    ERROR,
                    step.address.child("by"),
                    f"step {step.id} is for {' and '.join(names)}, who are one person: "
                    f"{', '.join(sorted(people))}",
                    expected="as many people as the step names",
                    difference=f"{len(names) - len(people)} too few",
                    way_out="give the roles to different people",
                    step=step.id,
                    items=tuple(sorted(people)),
                )


def _ancestors(plan: Plan) -> list[int] | None:
    """Return, for each step, the steps that surely end before it begins, as a bit set."""
    before = predecessors(plan, Findings())
    if before is None:
        return None
    found = [0] * len(before)
    done = [False] * len(before)
    todo = list(range(len(before)))
    while todo:
        left = []
        for n in todo:
            if not all(done[m] for m in before[n]):
                left.append(n)
                continue
            for m in before[n]:
                found[n] |= found[m] | 1 << m
            done[n] = True
        if len(left) == len(todo):
            return None
        todo = left
    return found


def _unordered(case: Case) -> Iterator[Finding]:
    """Note two steps of different workers on one item that nothing puts in order."""
    wiring = case.wiring
    users: dict[tuple[int, int], dict[int, None]] = {}
    for event in case.trace.events:
        if not event.begins:
            continue
        for item in claimed(event):
            if wiring.items[item].kind in _SHARED:
                users.setdefault((event.task.phase, item), {})[event.task.step] = None
    ancestors = [_ancestors(timed.plan) for timed in case.trace.phases]
    told: set[tuple[int, int, int]] = set()
    for (phase, item), steps in users.items():
        above, plan = ancestors[phase], case.trace.phases[phase].plan
        order = list(steps)
        if above is None or len(order) < 2:
            continue
        for k, b in enumerate(order):
            for a in order[:k]:
                apart = set(plan.steps[a].workers).isdisjoint(plan.steps[b].workers)
                if not apart or above[b] >> a & 1 or above[a] >> b & 1 or (phase, a, b) in told:
                    continue
                told.add((phase, a, b))
                one, two = plan.steps[a], plan.steps[b]
                yield Finding(
                    "two-on-one-item",
                    WARNING,
                    two.address,
                    f"steps {one.id} and {two.id} both work on {case.named(item)}, by different "
                    "workers, and nothing says which comes first",
                    expected="an order between steps that share an item",
                    difference=f"as estimated, {one.id} comes first",
                    way_out=f"after: {one.id}",
                    step=two.id,
                    items=(case.id(item),),
                )


RULES = (
    Rule(
        "holds-too-much",
        "A worker holds more than is allowed",
        ERROR,
        "the person's own can_hold, in the baseline",
        "Hands that are full let things go.",
        "Restrain, stow, leave or hand over something first.",
        _hands,
        fires="baseline: {people: {ada: {kind: outside, can_hold: 1}}}\n"
        "steps: [[demate: P1, pick_up: C1, pick_up: P1]]",
        silent="baseline: {people: {ada: {kind: outside, can_hold: 2}}}\n"
        "steps: [[demate: P1, pick_up: C1, pick_up: P1]]",
    ),
    Rule(
        "joint-step-alone",
        "A joint step has one person only",
        ERROR,
        PRACTICE,
        "A step written for two cannot be done by one who has both roles.",
        "Give the roles to different people.",
        _alone,
        fires="procedure: {roles: {a: ada, b: ada}}\nsteps: [{by: [a, b], do: {wait: 1}}]",
        silent="procedure: {roles: {a: ada, b: gus}}\nsteps: [{by: [a, b], do: {wait: 1}}]",
    ),
    Rule(
        "two-on-one-item",
        "Two workers' steps share an item and have no order",
        WARNING,
        PRACTICE,
        "By estimate one comes first; in the work it may be the other.",
        "Say 'after', or a GO, in the step that must come second.",
        _unordered,
        fires="baseline: {people: {bob: outside}}\n"
        "steps: [[inspect: J1], {by: bob, do: [{wait: 5}, demate: P1]}]",
        silent="baseline: {people: {bob: outside}}\n"
        "steps: [[inspect: J1], {by: bob, after: s1, do: [demate: P1]}]",
    ),
)
