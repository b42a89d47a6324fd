"""After every change the engine agrees with itself begun afresh, and with the oracle.

The oracle (``tests/oracle.py``) is written from the contract (design.md part 1; DEVELOPERS.md,
"What the words decide"). Actions begin and end separately, several at once, ``found`` among them.
"""

from __future__ import annotations

from typing import Any

import pytest
from generate import Bench, Driver, Happened, benches, runs
from hypothesis import given, note
from hypothesis import strategies as st
from oracle import STRUCTURE, Hardware, Moment

from cablewalk.continuity.live import Liveness
from cablewalk.continuity.services import Continuity
from cablewalk.continuity.touched import touched_by
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.walk.watch import Watch

ACTIONS = 5


def told(happened: Happened) -> str:
    action = happened.action
    return f"{'begins' if happened.begins else 'ends'}: {action.verb} {action.argument}"


def verdicts(continuity: Continuity) -> dict[str, Any]:
    """Return how every string stands and what is wrong with it."""
    strings = continuity.config.wiring.strings
    return {
        string.id: (str(verdict.standing), sorted({(t.kind, t.rule) for t in verdict.troubles}))
        for string, verdict in zip(strings, continuity.verdicts, strict=True)
    }


def standings(continuity: Continuity) -> dict[str, str]:
    return {name: standing for name, (standing, _why) in verdicts(continuity).items()}


def states(continuity: Continuity) -> dict[str, str]:
    services = continuity.config.wiring.services
    return {s.id: str(state) for s, state in zip(services, continuity.states, strict=True)}


def live_contacts(config: Configuration, liveness: Liveness) -> dict[str, set[str]]:
    """Return for each feed the contacts of halves it may make live, structure left out."""
    wiring = config.wiring
    found: dict[str, set[str]] = {feed.id: set() for feed in wiring.feeds}
    for half in wiring.ids("half"):
        for position in range(len(wiring.joints[half])):
            island = liveness.at(half, position)
            for feed in () if island == NONE else liveness.of(island):
                found[wiring.feeds[feed].id].add(wiring.contact(half, position))
    return found


def oracle_live(hardware: Hardware, moment: Moment) -> dict[str, set[str]]:
    contacts = {
        f"{half}.{contact}"
        for half, names in hardware.contacts.items()
        if half not in hardware.parking and half not in hardware.baseline.caps
        for contact in names
    }
    return {
        feed: {c for c in contacts if hardware.island[c] in islands - {STRUCTURE}}
        for feed, islands in moment.live().items()
    }


# -- the engine agrees with itself -----------------------------------------------------


def _continuity_keeps_up(bench: Bench, driver: Driver) -> None:
    for happened in driver.events(ACTIONS):
        note(told(happened))
        fresh = Continuity(driver.config)
        assert verdicts(driver.continuity) == verdicts(fresh)
        assert states(driver.continuity) == states(fresh)
        assert driver.continuity.feed_up == fresh.feed_up


def _liveness_keeps_up(bench: Bench, driver: Driver) -> None:
    watch = Watch(driver.config, driver.continuity)
    for happened in driver.events(ACTIONS):
        note(told(happened))
        watch.update(happened.changes, touched_by(driver.config, happened.changes))
        fresh = live_contacts(driver.config, Liveness(driver.config))
        assert live_contacts(driver.config, watch.live) == fresh


# -- the engine agrees with the oracle -------------------------------------------------


def _same_services(hardware: Hardware, driver: Driver) -> None:
    moment = Moment(hardware, driver.config)
    fresh = Continuity(driver.config)
    assert standings(fresh) == {name: moment.standing(name) for name in hardware.strings}
    assert states(fresh) == moment.services()


def _services_as_the_oracle(bench: Bench, driver: Driver) -> None:
    hardware = Hardware(bench.ground.baseline)
    _same_services(hardware, driver)
    for happened in driver.events(ACTIONS):
        note(told(happened))
        _same_services(hardware, driver)


def _same_live(hardware: Hardware, driver: Driver) -> None:
    found = live_contacts(driver.config, Liveness(driver.config))
    assert found == oracle_live(hardware, Moment(hardware, driver.config))


def _live_as_the_oracle(bench: Bench, driver: Driver) -> None:
    hardware = Hardware(bench.ground.baseline)
    _same_live(hardware, driver)
    for happened in driver.events(ACTIONS):
        note(told(happened))
        _same_live(hardware, driver)


PROPERTIES = [
    _continuity_keeps_up,
    _liveness_keeps_up,
    _services_as_the_oracle,
    _live_as_the_oracle,
]
every_property = pytest.mark.parametrize(
    "check", PROPERTIES, ids=[check.__name__.strip("_") for check in PROPERTIES]
)


@every_property
@runs(60)
@given(data=st.data())
def test_after_every_change(check: Any, data: st.DataObject) -> None:
    bench = data.draw(benches())
    check(bench, Driver(data.draw, bench.ground, found=True))


@pytest.mark.soak
@every_property
@runs(2000)
@given(data=st.data())
def test_after_every_change_soak(check: Any, data: st.DataObject) -> None:
    bench = data.draw(benches())
    check(bench, Driver(data.draw, bench.ground, found=True))
