"""When each task begins and ends, and in which order all beginnings and endings happen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from cablewalk.documents.procedure import Step
from cablewalk.findings import Findings, nearest
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.units import parse_clock, seconds

LIKELY = 1


class Moment(NamedTuple):
    """A task that begins or ends. ``time_s`` is mission elapsed time."""

    time_s: int
    begins: bool
    task: Task


@dataclass(slots=True)
class Timed:
    """One phase on the clock."""

    plan: Plan
    zero_s: int
    """Mission elapsed time of the phase's PET 0:00."""
    step_start_s: list[int]
    step_end_s: list[int]
    moments: list[Moment]

    @property
    def end_s(self) -> int:
        """Mission elapsed time at which the last step ends."""
        return max(self.step_end_s, default=self.zero_s)

    @property
    def start_s(self) -> int:
        """Mission elapsed time at which the first step may begin."""
        return self.zero_s + parse_clock(self.plan.procedure.start_pet)


def predecessors(plan: Plan, findings: Findings) -> list[set[int]] | None:
    """Return, for each step, the steps that must end first, or None after a finding.

    These are the same worker's step before, those named in ``after`` and ``lead_min``, and those
    that give the GO it waits for. What stands in a get-ahead that did not enter is not waited
    for. A circle is a finding.
    """
    absent_steps, absent_calls = _left_out(plan)
    by_id = {step.id: step.position for step in plan.steps}
    givers: dict[str, int] = {}
    for step in plan.steps:
        for task in step.tasks:
            if task.action.go_call is not None:
                givers.setdefault(task.action.go_call, step.position)
    last: dict[str, int] = {}
    before: list[set[int]] = []
    sound = True
    for step in plan.steps:
        needs: set[int] = set()
        for worker in step.workers:
            if worker in last:
                needs.add(last[worker])
            last[worker] = step.position
        for kind, names, known in (
            ("after", step.document.after, by_id),
            ("lead_min", tuple(step.document.lead_min), by_id),
            ("go", step.document.go, givers),
        ):
            for n, name in enumerate(names):
                if name in known:
                    needs.add(known[name])
                    continue
                if name in (absent_calls if kind == "go" else absent_steps):
                    continue
                sound = False
                what = "no step gives the GO" if kind == "go" else "there is no step"
                findings.error(
                    "unknown-id",
                    step.address.child(kind, name if kind == "lead_min" else n),
                    f"step {step.id}: {what} {name}",
                    expected=f"one of {', '.join(known) or 'none at all'}",
                    way_out=nearest(name, list(known)),
                )
        before.append(needs)
    if not sound:
        return None
    return before if _no_circle(plan, before, findings) else None


def _left_out(plan: Plan) -> tuple[set[str], set[str]]:
    """Return the step ids, and the GO calls, of the get-aheads that did not enter."""
    entered = {step.get_ahead for step in plan.steps}
    steps: set[str] = set()
    calls: set[str] = set()
    for ahead in plan.procedure.get_aheads:
        if ahead.id not in entered:
            steps |= {step.id for step in ahead.steps}
            calls |= {a.go_call for step in ahead.steps for a in step.do if a.go_call is not None}
    return steps, calls


def _no_circle(plan: Plan, before: list[set[int]], findings: Findings) -> bool:
    done = [False] * len(before)
    left = [len(needs) for needs in before]
    follows: list[list[int]] = [[] for _ in before]
    for n, needs in enumerate(before):
        for need in needs:
            follows[need].append(n)
    ready = [n for n, count in enumerate(left) if count == 0]
    while ready:
        node = ready.pop()
        done[node] = True
        for other in follows[node]:
            left[other] -= 1
            if left[other] == 0:
                ready.append(other)
    stuck = [n for n, ok in enumerate(done) if not ok]
    if not stuck:
        return True
    names = ", ".join(plan.steps[n].id for n in stuck[:8])
    findings.error(
        "waits-for-itself",
        plan.steps[stuck[0]].address,
        f"these steps wait for one another in a circle: {names}",
        expected="an order in which every step can begin",
        difference="a worker does his steps in document order; 'after' and 'go' must fit that",
        way_out="take one 'after' or 'go' out, or move a step",
    )
    return False


