"""A configuration written out as ``now`` and read back is the same configuration."""

from __future__ import annotations

import pytest
from generate import Driver, benches, runs
from hypothesis import given, note
from hypothesis import strategies as st

from cablewalk.findings import Findings
from cablewalk.replay.snapshot import now_of
from cablewalk.replay.start import start_configuration


def _identity(data: st.DataObject, found: bool) -> None:
    bench = data.draw(benches())
    driver = Driver(data.draw, bench.ground, found)
    for happened in driver.events(6, overlap=False):
        note(f"{happened.begins} {happened.action.verb} {happened.action.argument}")
    findings = Findings()
    baseline = bench.ground.baseline.model_copy(update={"now": now_of(driver.config)})
    again = start_configuration(baseline, bench.ground.wiring, findings)
    assert not findings.has_errors, [f.sentence() for f in findings]
    for name in ("state", "link", "count", "ties", "along", "claim", "disturbed", "life"):
        one, two = getattr(driver.config, name), getattr(again, name)
        if len(one) == len(driver.wiring.items):
            items = driver.wiring.items
            differ = {
                (items[n].kind, items[n].id): (a, b)
                for n, (a, b) in enumerate(zip(one, two, strict=True))
                if a != b
            }
            assert not differ, name
    assert again == driver.config


@given(data=st.data())
@runs(5)
def test_running_action_is_refused(data: st.DataObject) -> None:
    """While an action runs a configuration cannot be written out."""
    driver = Driver(data.draw, data.draw(benches()).ground)
    for happened in driver.events(2):
        if happened.begins and happened.effect.items:
            with pytest.raises(ValueError, match="action at work"):
                now_of(driver.config)


@pytest.mark.parametrize("found", [False, True], ids=["legal", "found"])
@runs(40)
@given(data=st.data())
def test_now_read_back(found: bool, data: st.DataObject) -> None:
    _identity(data, found)


@pytest.mark.soak
@pytest.mark.parametrize("found", [False, True], ids=["legal", "found"])
@runs(2000)
@given(data=st.data())
def test_now_read_back_soak(found: bool, data: st.DataObject) -> None:
    _identity(data, found)
