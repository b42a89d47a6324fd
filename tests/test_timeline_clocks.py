"""Clocks: when they run, what they add up, when they start afresh, when to be back."""

from __future__ import annotations

import pytest
from small import LAMP, baseline, having, procedure, run

from cablewalk.timeline.account import Account, account
from cablewalk.timeline.clocks import Reading, tightest


def clocked(steps: str, clock: str, now: str = "{}") -> Account:
    more = f"{{services: {{light: {{clock: {{source: invented, {clock}}}}}}}, now: {now}}}"
    return run(f"[{{loses: light, do: [{steps}]}}]", more, LAMP)


def used(result: Account) -> list[float]:
    """Minutes used by each outage on the first clock."""
    return [result.readings[n][0].used_s / 60 for n in range(len(result.outages))]


def total(result: Account) -> float:
    return result.readings[len(result.outages) - 1][0].total_s / 60


CYCLE = "{switch_off: SW1}, {switch_on: SW1, minutes: 4}"


def test_power_off_runs_from_the_loss() -> None:
    result = clocked(
        "{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}", "allowed_min: 9"
    )
    assert used(result) == [4]
    reading = result.readings[0][0]
    assert (reading.margin_s, reading.reconnect_by_s) == (300, 540)


def test_demate_runs_from_the_first_join_broken() -> None:
    steps = "{switch_off: SW1}, {wait: 10}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}"
    result = clocked(steps, "allowed_min: 9, starts: demate")
    assert used(result) == [3]
    reading = result.readings[0][0]
    assert (reading.runs_from_s, reading.reconnect_by_s) == (660, 1200)
    assert not having(result, "clock-exceeded")


@pytest.mark.parametrize("touch", ["{inspect: P1}", "{switch_off: SW1}", "{pull_aside: P1}"])
def test_what_breaks_no_join_starts_no_demate_clock(touch: str) -> None:
    result = clocked(
        f"{{switch_off: SW1}}, {touch}, {{switch_on: SW1}}", "allowed_min: 1, starts: demate"
    )
    reading = result.readings[0][0]
    assert reading.runs_from_s is None
    assert reading.used_s == 0
    assert reading.reconnect_by_s is None


def test_a_demate_before_the_outage_does_not_start_its_clock() -> None:
    steps = (
        "{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}, {wait: 5}, "
        "{switch_off: SW1}"
    )
    assert used(clocked(steps, "allowed_min: 9, starts: demate")) == [3, 0]


def test_without_a_reset_outages_accumulate() -> None:
    result = clocked(f"{CYCLE}, {{wait: 500}}, {CYCLE}, {{wait: 500}}, {CYCLE}", "allowed_min: 99")
    assert used(result) == [5, 5, 5]
    assert total(result) == 15
    assert result.readings[0][0].accumulates
    assert [result.readings[n][0].used_before_s for n in range(3)] == [0, 300, 600]


@pytest.mark.parametrize(("pause", "after"), [(29, 10), (30, 5), (31, 5)])
def test_a_clock_starts_afresh_after_so_long_up(pause: int, after: float) -> None:
    steps = f"{CYCLE}, {{wait: {pause}}}, {CYCLE}"
    assert total(clocked(steps, "allowed_min: 99, resets_after_up_min: 30")) == after


def test_a_short_return_does_not_reset() -> None:
    """Three outages, 20 min up between them: none of the pauses is long enough."""
    steps = f"{CYCLE}, {{wait: 20}}, {CYCLE}, {{wait: 20}}, {CYCLE}"
    assert total(clocked(steps, "allowed_min: 99, resets_after_up_min: 30")) == 15


def test_recovery_counts_as_down() -> None:
    more = "{services: {light: {recovery_min: 3, clock: {source: x, allowed_min: 9}}}}"
    result = run(f"[{{loses: light, do: [{CYCLE}]}}]", more, LAMP)
    assert used(result) == [8]
    assert result.readings[0][0].margin_s == 60


def test_minutes_used_before() -> None:
    result = clocked(CYCLE, "allowed_min: 9", "{used_min: {light: 3}}")
    reading = result.readings[0][0]
    assert (reading.used_before_s, reading.used_s, reading.total_s) == (180, 300, 480)
    assert reading.reconnect_by_s == (9 - 3) * 60


