"""Running a baseline through one or more procedures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import GetAhead, Procedure
from cablewalk.findings import Address, Findings
from cablewalk.replay.compile import compile_wiring
from cablewalk.replay.configuration import AWAITED, Configuration
from cablewalk.replay.references import check_limits, check_references
from cablewalk.replay.start import start_configuration
from cablewalk.replay.wiring import Wiring
from cablewalk.schedule.distance import Distances
from cablewalk.schedule.order import Timed, predecessors, time_phase
from cablewalk.schedule.tasks import Plan, plan_phase
from cablewalk.units import parse_clock, seconds
from cablewalk.walk.fold import Fold
from cablewalk.walk.trace import Trace
from cablewalk.walk.words import holds


@dataclass(slots=True)
class Ground:
    """A baseline made ready: wiring, configuration, and the findings of both."""

    baseline: Baseline
    wiring: Wiring
    config: Configuration
    findings: Findings

    @property
    def distances(self) -> Distances:
        """The paths between its places."""
        return Distances(
            (path.between[0], path.between[1], path.length_m)
            for path in self.baseline.paths.values()
        )


def ready(baseline: Baseline) -> Ground:
    """Compile a baseline; its faults are in the findings of what is returned."""
    findings = Findings()
    wiring = compile_wiring(baseline, findings)
    if findings.has_errors:
        return Ground(baseline, wiring, Configuration(wiring), findings)
    config = start_configuration(baseline, wiring, findings)
    return Ground(baseline, wiring, config, findings)


def replay(
    ground: Ground,
    procedures: Sequence[Procedure],
    keep_going: bool = False,
    get_aheads: int = 0,
) -> Trace:
    """Replay procedures, each from the state the one before left.

    Args:
        ground: the baseline made ready.
        procedures: the phases, in order.
        keep_going: skip what is impossible instead of stopping there.
        get_aheads: how many get-aheads enter at each procedure's mark, by priority, of those
            whose preconditions hold.

    Returns:
        The trace; ``unusable`` where the documents have faults that forbid a replay.
    """
    trace = Trace(ground.wiring, ground.config, ())
    trace.findings.extend(ground.findings)
    checked = [] if ground.findings.has_errors else _check(ground, procedures, trace)
    if trace.findings.has_errors:
        trace.unusable = True
        return trace
    config = ground.config.copy()
    fold = Fold(trace, config, keep_going)
    trace.start = config.copy()
    at = 0
    for phase, procedure in enumerate(procedures):
        start_s = _start(procedure, phase, at)
        chosen = _choose(ground, procedures[: phase + 1], get_aheads, trace)
        timed = _timed(ground, fold, procedure, phase, chosen, start_s, checked[phase])
        trace.phases.append(timed)
        trace.get_aheads.extend((phase, ahead.id) for ahead in chosen)
        _play(fold, timed)
        if trace.stopped:
            break
        close_phase(fold, procedure, phase)
        at = timed.end_s
    trace.end = config
    trace.end_views = tuple(fold.views)
    trace.end_s = trace.phases[-1].end_s if trace.phases else 0
    if trace.stopped:
        trace.end_s = trace.refused[-1].time_s
    return trace


def _start(procedure: Procedure, phase: int, at: int) -> int:
    if phase == 0:
        return parse_clock(procedure.start_pet)
    return at + seconds(procedure.gap_min or 0)


class _Checked(NamedTuple):
    """A phase as it was checked, with all its get-aheads in it."""

    places: dict[str, str]
    """Where the people were taken to be as it begins."""
    plan: Plan
    before: list[set[int]] | None


def _check(ground: Ground, procedures: Sequence[Procedure], trace: Trace) -> list[_Checked]:
    """Find the faults of the documents that forbid a replay; return the phases as planned."""
    checked = []
    places = _places(ground, ground.config)
    before = ground.baseline.baseline
    for phase, procedure in enumerate(procedures):
        findings = trace.findings
        begin = dict(places)
        plan = _plan(ground, procedure, phase, procedure.get_aheads, places, findings)
        check_references(ground.wiring, plan, findings)
        check_limits(plan, findings)
        checked.append(_Checked(begin, plan, predecessors(plan, findings)))
        if procedure.assumes is not None and procedure.assumes != before:
            findings.warning(
                "assumes-another",
                Address(phase + 1, ("assumes",)),
                f"{procedure.procedure} assumes {procedure.assumes}, but follows {before}",
                expected=procedure.assumes,
                difference=f"it starts from what {before} leaves",
                way_out="give the documents in the order they were written for",
            )
        if phase > 0 and procedure.gap_min is None:
            findings.error(
                "no-gap",
                Address(phase + 1, ("procedure",)),
                f"nothing says how long after {before} {procedure.procedure} begins",
                expected="gap_min: the minutes between the phases, for the clocks that run on",
                way_out=f"add 'gap_min' to {procedure.procedure}: 0 where it follows at once",
            )
        before = procedure.procedure
    return checked


def _places(ground: Ground, config: Configuration) -> dict[str, str]:
    wiring = ground.wiring
    return {
        wiring.items[p].id: wiring.items[config.place_of(p)].id
        for p in wiring.ids("person")
        if config.place_of(p) >= 0
    }


def _plan(
    ground: Ground,
    procedure: Procedure,
    phase: int,
    aheads: Sequence[GetAhead],
    places: dict[str, str],
    findings: Findings,
) -> Plan:
    known = list(ground.baseline.people)
    return plan_phase(procedure, phase, ground.distances, places, known, findings, aheads)


def _timed(
    ground: Ground,
    fold: Fold,
    procedure: Procedure,
    phase: int,
    chosen: Sequence[GetAhead],
    start_s: int,
    checked: _Checked | None = None,
) -> Timed:
    """Put a phase on the clock; the plan it was checked by is its own where nothing differs."""
    places = _places(ground, fold.config)
    if checked is not None and not procedure.get_aheads and checked.places == places:
        assert checked.before is not None, "the plan was checked before"
        return time_phase(checked.plan, checked.before, start_s)
    scratch = Findings()
    plan = _plan(ground, procedure, phase, chosen, places, scratch)
    before = predecessors(plan, scratch)
    assert before is not None, "the plan was checked before"
    return time_phase(plan, before, start_s)


def _play(fold: Fold, timed: Timed) -> None:
    for moment in timed.moments:
        fold.moment(moment, timed.plan)
        if fold.trace.stopped:
            return


def close_phase(fold: Fold, procedure: Procedure, phase: int) -> None:
    """Note what a phase (its number, from 0) was to bring up and did not, as it ends."""
    for n, name in enumerate(procedure.establishes):
        service = fold.config.wiring.service_by_id[name]
        if fold.config.life[service] == AWAITED:
            fold.trace.findings.error(
                "not-established",
                Address(phase + 1, ("establishes", n)),
                f"{procedure.procedure} was to bring up {name}, and ends without it",
                expected=f"{name} up at the end of the phase",
                difference=fold.continuity.why_down(service),
                way_out=f"finish its lines and feeds in {procedure.procedure}",
                items=(name,),
            )


# -- get-aheads -----------------------------------------------------------------------


def _choose(
    ground: Ground, procedures: Sequence[Procedure], count: int, trace: Trace
) -> list[GetAhead]:
    """Return the first ``count`` get-aheads, by priority, whose preconditions hold.

    Each is tried in a replay of its own: ``when`` must hold as its first task begins, and
    nothing may be refused that was not refused without it.
    """
    procedure = procedures[-1]
    chosen: list[GetAhead] = []
    if count <= 0 or not procedure.get_aheads:
        return chosen
    refused = _trial(ground, procedures, trace, chosen)
    for ahead in sorted(procedure.get_aheads, key=lambda a: a.priority):
        if len(chosen) == count:
            break
        tried = [*chosen, ahead]
        result = _trial(ground, procedures, trace, tried)
        if result is not None and refused is not None and result <= refused:
            chosen = tried
    return chosen


def _trial(
    ground: Ground, procedures: Sequence[Procedure], trace: Trace, aheads: Sequence[GetAhead]
) -> set[str] | None:
    """Replay the last phase with these get-aheads; return the steps refused.

    None where the ``when`` of one of them does not hold. The phases before are taken from
    the trace as they went.
    """
    phase = len(procedures) - 1
    config = trace.start.copy()
    for event in trace.events:
        config.apply(event.changes)
    scratch = Trace(ground.wiring, config, ())
    fold = Fold(scratch, config, True)
    timed = _timed(ground, fold, procedures[-1], phase, aheads, 0)
    wanted = {ahead.id: ahead.when for ahead in aheads}
    for moment in timed.moments:
        ahead_id = timed.plan.steps[moment.task.step].get_ahead
        if moment.begins and ahead_id in wanted:
            when = wanted.pop(ahead_id)
            if not all(holds(fold.config, fold.views, name, words) for name, words in when.items()):
                return None
        fold.moment(moment, timed.plan)
    return {r.task.step_id for r in scratch.refused}
