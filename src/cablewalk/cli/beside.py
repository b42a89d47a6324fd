"""What is told beside a replay: samples, temperatures, loads, where the documents give data."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cablewalk.cli.sampling import Sampled
    from cablewalk.documents.baseline import Baseline
    from cablewalk.findings import Finding
    from cablewalk.timeline.account import Account


SHORTS = ("short-circuit", "feeds-tied", "feeds-in-series")
"""Rules that hold whatever loads draw."""


class Given(NamedTuple):
    """What a baseline gives data for."""

    thermal: bool
    draws: bool


def given(baseline: Baseline) -> Given:
    """Return whether a baseline has thermal data of a zone, and draws of a unit."""
    places = baseline.places.values()
    return Given(
        any(zone.thermal for place in places for zone in place.zones.values()),
        any(unit.draws for place in places for unit in place.units.values()),
    )


def told_of_samples(account: Account, sample: Sampled) -> Account:
    """Return the account with what sampling finds, or likely minutes where nothing was sampled."""
    from cablewalk.timeline.account import with_findings

    if sample.found is not None:
        from cablewalk.timeline.limits import judge_limits
        from cablewalk.timeline.spread_findings import spread_findings

        return with_findings(account, spread_findings(sample.found, judge_limits(sample.found)[0]))
    if not any(procedure.phase_limits for procedure in account.procedures):
        return account
    from cablewalk.timeline.spread_findings import likely_findings

    return with_findings(account, likely_findings(account))


def told_of_estimates(account: Account) -> Account:
    """Return the account with what estimated temperatures and loads find."""
    from cablewalk.timeline.account import with_findings

    return with_findings(account, _estimated(account))


def _estimated(account: Account) -> Iterator[Finding]:
    """Yield what is estimated; of a baseline by itself circuits alone: nothing cools in no time."""
    baseline, trace = account.ground.baseline, account.trace
    has = given(baseline)
    if has.thermal and trace.phases:
        from cablewalk.timeline.thermal import zones

        yield from zones(baseline, trace, account.outages, account.readings).findings
    if has.draws:
        from cablewalk.timeline.electrical import loading

        yield from loading(baseline, trace).findings
    else:
        yield from _without_draws(account)


def told_of_shorts(account: Account) -> Account:
    """Return the account with what is told of circuits where documents give no draws."""
    from cablewalk.timeline.account import with_findings

    return with_findings(account, _without_draws(account))


def _without_draws(account: Account) -> Iterator[Finding]:
    """Yield what is wrong with circuits whatever their loads draw; and that these are not judged,
    where the baseline gives electrical data, so that somebody meant them to be.
    """
    yield from _shorts(account)
    baseline, wiring = account.ground.baseline, account.trace.wiring
    if "electrical" in baseline.model_fields_set:
        from cablewalk.timeline.loads_not_judged import loads_not_judged

        yield from loads_not_judged(baseline, wiring, range(len(wiring.strings)))


def _shorts(account: Account) -> Iterator[Finding]:
    """Yield shorts and ties of feeds.

    They are looked at, which takes numpy, only where the joins that are made could short a feed.
    """
    from cablewalk.timeline.could_short import could_short

    trace = account.trace
    if could_short(trace.start, (change for event in trace.events for change in event.changes)):
        from cablewalk.timeline.electrical import loading

        found = loading(account.ground.baseline, trace).findings
        yield from (finding for finding in found if finding.rule in SHORTS)
