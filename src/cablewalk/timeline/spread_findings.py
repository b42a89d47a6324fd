"""What sampling finds and likely estimates do not: clocks and limits that many samples exceed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cablewalk.findings import Address, Finding, Severity
from cablewalk.timeline.account import Account
from cablewalk.timeline.handed import handed
from cablewalk.timeline.limits import P50, P90, Judged, judge_likely
from cablewalk.timeline.spread import OutageSpread, Spread
from cablewalk.units import clock, clock_up, seconds

_WHERE = {"consumables": ("consumables",), "turn-back": ("turn_back",)}
_WHAT = {
    "consumables": "{phase} is over",
    "turn-back": "step {step} of {phase}, the way back, begins",
    "decision": "step {step} of {phase} is over",
}


def spread_findings(found: Spread, judged: Sequence[Judged]) -> Iterator[Finding]:
    """Yield what is to be said of limits and clocks; ``judged``: the limits of the phases."""
    for row in judged:
        late = _late_s(row)
        if late is None:
            continue
        at_s, how, severity = late
        share = f"; exceeded in {100 * row.chance_over:.1f} % of the runs"
        yield _late(found.engine.account, row, at_s, how, severity, share)
    yield from _clock_findings(found)
    yield from _loss_findings(found)


def likely_findings(account: Account) -> Iterator[Finding]:
    """Yield an error for each limit of a phase that likely minutes alone exceed."""
    if not any(procedure.phase_limits for procedure in account.procedures):
        return
    for row in judge_likely(account):
        late = _late_s(row)
        if late is not None:
            yield _late(account, row, *late, "")


def _late_s(row: Judged) -> tuple[int, str, Severity] | None:
    """Return when a limit is exceeded, by what reckoning, and how much that weighs; or None.

    An error where likely minutes or most runs exceed it, a warning where fewer than nine runs of
    ten keep it.
    """
    if row.likely_s > row.limit_s:
        return row.likely_s, "by likely estimates", Severity.ERROR
    if row.when.at(P50) > row.limit_s:
        return row.when.at(P50), "at P50", Severity.ERROR
    if row.when.at(P90) > row.limit_s:
        return row.when.at(P90), "at P90", Severity.WARNING
    return None


def _late(
    account: Account, row: Judged, at_s: int, how: str, severity: Severity, share: str
) -> Finding:
    procedure = account.procedures[row.phase]
    path: tuple[str | int, ...] = _WHERE.get(row.what, ())
    if row.what == "decision":
        assert procedure.phase_limits is not None, "a limit that is judged is given"
        names = [decision.id for decision in procedure.phase_limits.decisions]
        path = ("decisions", names.index(row.name))
    name = f"{row.what} {row.name}".strip()
    return Finding(
        "phase-limit-exceeded",
        severity,
        Address(row.phase + 1, ("phase_limits", *path)),
        f"{_WHAT[row.what].format(phase=procedure.procedure, step=row.step)} at {clock_up(at_s)} "
        f"{how}",
        expected=f"{name} by {clock(row.limit_s)}",
        difference=f"{clock_up(at_s - row.limit_s)} too late{share}",
        way_out=row.otherwise or "shorten the work before it, or leave some for another phase",
        step=row.step or None,
        source=row.source,
    )


def _clock_findings(found: Spread) -> Iterator[Finding]:
    """Yield a finding for each clock that more than one sample in ten overruns.

    One that likely estimates overrun already is told by them.
    """
    account = found.engine.account
    told = {
        (account.outages[n].service, reading.number)
        for n, readings in account.readings.items()
        for reading in readings
        if reading.margin_s < 0
    }
    for (service, k), over in sorted(found.over.items()):
        chance = over / found.runs
        if (service, k) in told or chance <= 1 - P90:
            continue
        own = [row for row in found.outages.values() if row.service == service]
        worst = max(own, key=lambda row: row.over.get(k, 0))
        yield _finding(found, service, k, chance, worst)


def _finding(found: Spread, service: int, k: int, chance: float, worst: OutageSpread) -> Finding:
    account = found.engine.account
    row = account.trace.wiring.services[service]
    given = account.ground.baseline.services[row.id].clocks[k]
    task = worst.lost.task if worst.lost else None
    used, dark_s = handed(account.ground.baseline, row.id).used_s[k], worst.lasted.at(P90)
    several = sum(other.service == service for other in found.outages.values()) > 1
    accumulates = given.resets_after_up_min is None and (used > 0 or several)
    which = clock(seconds(given.allowed_min))
    whole = ", in one or another of its outages" if several else ""
    longest = "the one that does so most often" if several else "it"
    return Finding(
        "clock-overrun-likely",
        Severity.ERROR if chance > P50 else Severity.WARNING,
        task.address if task else Address(0, row.path),
        f"{row.id} overruns its clock of {which} in {100 * chance:.1f} % of the samples{whole}: "
        f"at P90 {longest} is dark {clock_up(dark_s)}"
        + (", earlier outages not counted" if accumulates else ""),
        expected=f"at most {which} ({given.source}) in nine samples of ten",
        difference="by likely estimates alone it is within",
        way_out="reconnect earlier, shorten the work between, or power it another way",
        step=task.step_id if task else None,
        items=(row.id,),
        source=given.source,
    )


def _loss_findings(found: Spread) -> Iterator[Finding]:
    """Yield a finding for each loss that nothing plans, and more than one sample in ten has.

    One that likely minutes have is told by the replay.
    """
    account = found.engine.account
    known = {
        (spell.service, spell.lost_by.task.phase, spell.lost_by.task.serial)
        for spell in account.outages
        if spell.lost_by is not None
    }
    for row in found.outages.values():
        chance = row.runs / found.runs
        if row.lost is None or chance <= 1 - P90:
            continue
        task = row.lost.task
        if (row.service, task.phase, task.serial) in known:
            continue
        name = account.trace.wiring.services[row.service].id
        procedure = account.procedures[task.phase]
        plans = {p.id: p.document.loses for p in account.trace.phases[task.phase].plan.steps}
        if name in procedure.planned_outages or name in plans[task.step_id]:
            continue
        yield Finding(
            "unplanned-loss-likely",
            Severity.ERROR if chance > P50 else Severity.WARNING,
            task.address,
            f"{name} goes down in {100 * chance:.1f} % of the samples, and nothing plans it",
            expected=f"{name} stays up in whatever order the work falls, or the step says "
            f"'loses: {name}'",
            difference="by likely minutes alone it stays up",
            way_out="let one step wait for the other (after), or plan the outage",
            step=task.step_id,
            items=(name,),
        )
