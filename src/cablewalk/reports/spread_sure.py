"""How sure the outages of the likely order are: what sampling adds to the report of outages."""

from __future__ import annotations

from functools import partial
from math import floor

from cablewalk.reports.outage import SomeRunsRow, Sure, Sureness
from cablewalk.reports.spread_gaps import gaps_of
from cablewalk.reports.spread_rows import likely_keys
from cablewalk.reports.thermal import Beyond
from cablewalk.timeline.spread import Spread
from cablewalk.timeline.spread_tally import Tally
from cablewalk.units import minutes


def sureness(found: Spread) -> Sureness:
    """Return, for each outage of the likely order, how sure it is, and the outages beside them."""
    account, network = found.engine.account, found.network
    keys = likely_keys(found)
    rows: dict[int, Sure] = {}
    for n, key in keys.items():
        spread = found.outages.get(key)
        if account.outages[n].said:
            continue  # only a verify ends it, and samples know no verifies
        if spread is None:
            rows[n] = Sure(None, 0.0, None)
            continue
        clocks = account.readings[n]
        over = max((spread.over.get(r.number, 0) for r in clocks), default=None)
        rows[n] = Sure(
            minutes(spread.lasted.at(0.9)),
            spread.runs / found.runs,
            None if over is None else over / found.runs,
        )
    known = set(keys.values())
    said = {spell.service for spell in account.outages if spell.said}
    others = [
        SomeRunsRow(
            service=account.trace.wiring.services[row.service].id,
            lost_by_step=row.lost.task.step_id if row.lost else None,
            lost_by_phase=network.plans[row.lost.task.phase].procedure.procedure
            if row.lost
            else None,
            p90_min=minutes(row.lasted.at(0.9)),
            chance=row.runs / found.runs,
        )
        for key, row in found.outages.items()
        if key not in known and row.service not in said
    ]
    others.sort(key=lambda row: (-row.chance, row.service))
    return Sureness(found.runs, rows, tuple(others), gaps_of(found))


def beyond_of(found: Spread) -> Beyond:
    """Return, for each outage of the likely order, how often it lasts past so many seconds."""

    def share(tally: Tally, allowed_s: float) -> float:
        return tally.over(floor(allowed_s)) / found.runs

    return {
        n: partial(share, found.outages[key].lasted)
        for n, key in likely_keys(found).items()
        if key in found.outages
    }
