"""What was disturbed and not verified since, as left: it must be tested, now or once it is back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from pydantic import Field

from cablewalk.replay.change import Field as Table
from cablewalk.replay.configuration import ALIVE, RETIRED
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.reports.base import Part
from cablewalk.timeline.account import Account
from cablewalk.timeline.spells import Spell
from cablewalk.walk.trace import Event, View
from cablewalk.walk.watch import TOUCHING

Steps = frozenset[frozenset[int]]
"""Joined island pairs."""


class RetestRow(Part):
    """A service of which something was disturbed and not verified since."""

    service: str = Field(description="Id of the service.")
    state: str = Field(description="How it stands as left.")
    strings: tuple[str, ...] = Field(description="Its strings to be tested.")
    disturbed_by: tuple[str, ...] = Field(
        description="Steps and entries that disturbed it since; or the baseline, of what it owed."
    )
    not_back: bool = Field(
        description="It is down, or reconnected and still recovers: no test of it proves anything "
        "until it is back."
    )


def lasting(account: Account) -> list[tuple[int, Spell]]:
    """Return the outages that last as of the hand-over, recoveries too, with their positions."""
    end_s = account.trace.end_s
    return [
        (n, spell)
        for n, spell in enumerate(account.outages)
        if not spell.retired and (spell.to_s is None or spell.to_s > end_s)
    ]


def retest_rows(account: Account) -> tuple[RetestRow, ...]:
    """Return every service that owes a test as left, in the baseline's order."""
    trace, config = account.trace, account.trace.end
    assert config is not None
    rows = []
    causes = _causes(account)
    dark = {spell.service: spell for _, spell in lasting(account)}
    for n, service in enumerate(trace.wiring.services):
        strings = [s for s in service.strings if config.disturbed[s]]
        view = trace.end_views[n]
        if not strings or config.life[n] == RETIRED:
            continue
        by = dict.fromkeys(cause for s in strings for cause in causes.get(s, ()))
        state = view.words if view.life == ALIVE else "awaited"
        if n in dark:
            state = "down" if dark[n].to_s is None else "recovering"
        rows.append(
            RetestRow(
                service=service.id,
                state=state,
                strings=tuple(trace.wiring.strings[s].id for s in strings),
                disturbed_by=tuple(by),
                not_back=n in dark,
            )
        )
    return tuple(rows)


def _causes(account: Account) -> dict[int, list[str]]:
    """Return string to what disturbed it since it was last proved: steps, entries, the baseline."""
    trace = account.trace
    owed = f"{account.ground.baseline.baseline}, before this log"
    found = {s: [owed] for s, disturbed in enumerate(trace.start.disturbed) if disturbed}
    ways: dict[int, Steps] = {}
    for n, view in enumerate(trace.start_views):
        ways |= _ways(trace.wiring.services[n].strings, view)
    for event in trace.events:
        shaken = event.joins_broken | _parted(trace.wiring, event, ways)
        for shift in event.shifts:
            ways |= _ways(trace.wiring.services[shift.service].strings, shift.after)
        for change in event.changes:
            if change.field is not Table.DISTURBED:
                continue
            shaken |= {change.item} if change.new else set()
            if not change.new:
                found.pop(change.item, None)
        for string in shaken:
            found.setdefault(string, []).append(event.task.step_id)
    return found


def _ways(strings: Sequence[int], view: View) -> dict[int, Steps]:
    """Return which joins, as island pairs, each string that is up runs over."""
    return {
        string: frozenset(frozenset(step) for path in paths for step in pairwise(path))
        for string, paths in zip(strings, view.via, strict=True)
        if paths
    }


def _parted(wiring: Wiring, event: Event, ways: Mapping[int, Steps]) -> set[int]:
    """Return the strings that had run over a join an action begins to part.

    One that is down already no longer runs over the rest of its way, which is parted all the same.
    """
    if not event.begins or event.task.verb not in TOUCHING:
        return set()
    pairs = [(half, mate) for half, mate in event.mates.items() if mate != NONE]
    steps = {step for half, mate in pairs for step in wiring.join(half, mate).steps}
    return {string for string, way in ways.items() if not way.isdisjoint(steps)}
