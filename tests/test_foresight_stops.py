"""Stops: what is down, live, half done and left if work stops, and how long it may stand still.

Every figure here is worked out by hand from the few minutes in the plans.
"""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from small import BENCH, LAMP, baseline, procedure

from cablewalk.documents.baseline import Baseline
from cablewalk.foresight.stops import Stop, stops
from cablewalk.timeline.account import Account, account
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
    return {" ".join(stop.moment.steps) or where(stop): stop for stop in stops(result)}


def where(stop: Stop) -> str:
    """Return the name of a stop within a step, or an empty one for that before the first."""
    return " ".join(f"{task.step_id}:{task.verb}" for task in stop.moment.ended)


def test_a_stop_is_before_the_next_step_of_the_same_worker() -> None:
    by = found(lamp(clock(60)))
    assert [(name, stop.moment.time_s // 60) for name, stop in by.items()] == [
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
    assert dark.rooms == ((52 * 60, "light"),), "the demate is to come"
    for stop in (opened, shut):
        (down,) = stop.down
        assert down.runs and down.clock is not None and down.clock.clock.allowed_min == 20
        assert down.clock.reconnect_by_s == 21 * 60
        assert stop.rooms == ((13 * 60, "light"),)


def test_a_clock_that_does_not_run_yet_makes_a_stop_no_worse() -> None:
    by = found(lamp(clock(20, "demate")))
    (down,) = by["dark"].down
    assert down.clock is not None and not down.runs
    assert by["dark"].is_good and not by["dark"].rooms
    assert not by["open"].is_good


def test_without_a_clock_nobody_says_how_long() -> None:
    by = found(lamp())
    (down,) = by["dark"].down
    assert down.clock is None and not by["dark"].is_good
    assert not by["dark"].rooms


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
    assert found(lamp(clock(10)), twice)["off"].rooms == ((6 * 60, "light"),)
    resets = lamp(clock(10, more=", resets_after_up_min: 20"))
    assert found(resets, twice)["off"].rooms == ((8 * 60, "light"),)


def test_an_overrun_leaves_less_than_nothing() -> None:
    assert found(lamp(clock(5)))["open"].rooms == ((-3 * 60, "light"),)


def test_what_recovers_needs_nobody() -> None:
    by = found(lamp(clock(60), recovery_min="5"), SWAP + "- {id: then, by: ada, do: [{wait: 9}]}")
    light = by["light"]
    assert not light.down and [row.spell.to_s for row in light.recovering] == [13 * 60]
    assert light.is_good and not by["then"].recovering


def test_limits_of_the_phase_leave_less_room() -> None:
    """It ends at 0:08; by 0:15 is 7 minutes. The turn-back at 'shut' is behind once it is begun."""
    limits = {
        "consumables": {"by_pet": "0:20", "source": "made up 1"},
        "turn_back": {"by_pet": "0:10", "step": "shut", "source": "made up 2"},
    }
    by = found(lamp(clock(60)), phase_limits=limits)
    rooms = {name: [(r.seconds // 60, r.ends) for r in stop.rooms] for name, stop in by.items()}
    light = (52, "light")
    assert rooms == {
        "": [(7, "turn-back"), (12, "consumables")],
        "dark": [(7, "turn-back"), (12, "consumables"), light],
        "open": [(7, "turn-back"), (12, "consumables"), light],
        "shut": [(12, "consumables"), light],
        "light": [],
    }


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
    live = {name_of(row.half): (row.by, row.state, row.task) for row in by["open"].live}
    assert live == {"J1": ((0,), "bare", None)}
    assert not by["dark"].live and {f.rule for f in by["dark"].left} == {"bare-at-end"}


def name_of(half: int) -> str:
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
    held = {name: inhibits(stop) for name, stop in found(lamp(clock(60)), plan).items()}
    assert held == {
        "": {}, "dark": {"dead": ""}, "open": {"dead": ""}, "shut": {"dead": ""}, "light": {},
    }  # fmt: skip


def inhibits(stop: Stop) -> dict[str, str]:
    return {row.inhibit.id: row.fails for row in stop.held}


def test_an_inhibit_that_does_not_hold_is_told_so_and_makes_no_good_stop() -> None:
    plan = """
minutes: 1
inhibits: [{id: dead, requires: SW1 off, owner: ada, set_by: dark, until: end, protects: [P1]}]
steps:
- {id: dark, by: ada, do: [{switch_off: SW1}]}
- {id: work, by: ada, do: [{demate: P1}, {mate: {P1: J1}}]}
- {id: early, by: ada, do: [{switch_on: SW1}]}
- {id: end, by: ada, do: [{wait: 1}]}
"""
    early = found(lamp(clock(60)), plan)["early"]
    assert inhibits(early) == {"dead": "SW1 is on"}
    assert not early.down and not early.left and not early.is_good


def test_what_is_between_two_steps_is_no_secret() -> None:
    """All within one step: down from 0:00 to 0:08 against 5 minutes, bare from 0:03 to 0:07."""
    plan = """
minutes: {switch_off: 1, switch_on: 1, demate: 2, mate: 4}
steps: [{id: s, by: ada, do: [{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}]}]
"""
    by = found(lamp(clock(5)), plan)
    assert list(by) == ["", "s:switch_off", "s:demate", "s:mate", "s"]
    assert {f.rule for f in by["s:demate"].left} == {"bare-at-end"}
    assert by["s:demate"].rooms == ((-3 * 60, "light"),)
    (begun,) = by["s:demate"].begun
    assert (begun.step.id, begun.done) == ("s", 2)
    assert begun.following is not None and begun.following.verb == "mate"
    assert not by["s"].begun and by["s"].is_good


def test_a_live_half_under_somebodys_hands_is_live() -> None:
    plan = """
minutes: {demate: 6, wait: 1}
steps:
- {id: slow, by: bob, do: [{demate: P1}]}
- {id: quick, by: ada, do: [{wait: 2}]}
"""
    quick = found(lamp(clock(60)), plan)["quick"]
    told = {name_of(row.half): row.task and row.task.step_id for row in quick.live}
    assert told == {"J1": "slow", "P1": "slow"}
    assert not any(row.found_so for row in quick.live)


def test_what_was_live_and_bare_in_the_baseline_is_told_and_makes_no_stop_worse() -> None:
    spare = "places: {bench: {halves: {J9: p2 socket SRC.hi SRC.ret}}}"
    stop = found(baseline(LAMP, f"{{{spare}}}"), "[[{wait: 5}]]")["s1"]
    ((row),) = stop.live
    assert row.found_so and row.state == "bare" and stop.is_good


NEEDS = """
places:
  bench:
    halves: {K1: p2 socket SRB.hi SRB.ret, K2: p2 pin LAMB.hi LAMB.ret}
    units: {SRB: {kind: source, volts: 28, switches: SW2}, LAMB: load}
    switches: {SW2: }
harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
services:
  light: {recovery_min: 30}
  second: {kind: power, load: LAMB, feeds: SRB, needs: [light],
           clocks: [{allowed_min: 60, source: made up}]}
now: {on: [SW1, SW2], mated: {P1: J1, P2: J2, Q1: K1, Q2: K2}}
"""


def test_what_it_needs_is_brought_back_first_as_it_stands_at_the_stop() -> None:
    """Both down: the one needed takes 30 to recover, so by 0:30; that one back, by 1:00."""
    plan = """
minutes: 1
steps:
- {id: off, by: ada, do: [{switch_off: SW2}, {switch_off: SW1}]}
- {id: first, by: ada, do: [{switch_on: SW1}]}
- {id: rest, by: ada, do: [{wait: 34}]}
- {id: second, by: ada, do: [{switch_on: SW2}]}
"""
    by = found(baseline(LAMP, NEEDS), plan)
    deadlines = {
        name: [(d.clock.reconnect_by_s or 0) // 60 for d in stop.down if d.clock and d.runs]
        for name, stop in by.items()
    }
    assert deadlines["off"] == [30] and deadlines["rest"] == [60]


def test_one_that_the_plan_retires_recovers_too() -> None:
    plan = """
minutes: 1
steps:
- {id: off, by: ada, do: [{switch_off: SW1}]}
- {id: gone, by: ada, do: [{retire: light}]}
"""
    (down,) = found(lamp(clock(60), recovery_min="10"), plan)["off"].down
    assert down.clock is not None and down.clock.reconnect_by_s == 50 * 60
    assert down.retires and down.ends is not None


def test_one_that_is_reconnected_recovers_whatever_the_plan_does_next() -> None:
    """On at 0:02, back by 0:12, and off again at 0:05: if work stops at 0:02 it comes back."""
    plan = """
minutes: 1
steps:
- {id: off, by: ada, do: [{switch_off: SW1}]}
- {id: on, by: ada, do: [{switch_on: SW1}]}
- {id: rest, by: ada, do: [{wait: 3}]}
- {id: again, by: ada, do: [{switch_off: SW1}]}
- {id: back, by: ada, do: [{switch_on: SW1}]}
"""
    by = found(lamp(clock(60), recovery_min="10"), plan)
    for name in ("on", "rest"):
        assert not by[name].down and by[name].is_good
        assert [row.spell.to_s for row in by[name].recovering] == [12 * 60]
    off = by["off"].down[0].ends
    assert off is not None and off.task.step_id == "on"
    late = found(lamp(clock(5), recovery_min="10"), plan)["on"]
    assert late.recovering and not late.is_good, "it is overrun before it is back"


def test_a_limit_due_at_the_minute_of_the_stop_is_still_to_come() -> None:
    plan = """
minutes: 1
phase_limits: {decisions: [{id: D1, by_pet: "0:10", step: go, source: made up}]}
steps:
- {id: work, by: ada, do: [{wait: 10}]}
- {id: go, by: bob, after: work, do: [{go_call: on}]}
- {id: more, by: ada, after: go, do: [{wait: 5}]}
"""
    by = found(lamp(clock(60)), plan)
    assert by["work"].rooms == ((0, "decision D1"),)
    assert not by["go"].rooms


def test_a_phase_has_a_stop_before_its_first_step() -> None:
    limits = {"consumables": {"by_pet": "0:03", "source": "made up"}}
    plans = [procedure("[[{wait: 1}]]"), procedure("[[{wait: 1}]]", procedure="b", gap_min="9",
             phase_limits=limits)]  # fmt: skip
    made = stops(account(lamp(clock(60)), plans))
    assert [(s.moment.phase, s.moment.steps) for s in made] == [
        (0, ()), (0, ("s1",)), (1, ()), (1, ("s1",)),
    ]  # fmt: skip
    assert made[2].rooms == ((2 * 60, "consumables"),)
    assert made[2].moment.time_s == 10 * 60


@given(random=st.randoms(use_true_random=False))
@settings(max_examples=40)
def test_brought_back_at_the_deadline_it_is_in_time_and_a_minute_later_it_is_not(
    random: Random,
) -> None:
    """At random stops of random plans everything down is switched on at one deadline, or after."""
    base = baseline(LAMP, NEEDS)
    on = {"SW1": True, "SW2": True}
    actions: list[dict[str, str]] = []
    for _ in range(random.randint(1, 6)):
        name = random.choice(["SW1", "SW2", "wait"])
        if name == "wait":
            actions.append({"wait": str(random.randint(1, 20))})
            continue
        actions.append({"switch_off" if on[name] else "switch_on": name})
        on[name] = not on[name]
    minutes = {"switch_off": 1, "switch_on": 0, "wait": 1}

    def replayed(more: list[dict[str, str]]) -> Account:
        raw = {"minutes": minutes, "steps": [{"id": "s", "do": [*actions, *more]}]}
        return account(base, [procedure(yaml.safe_dump(raw))])

    last = stops(replayed([]))[-1]
    off = [name for name, is_on in on.items() if not is_on]
    for down in last.down:
        if down.clock is None or not down.runs:
            continue
        left = ((down.clock.reconnect_by_s or 0) - last.moment.time_s) // 60
        if left < 0:
            continue
        for late in (0, 1):
            rest = [{"wait": str(left + late)}] if left + late else []
            result = replayed([*rest, *({"switch_on": name} for name in off)])
            over = any(f.rule == "clock-exceeded" for f in result.findings)
            assert over is bool(late), (actions, left, late)


def test_the_last_stop_is_the_end_of_the_replay() -> None:
    result = account(lamp(clock(60)), [procedure(SWAP)])
    last = stops(result)[-1]
    trace: Trace = result.trace
    assert (last.moment.position, last.moment.time_s) == (len(trace.events), trace.end_s)