def test_minutes_used_before_are_forgotten_after_so_long_up() -> None:
    """DEVELOPERS.md: outages accumulate until the service has been up for the reset time."""
    steps = f"{{wait: 40}}, {CYCLE}"
    result = clocked(steps, "allowed_min: 9, resets_after_up_min: 30", "{used_min: {light: 3}}")
    assert total(result) == 5


def test_minutes_dark_already() -> None:
    now = "{on: [], off: [SW1], dark_min: {light: 20}}"
    result = clocked("{switch_on: SW1}", "allowed_min: 30", now)
    reading = result.readings[0][0]
    assert (reading.used_s, reading.runs_from_s, reading.reconnect_by_s) == (1260, -1200, 600)


def off_before(steps: str, demated: dict[str, float | None]) -> Reading:
    """Return the clock from the demate, 30 min, of a lamp that is dark for 20 min at the start."""
    more = (
        "{now: {on: [], off: [SW1], dark_min: {light: 20}}, services: {light: {clock: "
        "{allowed_min: 30, source: s, starts: demate}}}}"
    )
    base = baseline(LAMP, more)
    now = base.now.model_copy(update={"demated_min": demated})
    told = account(base.model_copy(update={"now": now}), [procedure(f"[[{steps}]]")])
    return told.readings[0][0]


@pytest.mark.parametrize(
    ("demated", "ran", "before"),
    [
        ({"light": 5.0}, -300, 5),
        ({"light": None}, None, 0),
        ({}, -1200, 20),  # nobody says: it ran all the time, for all that is known
    ],
)
def test_a_clock_from_the_demate_of_what_is_dark_already(
    demated: dict[str, float | None], ran: int | None, before: int
) -> None:
    """Demated 5 min before the start, or not at all; back at 0:01."""
    reading = off_before("{switch_on: SW1}", demated)
    assert reading.runs_from_s == ran
    assert reading.used_s == (0 if ran is None else (before + 1) * 60)
    assert reading.reconnect_by_s == (None if ran is None else (30 - before) * 60)


def test_not_demated_before_it_runs_from_the_demate() -> None:
    steps = "{wait: 4}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}"
    reading = off_before(steps, {"light": None})
    assert (reading.runs_from_s, reading.used_s) == (240, 180)


@pytest.mark.parametrize(("up", "after"), [(24, 8), (25, 5)])
def test_minutes_up_before_are_of_those_that_reset(up: int, after: float) -> None:
    """Up for some min before, and 5 min more: 30 min reset it."""
    now = f"{{used_min: {{light: 3}}, up_min: {{light: {up}}}}}"
    result = clocked(f"{{wait: 5}}, {CYCLE}", "allowed_min: 9, resets_after_up_min: 30", now)
    assert total(result) == after


def test_minutes_used_before_of_each_clock() -> None:
    clocks = "[{allowed_min: 9, source: s}, {allowed_min: 30, source: t}]"
    more = f"{{services: {{light: {{clocks: {clocks}}}}}, now: {{used_min: {{light: 3 20}}}}}}"
    result = run(f"[{{loses: light, do: [{CYCLE}]}}]", more, LAMP)
    assert [r.used_before_s for r in result.readings[0]] == [180, 1200]
    assert [r.margin_s for r in result.readings[0]] == [60, 300]


def test_an_open_outage_uses_time_to_the_end() -> None:
    result = clocked("{switch_off: SW1}, {wait: 9}", "allowed_min: 6")
    assert used(result) == [10]
    (finding,) = having(result, "clock-exceeded")
    assert "is not back" in finding.found
    assert "0:10" in finding.found
    assert "0:06 (invented)" in finding.expected
    assert "0:04 over" in finding.difference
    assert finding.source == "invented"


@pytest.mark.parametrize(("allowed", "over"), [(4, True), (5, False), (6, False)])
def test_exactly_what_is_allowed_is_allowed(allowed: int, over: bool) -> None:
    result = clocked(CYCLE, f"allowed_min: {allowed}")
    assert bool(having(result, "clock-exceeded")) is over


def test_with_earlier_outages() -> None:
    (finding,) = having(
        clocked(f"{CYCLE}, {{wait: 9}}, {CYCLE}", "allowed_min: 7"), "clock-exceeded"
    )
    assert "with earlier outages" in finding.found
    assert "0:10" in finding.found


