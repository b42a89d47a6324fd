"""The account of a log: outages and clocks of what was really done, up to a moment."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from cablewalk.findings import Finding, Findings
from cablewalk.timeline.account import Account
from cablewalk.timeline.asrun_seen import as_seen, seen_sooner
from cablewalk.timeline.clocks import exceeded, read_clocks
from cablewalk.timeline.lesser import lesser_spells
from cablewalk.timeline.routes import not_yet_up, turns
from cablewalk.timeline.spells import outages
from cablewalk.units import minutes, seconds
from cablewalk.walk.asrun_state import Tracked


def dark_min(tracked: Tracked) -> dict[str, float]:
    """Return for each service the minutes it was dark, if it was, before the first phase began.

    That is what the baseline says, and the time since the baseline's ``now`` was true.
    """
    baseline = tracked.ground.baseline
    said, since = baseline.now.dark_min, minutes(tracked.dark_s)
    return {
        name: 0 if is_upheld(tracked, name) else said.get(name, 0) + since
        for name in baseline.services
    }


def is_upheld(tracked: Tracked, service: str) -> bool:
    """Return whether the baseline says that a service was dark for 0 minutes.

    So a baseline as left says of one that its joins have down, and that was found up all the same.
    """
    return tracked.ground.baseline.now.dark_min.get(service) == 0


def seen_up(tracked: Tracked) -> list[tuple[int, int]]:
    """Return each time somebody saw a service up: (service, mission elapsed seconds)."""
    return [*tracked.trace.verified, *tracked.fold.found_up]


def _since(tracked: Tracked, finding: Finding) -> Finding:
    """Return a finding on a service that was dark as handed over: since when, not that it is odd.

    The baseline is as it was left, and nothing is to be corrected in it.
    """
    if finding.rule != "down-at-start" or not tracked.phases:
        return finding
    if is_upheld(tracked, finding.items[0]):
        return replace(
            finding,
            found=f"{finding.items[0]} is down by its joins, and "
            f"{tracked.ground.baseline.baseline} says that it was dark for 0 minutes: found up "
            "against them, or lost just then",
            expected="joins that agree with what was seen",
            way_out="see whether it is up: record it found up, find the join that is otherwise, "
            "and record that 'found' too",
        )
    dark = dark_min(tracked).get(finding.items[0], 0)
    if not dark:
        return finding
    since_s = tracked.phases[0].start_s - seconds(dark)
    since = datetime.fromtimestamp(tracked.zero_utc_s + since_s, UTC)
    base, now = tracked.ground.baseline.baseline, tracked.ground.baseline.now
    held = "was found down, and is held so until it is verified or found up"
    return replace(
        finding,
        found=f"{finding.items[0]} is dark since {since:%Y-%m-%dT%H:%M:%SZ}, {dark / 60:.1f} h "
        f"before this log's first phase: it was so already in {base}",
        expected="",
        difference=held if finding.items[0] in now.found_down else finding.difference,
        way_out="its clock runs on: 'cablewalk asrun now' tells how long it may, "
        "'cablewalk asrun forecast' when it is likely back",
    )


def asrun_account(tracked: Tracked, now_s: int) -> Account:
    """Return the account of a log as of a moment, mission elapsed seconds.

    Its trace is that of the log, ending at that moment, or with the last entry if that is
    later; clocks exceeded by then are among its findings.
    """
    trace = replace(
        tracked.trace,
        end_s=max(tracked.trace.end_s, now_s),
        findings=Findings([_since(tracked, f) for f in tracked.trace.findings]),
    )
    seen = seen_up(tracked)
    spells = as_seen(trace, outages(trace, dark_min(tracked)), seen)
    trace.findings.extend(seen_sooner(trace, spells, seen))
    readings = read_clocks(tracked.ground.baseline, trace, spells, tracked.dark_s)
    clocks = Findings()
    exceeded(trace, spells, readings, clocks)
    # How long such a one was dark is said: not at all.
    trace.findings.extend(
        f for f in clocks if f.rule != "dark-unknown" or not is_upheld(tracked, f.items[0])
    )
    return Account(
        tracked.ground,
        tracked.procedures,
        trace,
        tuple(spells),
        readings,
        tuple(lesser_spells(trace, not_yet_up(spells, turns(trace, spells)))),
        (),
        (),
        (),
    )