def time_phase(
    plan: Plan,
    before: list[set[int]],
    start_s: int,
    duration_s: Callable[[Task], int] | None = None,
) -> Timed:
    """Put a plan on the clock.

    Args:
        plan: the steps.
        before: what :func:`predecessors` returned.
        start_s: mission elapsed time at which the first step may begin.
        duration_s: seconds of a task; its likely ones where not given.
    """
    length = duration_s or (lambda task: task.durations_s[LIKELY])
    zero = start_s - parse_clock(plan.procedure.start_pet)
    count = len(plan.steps)
    starts, ends = [start_s] * count, [start_s] * count
    begin: dict[int, int] = {}
    end: dict[int, int] = {}
    by_id = {step.id: step.position for step in plan.steps}
    for n in _topological(before):
        step = plan.steps[n]
        at = _earliest(step.document, before[n], ends, by_id, start_s, zero)
        starts[n] = at
        for task in step.tasks:
            begin[task.serial] = at
            at += length(task)
            end[task.serial] = at
        ends[n] = at
    moments = _in_order(plan, before, starts, ends, begin, end)
    return Timed(plan, zero, starts, ends, moments)


def _earliest(
    step: Step, needs: set[int], ends: list[int], by_id: dict[str, int], start_s: int, zero: int
) -> int:
    at = max((ends[m] for m in needs), default=start_s)
    for name, lead in step.lead_min.items():
        if name in by_id:
            at = max(at, ends[by_id[name]] + seconds(lead))
    if step.not_before is not None:
        at = max(at, zero + parse_clock(step.not_before))
    return at


def _topological(before: list[set[int]]) -> list[int]:
    """Return the steps so ordered that what must end first comes first."""
    order: list[int] = []
    done: set[int] = set()
    for root in range(len(before)):
        stack = [root]
        while stack:
            node = stack[-1]
            if node in done:
                stack.pop()
                continue
            missing = [m for m in sorted(before[node], reverse=True) if m not in done]
            if missing:
                stack.extend(missing)
            else:
                done.add(node)
                order.append(node)
                stack.pop()
    return order


def _in_order(
    plan: Plan,
    before: list[set[int]],
    starts: list[int],
    ends: list[int],
    begin: dict[int, int],
    end: dict[int, int],
) -> list[Moment]:
    """Order all beginnings and endings.

    By time; at one time what must come first does, then beginnings before endings, then serials.
    """
    tasks = plan.tasks()
    previous = {
        task.serial: other.serial for step in plan.steps for other, task in pairwise(step.tasks)
    }
    remaining = {step.position: len(step.tasks) for step in plan.steps}
    closed: set[int] = set()
    ended: set[int] = set()

    empty = [step.position for step in plan.steps if not step.tasks]

    def close_empty(time: int) -> None:
        again = bool(empty)
        while again:
            again = False
            for n in empty:
                if n not in closed and ends[n] <= time and before[n] <= closed:
                    closed.add(n)
                    again = True

    def may_begin(task: Task) -> bool:
        if task.serial in previous:
            return previous[task.serial] in ended
        return before[task.step] <= closed

    moments: list[Moment] = []
    times = sorted({*begin.values(), *end.values()})
    begins: dict[int, list[Task]] = {}
    finishes: dict[int, list[Task]] = {}
    for task in tasks:
        begins.setdefault(begin[task.serial], []).append(task)
        finishes.setdefault(end[task.serial], []).append(task)
    begun: set[int] = set()
    for time in times:
        to_begin = begins.get(time, [])
        to_end = finishes.get(time, [])
        close_empty(time)
        while to_begin or to_end:
            ready = next((t for t in to_begin if may_begin(t)), None)
            if ready is not None:
                to_begin.remove(ready)
                begun.add(ready.serial)
                moments.append(Moment(time, True, ready))
                continue
            over = next(t for t in to_end if t.serial in begun)
            to_end.remove(over)
            ended.add(over.serial)
            moments.append(Moment(time, False, over))
            remaining[over.step] -= 1
            if remaining[over.step] == 0:
                closed.add(over.step)
                close_empty(time)
    return moments