def test_two_clocks_of_one_service() -> None:
    clocks = "[{allowed_min: 3, source: a}, {allowed_min: 9, source: b, starts: demate}]"
    more = f"{{services: {{light: {{clocks: {clocks}}}}}}}"
    result = run(f"[{{loses: light, do: [{CYCLE}]}}]", more, LAMP)
    assert [(r.clock.source, r.number, r.used_s) for r in result.readings[0]] == [
        ("a", 0, 300),
        ("b", 1, 0),
    ]
    assert [f.source for f in having(result, "clock-exceeded")] == ["a"]


def test_a_planned_outage_may_still_be_too_long() -> None:
    result = clocked(CYCLE, "allowed_min: 1")
    assert not having(result, "unplanned-loss")
    assert having(result, "clock-exceeded")


NEEDY = (
    "{services: {light: {recovery_min: 4, clock: {source: invented, allowed_min: 30}}, "
    "glow: {kind: power, load: LAMP, feeds: SRC, needs: light, recovery_min: 3, "
    "clock: {source: invented, allowed_min: 30}}}}"
)


def needy(wait: int, back: str = ", {switch_on: SW1}", more: str = NEEDY) -> Account:
    """The lamp off for so many minutes; *glow* needs *light*, and both recover."""
    steps = f"{{switch_off: SW1}}, {{wait: {wait}}}{back}"
    return run(f"[{{loses: [light, glow], do: [{steps}]}}]", more, LAMP)


def reading_of(result: Account, service: str) -> Reading:
    number = result.trace.wiring.service_by_id[service]
    (n,) = (n for n, spell in enumerate(result.outages) if spell.service == number)
    return result.readings[n][0]


@pytest.mark.parametrize(("service", "lead"), [("light", 4), ("glow", 7)])
@pytest.mark.parametrize("is_back", [True, False])
def test_reconnect_by_takes_off_what_it_takes_to_recover(
    service: str, lead: int, is_back: bool
) -> None:
    """The clock runs out 30 minutes after 0:00; *glow* recovers 3 minutes after *light* has."""
    reading = reading_of(needy(10, *(() if is_back else ("",))), service)
    assert (reading.runs_out_s, reading.reconnect_by_s) == (1800, (30 - lead) * 60)


@pytest.mark.parametrize(("late", "is_over"), [(0, False), (1, True)])
@pytest.mark.parametrize(("service", "lead"), [("light", 4), ("glow", 7)])
def test_what_is_reconnected_at_that_moment_is_back_just_in_time(
    service: str, lead: int, late: int, is_over: bool
) -> None:
    """The switch-off takes a minute, and the switch-on: it ends at the latest moment, or later."""
    result = needy(30 - lead - 2 + late)
    reading = reading_of(result, service)
    (turned_on,) = (e for e in result.trace.events if e.task.action.switch_on and not e.begins)
    assert turned_on.time_s == (reading.reconnect_by_s or 0) + 60 * late
    assert reading.margin_s == -60 * late
    assert any(f.items == (service,) for f in having(result, "clock-exceeded")) is is_over


def test_what_is_needed_and_was_back_before_is_not_waited_for() -> None:
    """*light* alone went down and came back long before *glow* is reconnected by its own switch."""
    more = (
        "{places: {bench: {units: {S2: {kind: source, volts: 28, switches: SW2}, GLOW: load}, "
        "switches: {SW2: }, halves: {J3: p2 socket S2.hi S2.ret, J4: p2 pin GLOW.hi GLOW.ret}}}, "
        "harnesses: {W2: [N1 p2 pin, N2 p2 socket]}, "
        "now: {on: [SW1, SW2], mated: {P1: J1, P2: J2, N1: J3, N2: J4}}, "
        "services: {light: {recovery_min: 4}, glow: {kind: power, load: GLOW, feeds: S2, "
        "needs: light, recovery_min: 3, clock: {source: invented, allowed_min: 30}}}}"
    )
    steps = "{switch_off: SW1}, {switch_off: SW2}, {switch_on: SW1}, {wait: 10}, {switch_on: SW2}"
    result = run(f"[{{loses: [light, glow], do: [{steps}]}}]", more, LAMP)
    assert reading_of(result, "glow").lead_s == 180


def test_one_that_is_not_back_has_its_recovery_before_it() -> None:
    """Down for 27 of 30 minutes as the plan ends; glow takes 7 more: 4 over, and so it is told."""
    result = needy(26, "")
    light, glow = reading_of(result, "light"), reading_of(result, "glow")
    assert (light.used_s, light.margin_s) == (27 * 60, -60)
    assert (glow.used_s, glow.margin_s) == (27 * 60, -240)
    told = {f.items[0]: f for f in having(result, "clock-exceeded")}
    assert "it takes 0:07 to recover" in told["glow"].found
    assert told["glow"].difference == "0:04 over, reconnected as the replay ends"


