"""A service that was found down is down, whatever its joins say, until found or verified up."""

from __future__ import annotations

from asrun_bench import ZERO_S, begin, folded, plans

from cablewalk.documents.actions import Action
from cablewalk.timeline.asrun import asrun_account
from cablewalk.timeline.forecast import forecast
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry, Outcome
from cablewalk.walk.asrun_state import Tracked
from cablewalk.walk.run import ready


def entry(number: int, minute: int, action: Action, outcome: Outcome = "done") -> Entry:
    at = ZERO_S + 60 * minute
    return Entry(0, number, "action", at, 60 * minute, at, "tester", at, ("gus",), action, outcome)


DOWN = entry(2, 10, Action(found={"light": "down"}, reason="dark"), "found")


def spells(tracked: Tracked, minute: int) -> list[tuple[int, int | None]]:
    account = asrun_account(tracked, minute * 60)
    ends = [s.to_s for s in account.outages]
    return [
        (s.from_s // 60, None if e is None else e // 60)
        for s, e in zip(account.outages, ends, strict=True)
    ]


def test_it_is_down_with_a_running_clock() -> None:
    tracked = folded([begin(), DOWN])
    assert spells(tracked, 30) == [(10, None)]
    assert tracked.trace.end_views[0].words == "down"
    account = asrun_account(tracked, 75 * 60)
    assert "clock-exceeded" in {f.rule for f in account.findings}, "60 minutes are allowed"


def test_a_verify_ends_it_and_one_that_failed_does_not() -> None:
    verify = Action(verify="light")
    assert spells(folded([begin(), DOWN, entry(3, 40, verify, "failed")]), 60) == [(10, None)]
    tracked = folded([begin(), DOWN, entry(3, 40, verify)])
    assert spells(tracked, 60) == [(10, 40)]
    assert tracked.trace.end_views[0].words == "up"


def test_found_up_ends_it_and_still_owes_the_test() -> None:
    up = entry(3, 25, Action(found={"light": "up"}, reason="bright"), "found")
    tracked = folded([begin(), DOWN, up])
    assert spells(tracked, 60) == [(10, 25)]
    assert tracked.trace.end_views[0].words == "up unproven"


def test_found_up_against_the_joins_is_up_and_says_so() -> None:
    off = entry(2, 5, Action(switch_off="SW1"))
    up = entry(3, 25, Action(found={"light": "up"}, reason="bright"), "found")
    tracked = folded([begin(), off, up])
    assert tracked.trace.end_views[0].words == "up unproven"
    (row,) = [f for f in tracked.findings if f.rule == "found-otherwise"]
    assert row.expected == "light down"
    assert spells(tracked, 60) == [(5, 25)]


def test_the_rest_of_the_plan_is_forecast_with_it_down() -> None:
    tracked = folded([begin(), DOWN])
    ahead = forecast(tracked, 20 * 60)
    (spell,) = ahead.spells
    # s2 takes three likely minutes an action after s1, s3 ends with the verify of light.
    assert (spell.from_s // 60, (spell.to_s or 0) > 20 * 60) == (10, True)
    assert ahead.trace.end_views[0].words == "up"


def test_one_handed_over_dark_stays_dark_though_its_joins_have_it_up() -> None:
    """Its clock runs on from before, until somebody finds or verifies it up."""
    base = plans().ground.baseline
    now = base.now.model_copy(update={"dark_min": {"light": 30}})
    ground = ready(base.model_copy(update={"now": now}))
    tracked = track(ground, plans().procedures, [begin()])
    assert tracked.trace.start_views[0].words == "down"
    assert spells(tracked, 20) == [(-30, None)]
    verified = track(ground, plans().procedures, [begin(), entry(2, 15, Action(verify="light"))])
    assert spells(verified, 20) == [(-30, 15)]
