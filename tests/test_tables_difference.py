"""Whatever happens in between: before and difference together give after.

Random hardware and random legal actions (``tests/generate.py``); what the tables by half and end
to end show is compared with what the rows of the difference say.
"""

from __future__ import annotations

from collections.abc import Iterable
from types import SimpleNamespace
from typing import Any, cast

from generate import Bench, Driver, benches
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cablewalk.continuity.services import Continuity
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.reports.table_difference import change_rows
from cablewalk.reports.table_half import HalfRow, half_rows
from cablewalk.reports.table_moment import Moment
from cablewalk.reports.table_way import WayRow, way_table
from cablewalk.reports.table_ways import way_change_rows
from cablewalk.walk.scene import Scene
from cablewalk.walk.trace import View

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]
ACTIONS = 6


def moment(bench: Bench, config: Configuration, events: list[Any]) -> Moment:
    """Return a moment; of the account the difference asks only what happened."""
    config = config.copy()
    continuity = Continuity(config)
    views = tuple(
        View(
            continuity.states[n],
            config.life[n],
            tuple(continuity.verdicts[s].standing for s in service.strings),
            (),
        )
        for n, service in enumerate(config.wiring.services)
    )
    account = cast(Any, SimpleNamespace(trace=SimpleNamespace(events=events)))
    scene = Scene(bench.ground.baseline, config, views)
    return Moment(account, scene, len(events), cast(Any, None))


def event(changes: tuple[Change, ...]) -> Any:
    return SimpleNamespace(changes=changes)


def shown(rows: Iterable[HalfRow]) -> dict[tuple[str, str], str]:
    """Return (id, fact) to what the table by half shows of legs, caps and free halves."""
    found = {}
    for row in rows:
        if row.leg is not None:
            found[row.half, "mated to"] = row.mated_to
            found[row.half, "state"] = row.state if row.mated_to else ""
            found[row.half, "leg state"] = row.leg.state
            found[row.half, "where"] = row.leg.where
            found[row.leg.segment, "along"] = " ".join(row.leg.along)
            found[row.leg.segment, "ties"] = " ".join(row.leg.ties)
        for cap in row.caps:
            found[cap.cap, "cap state"] = cap.state
            found[cap.cap, "cap where"] = cap.where
    return found


def ways(rows: Iterable[WayRow]) -> set[Any]:
    return {(row.start, row.end, pairs(row.hops)) for row in rows}


def pairs(hops: Any) -> Any:
    return tuple((hop.near, hop.far, hop.contacts) for hop in hops)


@st.composite
def two_moments(draw: st.DrawFn) -> tuple[Moment, Moment]:
    bench = draw(benches())
    driver = Driver(draw, bench.ground)
    events: list[Any] = []
    before = moment(bench, driver.config, events)
    split = draw(st.integers(0, ACTIONS))
    for n, happened in enumerate(driver.events(ACTIONS)):
        events.append(event(happened.changes))
        if n == split:
            before = moment(bench, driver.config, events)
    return before, moment(bench, driver.config, events)


@given(two_moments())
@settings(max_examples=40, suppress_health_check=SLOW)
def test_before_and_difference_give_after(moments: tuple[Moment, Moment]) -> None:
    before, after = moments
    rows = change_rows(before, after)
    facts = [fact for row in rows for fact in row.facts]
    assert len({(fact.item, fact.fact) for fact in facts}) == len(facts), "a fact stands twice"
    known, wanted = shown(half_rows(before)), shown(half_rows(after))
    for fact in facts:
        assert known.get((fact.item, fact.fact), fact.before) == fact.before
        assert wanted.get((fact.item, fact.fact), fact.after) == fact.after
        assert fact.before != fact.after
        known[fact.item, fact.fact] = fact.after
    assert {key: known.get(key) for key in wanted} == wanted
    mates = {row.half: row.mated_to for row in half_rows(after) if row.mated_to}
    assert all(mates[mate] == half for half, mate in mates.items())


@given(two_moments())
@settings(max_examples=40, suppress_health_check=SLOW)
def test_ways_before_and_difference_give_ways_after(moments: tuple[Moment, Moment]) -> None:
    before, after = moments
    old, new = way_table(before), way_table(after)
    assert not old.left_off and not new.left_off
    known = ways(old.rows)
    for row in way_change_rows(old, new, change_rows(before, after)):
        gone = {(row.start, row.end, pairs(hops)) for hops in row.was}
        assert gone <= known
        known = (known - gone) | {(row.start, row.end, pairs(hops)) for hops in row.now}
    assert known == ways(new.rows)


@given(two_moments())
@settings(max_examples=40, suppress_health_check=SLOW)
def test_a_moment_differs_in_nothing_from_itself(moments: tuple[Moment, Moment]) -> None:
    for each in moments:
        table = way_table(each)
        assert change_rows(each, each) == ()
        assert way_change_rows(table, table, ()) == ()


@given(two_moments())
@settings(max_examples=40, suppress_health_check=SLOW)
def test_a_join_that_was_opened_is_told(moments: tuple[Moment, Moment]) -> None:
    """A free half mated as before whose link was written in between stands as disturbed."""
    before, after = moments
    rows = change_rows(before, after)
    told = {row.item for row in rows if row.facts} | {
        row.item for row in rows if row.section == "disturbed"
    }
    wiring = after.scene.wiring
    changes = [
        change
        for entry in after.account.trace.events[before.position : after.position]
        for change in entry.changes
    ]
    kept = {row.half: row.mated_to for row in half_rows(before) if row.leg and row.mated_to}
    for change in changes:
        name = wiring.items[change.item].id
        if wiring.items[change.item].kind == "half" and change.field == 1 and name in kept:
            assert name in told
