"""Clocks: what each outage uses of the minutes a service may be down."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.service import Clock
from cablewalk.findings import Address, Finding, Findings, Severity
from cablewalk.timeline.handed import handed
from cablewalk.timeline.spells import Spell, start_s
from cablewalk.units import clock as h_mm
from cablewalk.units import clock_up, seconds
from cablewalk.walk.trace import Trace


class Reading(NamedTuple):
    """One clock at one outage. Seconds; times are mission elapsed time."""

    clock: Clock
    number: int
    runs_from_s: int | None
    """None: a clock that starts at the demate, and nothing was demated in this outage."""
    used_before_s: int
    used_s: int
    """What this outage uses."""
    spell: Spell
    """The outage."""

    @property
    def is_open(self) -> bool:
        """Whether it is not back as the replay ends."""
        return self.spell.to_s is None

    @property
    def lead_s(self) -> int:
        """From the end of the action that brings the service back until it counts as back."""
        return self.spell.lead_s

    @property
    def total_s(self) -> int:
        """All that is used, this outage included."""
        return self.used_before_s + self.used_s

    @property
    def margin_s(self) -> int:
        """What is left; negative when the clock is exceeded.

        Of an outage that is not back: what would be left if it were reconnected at the end.
        """
        still = self.lead_s if self.is_open and self.runs_from_s is not None else 0
        return seconds(self.clock.allowed_min) - self.total_s - still

    @property
    def runs_out_s(self) -> int | None:
        """The latest moment for the service to be back."""
        if self.runs_from_s is None:
            return None
        return self.runs_from_s + seconds(self.clock.allowed_min) - self.used_before_s

    @property
    def reconnect_by_s(self) -> int | None:
        """The latest moment for the action that brings it back to be over: it recovers then."""
        return None if self.runs_out_s is None else round(self.spell.latest_s(self.runs_out_s))

    @property
    def accumulates(self) -> bool:
        """Whether outages add up because no time resets this clock."""
        return self.clock.resets_after_up_min is None


def tightest(readings: Iterable[Reading]) -> Reading | None:
    """Return the clock with the least margin, those that run before those that do not; or None."""
    return min(readings, key=lambda r: (r.runs_from_s is None, r.margin_s), default=None)


def read_clocks(
    baseline: Baseline,
    trace: Trace,
    spells: list[Spell],
    since_s: int = 0,
    begun_s: Mapping[int, int] | None = None,
) -> dict[int, list[Reading]]:
    """Return the readings of every clock for each outage, keyed by the outage's position.

    Args:
        baseline: what the services are, and how their clocks stand.
        trace: the replay.
        spells: its outages.
        since_s: seconds from when the baseline's ``now`` was true to the start of the replay.
        begun_s: identity of an event to how many seconds before it its action is taken to have
            begun.
    """
    readings: dict[int, list[Reading]] = {n: [] for n in range(len(spells))}
    of: dict[int, list[int]] = {}
    for n, spell in enumerate(spells):
        of.setdefault(spell.service, []).append(n)
    for name, service in baseline.services.items():
        own = of.get(trace.wiring.service_by_id[name], [])
        if not own:
            continue
        before = handed(baseline, name).later(since_s)
        for k, clock in enumerate(service.clocks):
            used = before.used_s[k]
            first = start_s(trace)
            up_since = first - before.up_s
            last_end: int | None = None if spells[own[0]].lost_by is None else up_since
            for n in own:
                spell = spells[n]
                reset = clock.resets_after_up_min
                if (
                    reset is not None
                    and last_end is not None
                    and spell.from_s - last_end >= seconds(reset)
                ):
                    used = 0
                ran = before.ran_s(clock, first - spell.from_s) if spell.lost_by is None else None
                begins = first - ran if ran is not None else _begin(trace, spell, clock, begun_s)
                end = spell.to_s if spell.to_s is not None else trace.end_s
                spent = max(0, end - begins) if begins is not None else 0
                readings[n].append(Reading(clock, k, begins, used, spent, spell))
                used += spent
                last_end = spell.to_s
    return readings


def _begin(
    trace: Trace, spell: Spell, clock: Clock, begun_s: Mapping[int, int] | None
) -> int | None:
    """Return when a clock starts to run in an outage, in which it has not run before the replay."""
    if clock.starts == "power_off":
        return spell.from_s
    strings = frozenset(trace.wiring.services[spell.service].strings)
    for event in trace.events:
        if spell.lasts_at(event.time_s) and not strings.isdisjoint(event.joins_broken):
            return max(spell.from_s, event.time_s - (begun_s or {}).get(id(event), 0))
    return None


def exceeded(
    trace: Trace, spells: list[Spell], readings: dict[int, list[Reading]], findings: Findings
) -> None:
    """Add a finding for every clock an outage overruns, and for one whose start is not known."""
    for n, spell in enumerate(spells):
        row = trace.wiring.services[spell.service]
        if spell.lost_by is None and readings[n] and spell.from_s == start_s(trace):
            findings.warning(
                "dark-unknown",
                Address(0, row.path),
                f"{row.id} is down at the start, and nothing says since when",
                expected="dark_min under 'now': the minutes it has been down already",
                difference="its clock counts from the start: the margin told is the most it can be",
                way_out=f"add 'dark_min: {{{row.id}: MINUTES}}'",
                items=(row.id,),
            )
        for reading in readings[n]:
            if reading.margin_s >= 0:
                continue
            task = spell.lost_by.task if spell.lost_by else None
            findings.add(
                Finding(
                    "clock-exceeded",
                    Severity.ERROR,
                    task.address if task else Address(0, row.path),
                    f"{row.id} {_used(reading)}",
                    expected=f"at most {h_mm(seconds(reading.clock.allowed_min))} "
                    f"({reading.clock.source})",
                    difference=f"{clock_up(-reading.margin_s)} over"
                    + (", reconnected as the replay ends" if reading.is_open else ""),
                    way_out="reconnect earlier, shorten the work between, or power it another way",
                    step=task.step_id if task else None,
                    items=(row.id,),
                    source=reading.clock.source,
                )
            )


def _used(reading: Reading) -> str:
    """Return what an outage uses of a clock, in words."""
    text = f"is down {clock_up(reading.used_s)}"
    since_loss = reading.spell.lost_by is None and reading.runs_from_s == reading.spell.from_s
    if reading.clock.starts == "demate" and not since_loss:
        text = f"uses {clock_up(reading.used_s)} of its clock, from the demate on"
    if reading.used_before_s:
        text += f" ({clock_up(reading.total_s)} with earlier outages)"
    if not reading.is_open:
        return text
    text += " and is not back"
    return f"{text}; it takes {clock_up(reading.lead_s)} to recover" if reading.lead_s else text
