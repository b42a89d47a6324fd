"""As run: what was recorded, folded over the configuration the plan starts from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from cablewalk.documents.actions import Action
from cablewalk.documents.procedure import GetAhead, Procedure, Step
from cablewalk.findings import Address, Findings, nearest
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.references import check_references
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import predecessors, time_phase
from cablewalk.schedule.tasks import Plan, PlannedStep, Task, plan_phase
from cablewalk.units import parse_clock
from cablewalk.walk.asrun_entry import OVER, Entry, corrected
from cablewalk.walk.asrun_fold import AsRunFold, label, log_address
from cablewalk.walk.asrun_state import Phase, Tracked
from cablewalk.walk.asrun_told import broken_by_correction, tell
from cablewalk.walk.asrun_when import in_order, minutes_of, when
from cablewalk.walk.run import Ground, close_phase
from cablewalk.walk.trace import Trace


def track(ground: Ground, procedures: Sequence[Procedure], entries: Iterable[Entry]) -> Tracked:
    """Fold entries over a baseline made ready, in the order in which things happened.

    Never refuses: what contradicts the model, the plan or the log itself is a finding. The
    documents must be free of faults that forbid a replay.
    """
    recorded = tuple(entries)
    tracked = _fold(ground, procedures, recorded)
    tell(tracked)
    impossible = {k for k, o in tracked.fold.overrides.items() if o.refusal}
    if impossible and tracked.effective.corrected:
        first = _fold(ground, procedures, [e for e in recorded if e.corrects is None])
        already = {k for k, o in first.fold.overrides.items() if o.refusal}
        broken_by_correction(tracked, impossible - already)
    return tracked


def _fold(ground: Ground, procedures: Sequence[Procedure], recorded: Sequence[Entry]) -> Tracked:
    effective = corrected(recorded)
    begins = {e.phase: e for e in effective.entries if e.kind == "begin"}
    zero = begins[0].utc_s if 0 in begins else 0
    trace = Trace(ground.wiring, ground.config, ())
    trace.findings.extend(ground.findings)
    number_of, now = ground.wiring.service_by_id, ground.baseline.now
    dark = [number_of[name] for name, minutes in now.dark_min.items() if minutes]
    found_down = [number_of[name] for name in now.found_down]
    fold = AsRunFold(trace, ground.config.copy(), dark, found_down)
    trace.start = fold.config.copy()
    tracked = Tracked(ground, tuple(procedures), tuple(recorded), effective, trace, fold, zero)
    for number, procedure in enumerate(procedures):
        if number not in begins:
            break
        began_s = tracked.mission_s(begins[number].utc_s)
        phase = phase_of(ground, fold.config, procedure, number, began_s)
        tracked.phases.append(phase)
        trace.phases.append(phase.timed)
        if number == 0 and begins[0].left_s is not None:
            tracked.dark_s = max(0, phase.start_s - tracked.mission_s(begins[0].left_s))
        _play(tracked, phase)
        if number + 1 in begins:
            close_phase(fold, procedure, number)
    trace.end = fold.config
    trace.end_views = tuple(fold.views)
    trace.end_s = max(
        [p.end_s for p in tracked.played] + [p.start_s for p in tracked.phases], default=0
    )
    return tracked


def phase_of(
    ground: Ground, config: Configuration, procedure: Procedure, number: int, zero_s: int
) -> Phase:
    """Return a phase that begins in a configuration; ``zero_s``: mission time of its PET 0:00."""
    start = zero_s + parse_clock(procedure.start_pet)
    bare = plan_of(ground, config, procedure, number, ())
    whole, before = plan_of(ground, config, procedure, number, procedure.get_aheads)
    whole = _without_detours(whole, bare[0])
    timed = time_phase(*bare, start)
    by_id = {step.id: step for step in whole.steps}
    return Phase(number, procedure, whole, before, timed, zero_s, by_id)


def _without_detours(whole: Plan, bare: Plan) -> Plan:
    """Return a plan whose own walks begin where they do if no get-ahead enters."""
    of = {step.id: step.tasks for step in bare.steps}
    return replace(
        whole,
        steps=[
            replace(
                step,
                tasks=tuple(
                    replace(task, durations_s=own.durations_s)
                    for task, own in zip(step.tasks, of[step.id], strict=True)
                ),
            )
            if step.id in of
            else step
            for step in whole.steps
        ],
    )


def plan_of(
    ground: Ground,
    config: Configuration,
    procedure: Procedure,
    number: int,
    get_aheads: Iterable[GetAhead],
) -> tuple[Plan, list[set[int]]]:
    """Return the plan of a phase from a configuration, with these get-aheads, and its order."""
    places = places_of(ground, config)
    scratch = Findings()
    chosen = sorted(get_aheads, key=lambda a: a.priority)
    people = list(ground.baseline.people)
    plan = plan_phase(procedure, number, ground.distances, places, people, scratch, chosen)
    before = predecessors(plan, scratch)
    assert before is not None, "the procedure was checked before the log was opened"
    return plan, before


def places_of(ground: Ground, config: Configuration) -> dict[str, str]:
    """Return person to place, of those who are at a place."""
    items = ground.wiring.items
    return {
        items[p].id: items[config.place_of(p)].id
        for p in ground.wiring.ids("person")
        if config.place_of(p) != NONE
    }


def unplanned(phase: Phase) -> PlannedStep:
    """Return the step that stands for whatever is in no step of the plan."""
    n = len(phase.plan.steps)
    return PlannedStep(n, "", Step(id="unplanned"), (), (), Address(phase.number + 1))


def task_of(phase: Phase, entry: Entry) -> Task:
    """Return an entry as a task of its phase; one in no step stands after all steps."""
    assert entry.action is not None
    verb = entry.action.verb
    step = phase.by_id.get(entry.step)
    position, name, address = len(phase.plan.steps), label(entry), log_address(entry)
    durations = minutes_of(phase.procedure, verb)
    if step is not None:
        position, name, address = step.position, step.id, step.address
        if entry.task is not None and 0 <= entry.task < len(step.tasks):
            address = step.tasks[entry.task].address
            durations = step.tasks[entry.task].durations_s
    action = _believed(entry)
    return Task(
        phase.number, entry.serial, position, name, action.verb, action, entry.actors, durations,
        address,
    )  # fmt: skip


def _believed(entry: Entry) -> Action:
    """Return what an entry did: seated with the lock verified is mated, whatever it is called."""
    action = entry.action
    assert action is not None
    if action.seat is not None and entry.lock_verified and entry.outcome in OVER:
        return action.model_copy(update={"seat": None, "mate": action.seat})
    return action


def _play(tracked: Tracked, phase: Phase) -> None:
    """Fold the entries of one phase."""
    plan = replace(phase.plan, steps=[*phase.plan.steps, unplanned(phase)])
    tasks: list[tuple[Entry, Task]] = []
    for entry in tracked.effective.entries:
        if entry.phase != phase.number or entry.kind != "action":
            continue
        task = task_of(phase, entry)
        if not is_sound(tracked, phase, task, entry):
            continue
        if entry.step and entry.task is not None:
            spot = (phase.number, entry.step, entry.task)
            tracked.answered.setdefault(spot, []).append(entry)
        if entry.outcome != "skipped":
            tasks.append((entry, task))
    played = when(tracked, phase, tasks)
    tracked.played.extend(played)
    fold = tracked.fold
    fold.entries.update({p.entry.key: p.entry for p in played})
    fold.ends_s.update({p.entry.key: p.end_s for p in played})
    for moment in in_order(phase, played):
        fold.moment(moment, plan)


def is_sound(tracked: Tracked, phase: Phase, task: Task, entry: Entry) -> bool:
    """Return whether the baseline knows all that an entry names; else note what it does not."""
    own = PlannedStep(0, task.step_id, Step(id="log"), task.workers, (task,), task.address)
    bare = phase.procedure.model_copy(
        update={"establishes": (), "planned_outages": {}, "get_aheads": ()}
    )
    found = Findings()
    check_references(tracked.ground.wiring, Plan(phase.number, bare, [own]), found, strings=True)
    for name in entry.actors:
        if name not in tracked.ground.baseline.people:
            found.error(
                "unknown-id",
                task.address,
                f"there is no person {name}",
                expected="one of the people of the baseline",
                way_out=nearest(name, list(tracked.ground.baseline.people)),
            )
    for finding in found:
        tracked.findings.add(
            replace(
                finding,
                found=f"{label(entry)}: {finding.found}",
                difference="the entry stands in the log, and nothing follows from it",
                step=task.step_id,
            )
        )
    return not found.has_errors