def three(steps: str) -> Account:
    """*a*, *b* that needs it and *c* that needs *b*, each on a source and a switch of its own."""
    units = ", ".join(
        f"S{n}: {{kind: source, volts: 28, switches: SW{n}}}, L{n}: load" for n in "abc"
    )
    halves = ", ".join(
        f"J{n}: p2 socket S{n}.hi S{n}.ret, K{n}: p2 pin L{n}.hi L{n}.ret" for n in "abc"
    )
    legs = ", ".join(f"W{n}: [P{n} p2 pin, Q{n} p2 socket]" for n in "abc")
    mated = ", ".join(f"P{n}: J{n}, Q{n}: K{n}" for n in "abc")
    clock = "clock: {source: invented, allowed_min: 60}"
    services = (
        f"a: {{kind: power, load: La, feeds: Sa, recovery_min: 5, {clock}}}, "
        f"b: {{kind: power, load: Lb, feeds: Sb, needs: a, recovery_min: 7, {clock}}}, "
        f"c: {{kind: power, load: Lc, feeds: Sc, needs: b, recovery_min: 3, {clock}}}"
    )
    more = (
        f"{{places: {{bench: {{units: {{{units}}}, halves: {{{halves}}}, "
        f"switches: {{SWa: , SWb: , SWc: }}}}}}, harnesses: {{{legs}}}, services: {{{services}}}, "
        f"now: {{on: [SW1, SWa, SWb, SWc], mated: {{P1: J1, P2: J2, {mated}}}}}}}"
    )
    return run(f"[{{loses: [a, b, c], do: [{steps}]}}]", more, LAMP)


OFF = "{switch_off: SWa}, {switch_off: SWb}, {wait: 49}, {switch_on: SWa}"


def test_what_still_recovers_as_the_plan_ends_is_waited_for() -> None:
    """*a* is reconnected at 52 and back at 57; *b*, reconnected at 53, is back at 57 + 7 = 64.

    Too late for its 60: *a* had to be reconnected by 60 - 7 - 5 = 48, and by 45 for *c*.
    """
    result = three(OFF + ", {wait: 1}")
    b, c = reading_of(result, "b"), reading_of(result, "c")
    assert (b.margin_s, b.reconnect_by_s) == ((60 - 64) * 60, 48 * 60)
    assert (c.margin_s, c.reconnect_by_s) == ((60 - 67) * 60, 45 * 60)
    told = {f.items[0] for f in having(result, "clock-exceeded")}
    assert told == {"b", "c"}


def test_it_is_told_the_same_once_reconnected() -> None:
    result = three(OFF + ", {switch_on: SWb}")
    reading = reading_of(result, "b")
    assert result.outages[1].to_s == 64 * 60
    assert (reading.margin_s, reading.reconnect_by_s) == ((60 - 64) * 60, 48 * 60)


def test_what_is_needed_is_back_in_time_and_takes_nothing_off() -> None:
    """*a* recovers until 17: *b* may be reconnected until 60 - 7 = 53 all the same."""
    result = three(OFF.replace("49", "9") + ", {wait: 1}")
    reading = reading_of(result, "b")
    assert (reading.margin_s, reading.reconnect_by_s) == ((60 - 24) * 60, 53 * 60)


def test_a_clock_that_does_not_run_hides_none_that_does() -> None:
    more = (
        "{services: {light: {recovery_min: 5, clocks: [{source: invented, allowed_min: 30, "
        "starts: demate}, {source: invented, allowed_min: 60}]}}}"
    )
    result = run("[{loses: light, do: [{switch_off: SW1}, {wait: 5}]}]", more, LAMP)
    main = tightest(result.readings[0])
    assert main is not None
    assert (main.clock.allowed_min, main.reconnect_by_s) == (60, 55 * 60)


def test_a_demate_clock_is_told_by_what_it_uses() -> None:
    steps = "{switch_off: SW1}, {wait: 10}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}"
    result = clocked(steps, "allowed_min: 2, starts: demate")
    (finding,) = having(result, "clock-exceeded")
    assert finding.found == "light uses 0:03 of its clock, from the demate on"
