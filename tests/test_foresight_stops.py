"""Stops: what is down, live, half done and left if work stops, and how long it may stand still.

Every figure here is worked out by hand from the few minutes in the plans.
"""

from __future__ import annotations

from typing import Any

import pytest
from small import BENCH, LAMP, baseline, procedure

from cablewalk.documents.baseline import Baseline
from cablewalk.foresight.stops import Stop, stops
from cablewalk.timeline.account import account
from cablewalk.walk.trace import Trace

SWAP = """
minutes: {switch_off: 1, switch_on: 1, demate: 2, mate: 4, verify: 1, wait: 1}
steps:
- {id: dark, by: ada, do: [{switch_off: SW1}]}
- {id: open, by: ada, do: [{demate: P1}]}
- {id: shut, by: ada, do: [{mate: {P1: J1}}]}
- {id: light, by: ada, do: [{switch_on: SW1}]}
"""
"""Down from 0:00, demated from 0:01 to 0:03, mated by 0:07, on at 0:08."""


def lamp(*clocks: str, recovery_min: str = "0") -> Baseline:
    more = f"clocks: [{', '.join(clocks)}], recovery_min: {recovery_min}"
    return baseline(LAMP, f"{{services: {{light: {{{more}}}}}}}")


def clock(minutes: int, starts: str = "power_off", more: str = "") -> str:
    return f"{{allowed_min: {minutes}, source: made up, starts: {starts}{more}}}"


def found(base: Baseline, plan: str = SWAP, **more: Any) -> dict[str, Stop]:
    """Return the stops by the steps that end there; the first by an empty name."""
    result = account(base, [procedure(plan, **more)])
    assert not result.trace.refused
    return {" ".join(stop.steps): stop for stop in stops(result)}


