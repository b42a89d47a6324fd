"""Taking a conductor away never makes anything that was not made."""

from __future__ import annotations

import copy
from itertools import combinations
from typing import Any

import pytest
from generate import Bench, Driver, benches, runs
from hypothesis import assume, given, note
from hypothesis import strategies as st
from oracle import Hardware, Moment

from cablewalk.continuity.graph import sure_path
from cablewalk.continuity.services import Continuity
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.service import Service
from cablewalk.replay.configuration import Configuration
from cablewalk.walk.run import Ground, ready


def _without_a_run(data: st.DataObject, bench: Bench) -> Ground:
    """Return the same hardware with one run fewer, or with one contact fewer in a run."""
    document = copy.deepcopy(bench.document)
    runs = data.draw(st.sampled_from([row["runs"] for row in document["harnesses"].values()]))
    assume(runs)
    number = data.draw(st.integers(0, len(runs) - 1))
    words = runs[number].split()
    if len(words) > 2 and data.draw(st.booleans()):
        words.pop(data.draw(st.integers(0, len(words) - 1)))
        runs[number] = " ".join(words)
    else:
        note(f"without the run {runs[number]}")
        del runs[number]
    ground = ready(Baseline.model_validate(document))
    assert not ground.findings.has_errors
    return ground


def _same_on(config: Configuration, ground: Ground) -> Configuration:
    """Return the same states, links and claims on other wiring with the same items."""
    names = [(item.kind, item.id) for item in config.wiring.items]
    assert names == [(item.kind, item.id) for item in ground.wiring.items]
    twin = config.copy()
    twin.wiring = ground.wiring
    return twin


def _plain(service: Service) -> bool:
    return not any(
        strand.through or strand.parallel or any(li.through or li.parallel for li in strand.lines)
        for strand in service.strings.values()
    )


def _inputs_shorted(baseline: Baseline, config: Configuration) -> bool:
    hardware = Hardware(baseline)
    moment = Moment(hardware, config)
    return any(
        hardware.island[f"{unit}.{feed.input[1]}"] in moment.net(f"{unit}.{feed.input[0]}")
        for unit, feed in hardware.feeds.values()
        if feed.input
    )


def _removal_joins_nothing(bench: Bench, fewer: Ground, config: Configuration) -> None:
    """Terminals not surely joined before are not after: a line with no ``through`` is not made.

    With ``through`` it can be: "no island twice" counts islands, and taking a run away parts
    one island in two, so that a path that had to pass it twice is simple then.
    """
    less = _same_on(config, fewer)
    wiring = config.wiring
    for one, two in combinations(range(len(wiring.terminals)), 2):
        after = [fewer.wiring.terminals[t].island for t in (one, two)]
        before = [wiring.terminals[t].island for t in (one, two)]
        if sure_path(less, after[0], after[1]):
            ends = f"{wiring.terminals[one].name} to {wiring.terminals[two].name}"
            assert sure_path(config, before[0], before[1]), ends


def _removal_raises_nothing(bench: Bench, fewer: Ground, config: Configuration) -> None:
    """A service with its isolation intact is not raised by taking a conductor away.

    Stated so because a conductor can be the short, the cross-tie or the foreign join that
    holds a string down, or the short across a converter's input: without it things come up. So:
    no unwanted join in any string of the service, nor of those it needs; no input shorted; and
    no ``through`` or ``parallel`` (see above: parting an island can make such a line).
    """
    less = _same_on(config, fewer)
    before, after = Continuity(config), Continuity(less)
    services = bench.ground.baseline.services
    intact: set[int] = set()
    wiring = config.wiring
    if _inputs_shorted(bench.ground.baseline, config):
        return
    for n in wiring.service_order:
        row = wiring.services[n]
        faults = {t.kind for s in row.strings for t in before.verdicts[s].troubles}
        if "unwanted" in faults or not _plain(services[row.id]) or not intact.issuperset(row.needs):
            continue
        intact.add(n)
        for s in row.strings:
            assert after.verdicts[s].standing <= before.verdicts[s].standing, wiring.strings[s].id
        assert after.states[n] <= before.states[n], row.id


PROPERTIES = [_removal_joins_nothing, _removal_raises_nothing]
every_property = pytest.mark.parametrize(
    "check", PROPERTIES, ids=[check.__name__.strip("_") for check in PROPERTIES]
)


def _after_some_actions(check: Any, data: st.DataObject) -> None:
    bench = data.draw(benches())
    fewer = _without_a_run(data, bench)
    driver = Driver(data.draw, bench.ground, found=True)
    check(bench, fewer, driver.config)
    for happened in driver.events(3):
        note(f"{happened.begins} {happened.action.verb} {happened.action.argument}")
        check(bench, fewer, driver.config)


@every_property
@runs(40)
@given(data=st.data())
def test_conductor_taken_away(check: Any, data: st.DataObject) -> None:
    _after_some_actions(check, data)


@pytest.mark.soak
@every_property
@runs(2000)
@given(data=st.data())
def test_conductor_taken_away_soak(check: Any, data: st.DataObject) -> None:
    _after_some_actions(check, data)
