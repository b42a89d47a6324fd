"""Phase limits: what is left of them, and the chance of exceeding them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cablewalk.documents.phase_limits import Consumables, Decision
from cablewalk.schedule.order import Timed
from cablewalk.timeline.account import Account
from cablewalk.timeline.limits_given import Limit, Missing, limits_of
from cablewalk.timeline.spread import Spread
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import parse_clock

P90 = 0.9
P50 = 0.5


@dataclass(frozen=True, slots=True)
class Judged:
    """One limit of a phase against all runs. Seconds on the phase's own clock.

    Attributes:
        what: ``consumables``, ``turn-back`` or ``decision``.
        name: id of the decision point, or empty.
        step: the step that must have begun (turn-back) or be over (decision); empty for the
            whole phase.
        when: when that comes about.
        likely_s: when it does by likely estimates.
    """

    phase: int
    what: str
    name: str
    step: str
    limit_s: int
    source: str
    otherwise: str
    when: Tally
    likely_s: int

    @property
    def margin_s(self) -> int:
        """What is left in nine runs of ten; negative: exceeded."""
        return self.limit_s - self.when.at(P90)

    @property
    def chance_over(self) -> float:
        """The share of runs in which the limit is exceeded."""
        return self.when.over(self.limit_s) / self.when.number


def judge_limits(found: Spread) -> tuple[list[Judged], list[Missing]]:
    """Return every limit of every phase against the runs, and what is not judged."""

    def moment(limit: Limit) -> Tally:
        row = None if limit.step is None else found.steps[limit.phase][limit.step]
        when = (
            found.finish_pet[limit.phase]
            if row is None
            else row.begin_pet
            if limit.begins
            else row.end_pet
        )
        assert when is not None, "the spread tallies what a limit asks for"
        return when

    phases = found.engine.account.trace.phases
    limits, missing = limits_of(phases)
    return [_judged(limit, phases[limit.phase], moment(limit)) for limit in limits], missing


def judge_likely(account: Account) -> list[Judged]:
    """Return every limit of every phase against the one run that has likely minutes throughout."""
    phases = account.trace.phases
    judged = []
    for limit in limits_of(phases)[0]:
        timed, tally = phases[limit.phase], Tally()
        tally.add(np.array([limit.likely_s(timed)], np.int32))
        judged.append(_judged(limit, timed, tally))
    return judged


def _judged(limit: Limit, timed: Timed, when: Tally) -> Judged:
    given = limit.given
    return Judged(
        limit.phase,
        limit.what,
        given.id if isinstance(given, Decision) else "",
        "" if isinstance(given, Consumables) else given.step,
        parse_clock(given.by_pet),
        given.source,
        given.otherwise if isinstance(given, Decision) else "",
        when,
        limit.likely_s(timed),
    )
