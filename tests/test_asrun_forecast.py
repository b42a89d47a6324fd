"""The rest of the plan, conditioned on what happened: times by hand on the bench."""

from __future__ import annotations

from pathlib import Path

import pytest
from asrun_bench import ZERO_S, begin, folded

from cablewalk.documents.actions import Action
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.timeline.asrun import asrun_account
from cablewalk.timeline.forecast import WORST, extras, forecast
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry
from cablewalk.walk.asrun_state import Tracked
from cablewalk.walk.run import ready, replay

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
MIN = 60


def done(serial: int, at_min: int, who: str, action: Action, step: str, task: int) -> Entry:
    """Return an entry that began and was over at a minute of the phase."""
    at = ZERO_S + at_min * MIN
    return Entry(
        0, serial, "action", at, at_min * MIN, at, "t", at, (who,), action, "done", step, task
    )


OFF = done(2, 2, "gus", Action(switch_off="SW1"), "s1", 0)
"""The lamp goes dark at 0:02; its clock allows 60 minutes."""


def at(minute: int, *entries: Entry, which: int = 1) -> tuple[Tracked, dict[str, tuple[int, int]]]:
    """Return the log folded, and step to the minutes in which the rest of it is to be done."""
    tracked = folded([begin(), OFF, *entries])
    found = forecast(tracked, minute * MIN, which=which)
    timed = found.timed
    return tracked, {
        step.id: (timed.step_start_s[n] // MIN, timed.step_end_s[n] // MIN)
        for n, step in enumerate(timed.plan.steps)
        if step.id and step.tasks
    }


def test_what_is_over_is_not_done_again() -> None:
    # Every action takes 2 likely minutes; s2 has three, s3 two, s4 two (of another worker).
    _, rest = at(2)
    assert rest == {"s2": (2, 8), "s3": (8, 12), "s4": (2, 4)}


def test_an_action_is_under_way_since_its_worker_was_free() -> None:
    # s2 could begin at 0:02: at 0:03 its first action has one minute left; ben's has none at 0:05.
    assert at(3)[1]["s2"] == (3, 8)
    assert at(5)[1]["s4"] == (5, 7)


def test_what_is_late_shifts_what_waits_for_it() -> None:
    # At 0:40 the demate is over at best now; inspect, mate, switch on, verify: 2 minutes each.
    tracked, rest = at(40)
    assert (rest["s2"], rest["s3"]) == ((40, 44), (44, 48))
    likely = forecast(tracked, 40 * MIN)
    # Planned: s1 0:00 to 0:02, s2 to 0:08, s3 to 0:12.
    assert likely.behind_s == (48 - 12) * MIN
    (spell,) = likely.spells
    assert (spell.from_s, spell.to_s) == (2 * MIN, 46 * MIN)
    assert likely.readings[0][0].margin_s == (60 - 44) * MIN


def test_a_clock_is_at_risk_that_only_the_worst_overruns() -> None:
    # At 0:52: back at 0:58 by likely minutes, at 1:04 by the worst (4 each): dark 56, or 62, of 60.
    tracked, _ = at(52)
    assert not forecast(tracked, 52 * MIN).exceeded
    assert forecast(tracked, 52 * MIN, which=WORST).exceeded == {(0, 0)}


def test_what_happened_makes_the_rest_impossible() -> None:
    gone = Entry(
        0, 3, "action", ZERO_S + 180, 180, ZERO_S, "t", None, (),
        Action(found={"ada": "at hatch"}, reason="she went in"), "found",
    )  # fmt: skip
    tracked, _ = at(4, gone)
    refused = forecast(tracked, 4 * MIN).refused
    assert {r.task.step_id for r in refused} == {"s2"}
    assert "ada at hatch" in refused[0].text


def test_get_aheads_are_tried_in_turn() -> None:
    base = load_baseline(CONFIGS / "outpost.yaml").model
    plan = load_procedure(CONFIGS / "outing-1.yaml", 1).model
    assert base is not None and plan is not None
    ground = ready(base)
    tracked = track(ground, [plan], [begin()])
    now_s = tracked.phases[0].start_s
    fits = extras(tracked, now_s, forecast(tracked, now_s))
    assert [(e.id, e.why_not) for e in fits] == [("third-tie", ""), ("look-at-outlet", "")]


@pytest.fixture(scope="module")
def planned() -> tuple[Tracked, list[Entry]]:
    """Return the demo's first outing folded, recorded just as planned, and its entries."""
    base = load_baseline(CONFIGS / "outpost.yaml").model
    plan = load_procedure(CONFIGS / "outing-1.yaml", 1).model
    assert base is not None and plan is not None
    ground = ready(base)
    trace = replay(ground, [plan])
    spots = {
        task.serial: (step.id, n)
        for step in trace.phases[0].plan.steps
        for n, task in enumerate(step.tasks)
    }
    began: dict[int, int] = {}
    entries = [begin()]
    for moment in trace.phases[0].moments:
        task = moment.task
        if moment.begins:
            began[task.serial] = moment.time_s
            continue
        utc = ZERO_S + moment.time_s
        entries.append(
            Entry(
                0, len(entries) + 1, "action", utc, moment.time_s, utc, "t",
                ZERO_S + began[task.serial], task.workers, task.action, "done", *spots[task.serial],
            )
        )  # fmt: skip
    tracked = track(ground, [plan], entries)
    assert tracked.fold.config == trace.end, "recorded as planned is replayed as planned"
    return tracked, entries


@pytest.mark.parametrize("count", [1, 10, 20, 40, 60, 80, 90])
def test_recorded_as_planned_is_on_time(planned: tuple[Tracked, list[Entry]], count: int) -> None:
    whole, entries = planned
    tracked = track(whole.ground, whole.procedures, entries[:count])
    likely = forecast(tracked, tracked.trace.end_s)
    assert likely.behind_s == 0
    assert not likely.refused
    assert likely.trace.end == whole.fold.config


def test_outages_of_the_log_are_those_of_the_replay(planned: tuple[Tracked, list[Entry]]) -> None:
    tracked, _ = planned
    trace = replay(tracked.ground, tracked.procedures)
    account = asrun_account(tracked, tracked.trace.end_s)
    from cablewalk.timeline.spells import outages

    def told(spells: object) -> list[tuple[int, int, int | None]]:
        return [(s.service, s.from_s, s.to_s) for s in spells]  # type: ignore[attr-defined]

    assert told(account.outages) == told(outages(trace, {}))