def test_a_stop_is_before_the_next_step_of_the_same_worker() -> None:
    by = found(lamp(clock(60)))
    assert [(name, stop.time_s // 60) for name, stop in by.items()] == [
        ("", 0), ("dark", 1), ("open", 3), ("shut", 7), ("light", 8),
    ]  # fmt: skip
    assert [bool(stop.down) for stop in by.values()] == [False, True, True, True, False]
    assert [stop.is_good for stop in by.values()] == [True, False, False, False, True]
    assert not any(stop.under_way for stop in by.values())


def test_the_clock_that_ends_first_and_the_room_for_a_pause() -> None:
    """60 minutes from 0:00, back at 0:08: 52 to spare. From the demate, 20 from 0:01: 13."""
    by = found(lamp(clock(60), clock(20, "demate")))
    dark, opened, shut = by["dark"], by["open"], by["shut"]
    assert dark.down[0].clock is not None and dark.down[0].clock.clock.allowed_min == 60
    assert dark.room is not None and dark.room == (52 * 60, "light"), "the demate is to come"
    for stop in (opened, shut):
        (down,) = stop.down
        assert down.runs and down.clock is not None and down.clock.clock.allowed_min == 20
        assert down.clock.reconnect_by_s == 21 * 60
        assert stop.room == (13 * 60, "light")


def test_a_clock_that_does_not_run_yet_makes_a_stop_no_worse() -> None:
    by = found(lamp(clock(20, "demate")))
    (down,) = by["dark"].down
    assert down.clock is not None and not down.runs
    assert by["dark"].is_good and by["dark"].room is None
    assert not by["open"].is_good


def test_without_a_clock_nobody_says_how_long() -> None:
    by = found(lamp())
    (down,) = by["dark"].down
    assert down.clock is None and not by["dark"].is_good
    assert by["dark"].room is None


def test_what_nothing_resets_is_missing_later() -> None:
    """Down 1 minute, up 1, down 1, of 10 without a reset: 8 are left for a pause in the first."""
    twice = """
minutes: {switch_off: 1, switch_on: 1}
steps:
- {id: off, by: ada, do: [{switch_off: SW1}]}
- {id: on, by: ada, do: [{switch_on: SW1}, {wait: 30}]}
- {id: off2, by: ada, do: [{switch_off: SW1}]}
- {id: on2, by: ada, do: [{switch_on: SW1}]}
"""
    assert found(lamp(clock(10)), twice)["off"].room == (6 * 60, "light")
    resets = lamp(clock(10, more=", resets_after_up_min: 20"))
    assert found(resets, twice)["off"].room == (8 * 60, "light")


def test_an_overrun_leaves_less_than_nothing() -> None:
    assert found(lamp(clock(5)))["open"].room == (-3 * 60, "light")


def test_what_recovers_needs_nobody() -> None:
    by = found(lamp(clock(60), recovery_min="5"), SWAP + "- {id: then, by: ada, do: [{wait: 9}]}")
    light = by["light"]
    assert not light.down and [s.to_s for s in light.recovering] == [13 * 60]
    assert light.is_good and not by["then"].recovering


def test_limits_of_the_phase_leave_less_room() -> None:
    """It ends at 0:08; by 0:15 is 7 minutes. The turn-back at 'shut' is behind once it is begun."""
    limits = {
        "consumables": {"by_pet": "0:20", "source": "made up 1"},
        "turn_back": {"by_pet": "0:10", "step": "shut", "source": "made up 2"},
    }
    by = found(lamp(clock(60)), phase_limits=limits)
    rooms = {
        name: stop.room and (stop.room.seconds // 60, stop.room.ends) for name, stop in by.items()
    }
    assert rooms == {
        "": (7, "turn-back"), "dark": (7, "turn-back"), "open": (7, "turn-back"),
        "shut": (12, "consumables"), "light": None,
    }  # fmt: skip


TWO = """
minutes: {switch_off: 1, demate: 4, mate: 4, wait: 1, walk: 1}
steps:
- {id: dark, by: ada, do: [{switch_off: SW1}]}
- {id: slow, by: bob, after: dark, do: [{demate: P1}]}
- {id: quick, by: ada, do: [{wait: 2}]}
"""


def test_what_others_are_at_is_half_done() -> None:
    by = found(lamp(clock(60)), TWO)
    (task,) = by["quick"].under_way
    assert (task.step_id, task.workers) == ("slow", ("bob",))
    assert not by["quick"].is_good
    assert not by["slow"].under_way, "a wait leaves nothing half done"


def test_a_half_left_bare_and_live() -> None:
    plan = """
minutes: {demate: 2, mate: 4, switch_off: 1}
steps:
- {id: open, by: ada, do: [{demate: P1}]}
- {id: dark, by: ada, do: [{switch_off: SW1}]}
"""
    by = found(lamp(clock(60)), plan)
    live = {wired(by["open"], half): feeds for half, feeds in by["open"].live.items()}
    assert live == {"J1": (0,)}
    assert not by["dark"].live and {f.rule for f in by["dark"].left} == {"bare-at-end"}


def wired(stop: Stop, half: int) -> str:
    return account(lamp()).trace.wiring.items[half].id


@pytest.mark.parametrize(
    ("do", "rules"),
    [
        ("[{release: COV}]", {"cover-left-open"}),
        ("[{switch_off: SW1}, {demate: P1}, {engage: {P1: J1}}]", {"part-engaged-at-end"}),
        ("[{switch_off: SW1}, {demate: P1}, {seat: {P1: J1}}]", {"lock-unverified-at-end"}),
        ("[{remove_cap: C3}, {pick_up: C3}]", {"bare-at-end", "cap-in-hand-at-end"}),
    ],
)
def test_what_is_left_unfinished(do: str, rules: set[str]) -> None:
    plan = f"{{minutes: 1, steps: [{{id: s, by: ada, do: {do}}}]}}"
    stop = found(baseline(BENCH), plan)["s"]
    assert {finding.rule for finding in stop.left} == rules
    assert not stop.is_good


def test_an_inhibit_holds_until_it_is_released() -> None:
    plan = """
minutes: 1
inhibits:
- {id: dead, requires: SW1 off, owner: ada, set_by: dark, until: light, protects: [P1, J1]}
steps:
- {id: dark, by: ada, do: [{switch_off: SW1}]}
- {id: open, by: ada, do: [{demate: P1}]}
- {id: shut, by: ada, do: [{mate: {P1: J1}}]}
- {id: light, by: ada, do: [{switch_on: SW1}]}
"""
    held = {name: stop.inhibits for name, stop in found(lamp(clock(60)), plan).items()}
    assert held == {"": (), "dark": ("dead",), "open": ("dead",), "shut": ("dead",), "light": ()}


def test_the_last_stop_is_the_end_of_the_replay() -> None:
    result = account(lamp(clock(60)), [procedure(SWAP)])
    last = stops(result)[-1]
    trace: Trace = result.trace
    assert (last.position, last.time_s) == (len(trace.events), trace.end_s)
