"""The rest of the plan, from how everything really stands: what it will still do, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from cablewalk.documents.actions import Action
from cablewalk.documents.procedure import Step
from cablewalk.findings import Address, Finding, Findings
from cablewalk.schedule.order import LIKELY, Timed, predecessors, time_phase
from cablewalk.schedule.tasks import Plan, PlannedStep, Task
from cablewalk.timeline.asrun import dark_min
from cablewalk.timeline.clocks import Reading, exceeded, read_clocks
from cablewalk.timeline.spells import Spell, outages
from cablewalk.units import SECONDS_PER_MIN, clock, parse_clock, seconds
from cablewalk.walk.asrun_believe import BelievingFold
from cablewalk.walk.asrun_state import Phase, Tracked
from cablewalk.walk.trace import Refused, Trace
from cablewalk.walk.words import holds

WORST = 2
PAST = -1
"""Serial of the task that stands for all the time up to now."""


@dataclass(slots=True)
class Forecast:
    """What the rest of the phase comes to. Mission elapsed seconds."""

    phase: Phase
    timed: Timed
    """The rest of the plan; actions that are over are left out of its steps."""
    trace: Trace
    """What was recorded, then what is to come."""
    spells: list[Spell]
    readings: dict[int, list[Reading]]
    findings: list[Finding]
    """What the rest will bring, without what the log itself brought."""
    refused: list[Refused] = field(default_factory=list)
    not_when: set[str] = field(default_factory=set)
    """Get-aheads whose preconditions will not hold."""

    @property
    def end_s(self) -> int:
        """When the phase will be over."""
        return self.trace.end_s

    @property
    def behind_s(self) -> int:
        """How much later than planned that is; negative: earlier."""
        return self.end_s - self.phase.timed.end_s

    @property
    def exceeded(self) -> set[tuple[int, int]]:
        """The (service, clock number) of the clocks that some outage overruns."""
        return {
            (self.spells[n].service, reading.number)
            for n, readings in self.readings.items()
            for reading in readings
            if reading.margin_s < 0
        }


def forecast(
    tracked: Tracked, now_s: int, get_aheads: Sequence[str] = (), which: int = LIKELY
) -> Forecast:
    """Return what the rest of the phase begun last will do, if it goes by its estimates.

    What is over stays as it was recorded. An action whose workers and predecessors are free
    already is taken to be under way since, but never to be over before now.

    Args:
        tracked: the log folded; at least one phase has begun.
        now_s: mission elapsed time; the rest begins here.
        get_aheads: ids of get-aheads that enter.
        which: 0 best, 1 likely, 2 worst estimates.
    """
    phase = tracked.phases[-1]
    plan, before, under_way_s = _rest(tracked, phase, now_s, frozenset(get_aheads))

    def duration(task: Task) -> int:
        return max(0, task.durations_s[which] - under_way_s.get(task.serial, 0))

    timed = time_phase(plan, before, phase.start_s, duration)
    timed.moments = [moment for moment in timed.moments if moment.task.serial != PAST]
    config = tracked.fold.config.copy()
    ahead = Trace(tracked.ground.wiring, config, ())
    fold = BelievingFold(ahead, config, keep_going=True, down=tracked.fold.said_down)
    known = len(ahead.findings)
    when = {a.id: a.when for a in phase.procedure.get_aheads if a.id in get_aheads}
    not_when = set()
    for moment in timed.moments:
        name = plan.steps[moment.task.step].get_ahead
        for item, words in when.pop(name, {}).items():
            if not holds(config, fold.views, item, words):
                not_when.add(name)
        fold.moment(moment, plan)
    past = tracked.trace
    joint = Trace(
        past.wiring,
        past.start,
        past.start_views,
        phases=past.phases,
        events=[*past.events, *ahead.events],
        refused=ahead.refused,
        end=config,
        end_views=tuple(fold.views),
        end_s=max(now_s, timed.end_s),
    )
    spells = outages(joint, dark_min(tracked))
    readings = read_clocks(tracked.ground.baseline, joint, spells)
    clocks = Findings()
    exceeded(joint, spells, readings, clocks)
    found = [*list(ahead.findings)[known:], *clocks]
    return Forecast(phase, timed, joint, spells, readings, found, ahead.refused, not_when)


def _rest(
    tracked: Tracked, phase: Phase, now_s: int, wanted: frozenset[str]
) -> tuple[Plan, list[set[int]], dict[int, int]]:
    """Return the plan of what is still to do, its order, and seconds actions are under way."""
    begun = {step for number, step, _ in tracked.answered if number == phase.number}
    kept = [
        step
        for step in phase.plan.steps
        if not step.get_ahead or step.get_ahead in wanted or step.id in begun
    ]
    past = _past(phase, now_s)
    moved = [_moved(step, n) for n, step in enumerate(kept, start=1)]
    whole = Plan(phase.number, phase.procedure, [past, *moved])
    before = predecessors(whole, Findings())
    assert before is not None, "the plan was checked before the log was opened"
    ended_s = _ended(tracked, phase)
    steps = [past]
    for step in moved:
        tasks = tuple(task for _, task in tracked.open_tasks(phase, step))
        over = not tasks
        before[step.position] = {0} if over else before[step.position] | {0}
        steps.append(replace(step, document=_document(step, over, ended_s, phase), tasks=tasks))
    plan = Plan(phase.number, phase.procedure, steps)
    return plan, before, _under_way(tracked, plan, before, ended_s, phase, now_s)


def _past(phase: Phase, now_s: int) -> PlannedStep:
    """Return the step that lasts until now: whatever is still to do comes after it."""
    elapsed = max(0, now_s - phase.start_s)
    address = Address(phase.number + 1)
    action = Action(wait=elapsed / SECONDS_PER_MIN)
    spent = (elapsed, elapsed, elapsed)
    task = Task(phase.number, PAST, 0, "", "wait", action, (), spent, address)
    return PlannedStep(0, "", Step(id="past"), (), (task,), address)


def _moved(step: PlannedStep, position: int) -> PlannedStep:
    tasks = tuple(replace(task, step=position) for task in step.tasks)
    return replace(step, position=position, tasks=tasks)


def _ended(tracked: Tracked, phase: Phase) -> dict[str, int]:
    """Return step to when its last entry was over."""
    ended: dict[str, int] = {}
    for row in tracked.played:
        if row.entry.phase == phase.number and row.entry.step:
            ended[row.entry.step] = max(row.end_s, ended.get(row.entry.step, row.end_s))
    return ended


def _document(step: PlannedStep, over: bool, ended_s: dict[str, int], phase: Phase) -> Step:
    """Return a step without the leads that are counted from steps already over."""
    if over:
        return Step(id=step.id, loses=step.document.loses)
    counted = {name: m for name, m in step.document.lead_min.items() if name in ended_s}
    if not counted:
        return step.document
    earliest = max(ended_s[name] + seconds(m) for name, m in counted.items()) - phase.zero_s
    if step.document.not_before is not None:
        earliest = max(earliest, parse_clock(step.document.not_before))
    left = {n: m for n, m in step.document.lead_min.items() if n not in counted}
    whole_minutes = clock(-(-earliest // 60) * 60)
    return step.document.model_copy(update={"lead_min": left, "not_before": whole_minutes})


def _under_way(
    tracked: Tracked,
    plan: Plan,
    before: list[set[int]],
    ended_s: dict[str, int],
    phase: Phase,
    now_s: int,
) -> dict[int, int]:
    """Return task serial to the seconds for which it may have been under way already."""
    free: dict[str, int] = {}
    for row in tracked.played:
        for worker in row.task.workers:
            free[worker] = max(row.end_s, free.get(worker, row.end_s))
    seen: set[str] = set()
    found: dict[int, int] = {}
    for step in plan.steps[1:]:
        if not step.tasks:
            continue
        first = step.tasks[0]
        mine = not seen & set(first.workers)
        seen.update(step.workers)
        if not mine or any(plan.steps[n].tasks for n in before[step.position] - {0}):
            continue
        since = [phase.start_s, *(free.get(worker, phase.start_s) for worker in first.workers)]
        since += [
            ended_s[plan.steps[n].id] for n in before[step.position] if plan.steps[n].id in ended_s
        ]
        if step.document.not_before is not None:
            since.append(phase.zero_s + parse_clock(step.document.not_before))
        found[first.serial] = max(0, now_s - max(since))
    return found


@dataclass(frozen=True, slots=True)
class Extra:
    """A get-ahead, and whether it fits."""

    id: str
    title: str
    adds_s: int
    """How much later the phase will be over with it."""
    why_not: str
    """Empty: it fits."""


def extras(tracked: Tracked, now_s: int, base: Forecast) -> list[Extra]:
    """Return the get-aheads not yet done, by priority, each on top of those that fit.

    One fits when what it needs will hold, nothing becomes impossible, and no clock is exceeded,
    that were not without it. Whether there is time for it is for people to say.
    """
    phase = base.phase
    done = {
        step.get_ahead
        for step in phase.plan.steps
        if step.get_ahead and any(s == step.id for _, s, _ in tracked.answered)
    }
    found: list[Extra] = []
    chosen: list[str] = []
    so_far = base
    for ahead in sorted(phase.procedure.get_aheads, key=lambda a: a.priority):
        if ahead.id in done:
            continue
        tried = forecast(tracked, now_s, [*chosen, ahead.id])
        why = _why_not(tracked, tried, so_far, ahead.id)
        found.append(Extra(ahead.id, ahead.title, tried.end_s - so_far.end_s, why))
        if not why:
            chosen.append(ahead.id)
            so_far = tried
    return found


def _why_not(tracked: Tracked, tried: Forecast, base: Forecast, name: str) -> str:
    if name in tried.not_when:
        return "what it needs will not hold"
    known = {(r.task.serial, r.text) for r in base.refused}
    for refused in tried.refused:
        if (refused.task.serial, refused.text) not in known:
            return f"step {refused.task.step_id} becomes impossible: {refused.text}"
    more = tried.exceeded - base.exceeded
    if more:
        services = tracked.ground.wiring.services
        return f"a clock is exceeded: {', '.join(sorted({services[s].id for s, _ in more}))}"
    return ""
