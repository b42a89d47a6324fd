"""How sure the outages of the likely order are: what sampling adds to the report of outages."""

from __future__ import annotations

from functools import partial
from math import floor

from cablewalk.reports.outage import SomeRunsRow, Sure, Sureness
from cablewalk.reports.spread_gaps import gaps_of
from cablewalk.reports.spread_rows import likely_keys
from cablewalk.reports.thermal import Beyond
from cablewalk.timeline.spread import OutageSpread, Spread
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import minutes, seconds


def sureness(found: Spread) -> Sureness:
    """Return, for each outage of the likely order, how sure it is, and the outages beside them."""
    account, network = found.engine.account, found.network
    keys = likely_keys(found)
    rows: dict[int, Sure] = {}
    for n, key in keys.items():
        spread = found.outages.get(key)
        if spread is None:
            rows[n] = Sure(None, 0.0, None, None, None)
            continue
        rows[n] = Sure(
            minutes(spread.lasted.at(0.9)),
            spread.runs / found.runs,
            *_over(found, spread),
            spread.not_back / found.runs,
        )
    known = set(keys.values())
    others = []
    for key, row in found.outages.items():
        if key in known:
            continue
        over, allowed = _over(found, row)
        others.append(
            SomeRunsRow(
                service=account.trace.wiring.services[row.service].id,
                lost_by_step=row.lost.task.step_id if row.lost else None,
                lost_by_phase=network.plans[row.lost.task.phase].procedure.procedure
                if row.lost
                else None,
                p90_min=minutes(row.lasted.at(0.9)),
                chance=row.runs / found.runs,
                chance_over=over,
                over_clock_min=allowed,
                chance_not_back=row.not_back / found.runs,
            )
        )
    others.sort(key=lambda row: (-row.chance, row.service))
    return Sureness(found.runs, rows, tuple(others), gaps_of(found))


def _over(found: Spread, row: OutageSpread) -> tuple[float | None, float | None]:
    """Return in which share of the runs an outage overruns a clock, and the minutes this allows.

    Of several clocks it is the one that it overruns most often, the tightest of equals.
    """
    account = found.engine.account
    service = account.trace.wiring.services[row.service].id
    clocks = [
        (row.over.get(n, 0), -seconds(given.allowed_min))
        for n, given in enumerate(account.ground.baseline.services[service].clocks)
    ]
    if not clocks:
        return None, None
    over, allowed_s = max(clocks)
    return over / found.runs, minutes(-allowed_s)


def beyond_of(found: Spread) -> Beyond:
    """Return, for each outage of the likely order, how often it lasts past so many seconds."""

    def share(tally: Tally, allowed_s: float) -> float:
        return tally.over(floor(allowed_s)) / found.runs

    return {
        n: partial(share, found.outages[key].lasted)
        for n, key in likely_keys(found).items()
        if key in found.outages
    }
