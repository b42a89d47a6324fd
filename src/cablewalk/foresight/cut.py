"""A replay cut off at a moment: what is down then, and its clocks, as if nothing came after."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cablewalk.findings import Findings
from cablewalk.foresight.moments import Moment
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import Reading, read_clocks
from cablewalk.timeline.spells import Spell, outages_of


@dataclass(frozen=True, slots=True)
class Cut:
    """The outages of a replay up to a moment, each with the readings of its clocks.

    The deadlines are those of nobody doing anything: what a service needs and that is down too has
    to be brought back before it, whatever the plan would do.
    """

    moment: Moment
    spells: tuple[tuple[Spell, list[Reading]], ...]

    @property
    def down(self) -> list[tuple[Spell, list[Reading]]]:
        """The outages of services that are down and not reconnected."""
        return [row for row in self.spells if row[0].to_s is None]

    @property
    def recovering(self) -> list[tuple[Spell, list[Reading]]]:
        """The outages of services that are reconnected, and do not count as back yet."""
        now_s = self.moment.time_s
        return [
            row
            for row in self.spells
            if row[0].to_s is not None and row[0].to_s > now_s and not row[0].retired
        ]


def cut(account: Account, moment: Moment) -> Cut:
    """Return a replay cut off at a moment."""
    trace, baseline = account.trace, account.ground.baseline
    before = replace(
        trace,
        events=trace.events[: moment.position],
        phases=trace.phases[: moment.phase + 1],
        verified=[row for row in trace.verified if row[1] <= moment.time_s],
        findings=Findings(),
        end_s=moment.time_s,
    )
    spells = outages_of(before, baseline.now)
    readings = read_clocks(baseline, before, spells)
    return Cut(moment, tuple((spell, readings[n]) for n, spell in enumerate(spells)))
