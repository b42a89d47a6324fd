"""The rest of the plan, from how everything really stands: what it will still do, and when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cablewalk.findings import Finding, Findings
from cablewalk.replay.configuration import Configuration
from cablewalk.schedule.order import LIKELY, Timed, time_phase
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.asrun import dark_min, seen_up
from cablewalk.timeline.asrun_seen import as_seen
from cablewalk.timeline.clocks import Reading, exceeded, read_clocks
from cablewalk.timeline.part_engaged import left_part_engaged
from cablewalk.timeline.rest import PAST, rest_of
from cablewalk.timeline.spells import Spell, outages
from cablewalk.units import parse_clock, seconds
from cablewalk.walk.asrun import phase_of, plan_of
from cablewalk.walk.asrun_believe import BelievingFold
from cablewalk.walk.asrun_entry import Key
from cablewalk.walk.asrun_state import Phase, Tracked
from cablewalk.walk.run import close_phase
from cablewalk.walk.trace import Event, Refused, Trace
from cablewalk.walk.words import holds

WORST = 2
Ahead = tuple[int, str]
"""Number of the phase, from 0, and id of a get-ahead."""


@dataclass(frozen=True, slots=True)
class Coming:
    """A phase under way, or still to begin. Mission elapsed seconds."""

    phase: Phase
    timed: Timed
    """The rest of its plan; actions that are over are left out of its steps."""
    end_s: int
    """When it will be over, or when it was."""
    planned_end_s: int
    """When it would be over, had everything gone as planned since the phase begun last began."""
    under_way_s: Mapping[int, int] = field(default_factory=dict)
    """Serial of each action taken to be under way to the seconds for which it may be so."""

    def begun_s(self, events: Sequence[Event]) -> dict[int, int]:
        """Return identity of an event to how many seconds before it such an action began.

        No sooner than its worst minutes allow, as for one that is over and nobody said when it
        began.
        """
        begins = ((e, e.task) for e in events if e.begins and e.task.phase == self.phase.number)
        return {
            id(event): min(self.under_way_s[task.serial], task.durations_s[WORST])
            for event, task in begins
            if task.serial in self.under_way_s
        }

    @property
    def behind_s(self) -> int:
        """How much later than planned it will be over; negative: earlier."""
        return self.end_s - self.planned_end_s


@dataclass(slots=True)
class Forecast:
    """What the rest of all phases comes to. Mission elapsed seconds."""

    phases: list[Coming]
    """The phase begun last, then those that have not begun."""
    trace: Trace
    """What was recorded, then what is to come."""
    spells: list[Spell]
    readings: dict[int, list[Reading]]
    findings: list[Finding]
    """What the rest will bring, without what the log itself brought."""
    refused: list[Refused] = field(default_factory=list)
    guilty: dict[Key, frozenset[str]] = field(default_factory=dict)
    """Phase and serial of what cannot be done to the ids of what stands in its way."""
    not_when: set[Ahead] = field(default_factory=set)
    """Get-aheads whose preconditions will not hold."""

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
    tracked: Tracked, now_s: int, get_aheads: Sequence[Ahead] = (), which: int = LIKELY
) -> Forecast:
    """Return what the rest of all phases will do, if it goes by its estimates.

    What is over stays as it was recorded. An action whose workers and predecessors are free
    already is taken to be under way since, but never to be over before now. A phase that has
    not begun starts from what the one before it will leave, ``gap_min`` after it is over.

    Args:
        tracked: the log folded; at least one phase has begun.
        now_s: mission elapsed time; the rest begins here.
        get_aheads: those that enter.
        which: 0 best, 1 likely, 2 worst estimates.
    """
    rest = play_rest(tracked, now_s, get_aheads, which)
    ahead, coming, config = rest.trace, rest.phases, rest.fold.config
    past = tracked.trace
    joint = Trace(
        past.wiring,
        past.start,
        past.start_views,
        phases=[*past.phases, *(row.timed for row in coming[1:])],
        events=[*past.events, *ahead.events],
        refused=ahead.refused,
        end=config,
        end_views=tuple(rest.fold.views),
        end_s=max(now_s, coming[-1].end_s),
    )
    # What was found down, and is verified in the rest, is back as it is verified: as in the log.
    seen = [*seen_up(tracked), *rest.fold.found_up]
    spells = as_seen(joint, outages(joint, dark_min(tracked)), seen)
    begun = coming[0].begun_s(ahead.events)
    readings = read_clocks(tracked.ground.baseline, joint, spells, tracked.dark_s, begun)
    clocks = Findings()
    exceeded(joint, spells, readings, clocks)
    found = [*rest.findings, *clocks]
    return Forecast(
        coming, joint, spells, readings, found, ahead.refused, rest.fold.guilty, rest.not_when
    )


@dataclass(slots=True)
class Rest:
    """The rest of all phases, folded."""

    fold: BelievingFold
    trace: Trace
    phases: list[Coming]
    not_when: set[Ahead]
    known: int
    """How many of the findings tell of how everything stands already."""

    @property
    def findings(self) -> list[Finding]:
        """What the rest brings."""
        return self.trace.findings.items[self.known :]


def play_rest(tracked: Tracked, now_s: int, get_aheads: Sequence[Ahead], which: int) -> Rest:
    """Fold the rest of all phases over a copy of how everything stands."""
    config = tracked.fold.config.copy()
    trace = Trace(tracked.ground.wiring, config, ())
    seen = tracked.fold
    fold = BelievingFold(
        trace, config, True, down=seen.said_down, up=seen.said_up, dead=seen.said_dead
    )
    coming = [_under_way(tracked, now_s, get_aheads, which)]
    rest = Rest(fold, trace, coming, set(), len(trace.findings))
    _play(fold, coming[0], get_aheads, rest.not_when)
    for _ in tracked.procedures[len(tracked.phases) :]:
        coming.append(_to_begin(tracked, config, coming[-1], now_s, get_aheads, which))
        _play(fold, coming[-1], get_aheads, rest.not_when)
    trace.findings.extend(left_part_engaged(config, coming[-1].phase))
    return rest


def _names(get_aheads: Sequence[Ahead], phase: int) -> frozenset[str]:
    return frozenset(name for number, name in get_aheads if number == phase)


def _under_way(tracked: Tracked, now_s: int, get_aheads: Sequence[Ahead], which: int) -> Coming:
    """Return the rest of the phase begun last."""
    phase = tracked.phases[-1]
    plan, before, under_way_s = rest_of(tracked, phase, now_s, _names(get_aheads, phase.number))

    def duration(task: Task) -> int:
        return max(0, task.durations_s[which] - under_way_s.get(task.serial, 0))

    timed = time_phase(plan, before, phase.start_s, duration)
    timed.moments = [moment for moment in timed.moments if moment.task.serial != PAST]
    # Where nothing is left, the time that has passed since is no part of the phase.
    end_s = timed.end_s if timed.moments else tracked.trace.end_s
    return Coming(phase, timed, end_s, phase.timed.end_s, under_way_s)


def _to_begin(
    tracked: Tracked,
    config: Configuration,
    last: Coming,
    now_s: int,
    get_aheads: Sequence[Ahead],
    which: int,
) -> Coming:
    """Return the phase after one, from the configuration that one leaves."""
    number = last.phase.number + 1
    procedure = tracked.procedures[number]
    gap = seconds(procedure.gap_min or 0)
    start_s = max(now_s, last.end_s + gap)
    zero_s = start_s - parse_clock(procedure.start_pet)
    phase = phase_of(tracked.ground, config, procedure, number, zero_s)
    names = _names(get_aheads, number)
    chosen = [a for a in procedure.get_aheads if a.id in names]
    plan, before = plan_of(tracked.ground, config, procedure, number, chosen)
    timed = time_phase(plan, before, start_s, lambda task: task.durations_s[which])
    length_s = phase.timed.end_s - start_s
    return Coming(phase, timed, timed.end_s, last.planned_end_s + gap + length_s)


def _play(
    fold: BelievingFold, coming: Coming, get_aheads: Sequence[Ahead], not_when: set[Ahead]
) -> None:
    """Fold the rest of a phase to its end; note the get-aheads whose preconditions do not hold."""
    number, plan = coming.phase.number, coming.timed.plan
    names = _names(get_aheads, number)
    when = {a.id: a.when for a in coming.phase.procedure.get_aheads if a.id in names}
    for moment in coming.timed.moments:
        name = plan.steps[moment.task.step].get_ahead
        for item, words in when.pop(name, {}).items():
            if not holds(fold.config, fold.views, item, words):
                not_when.add((number, name))
        fold.moment(moment, plan)
    close_phase(fold, coming.phase.procedure, number)
