"""The rest of the plan, conditioned on what happened: times by hand on the bench."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from asrun_bench import BASELINE, PROCEDURE, ZERO_S, begin, folded, plans

from cablewalk.documents.actions import Action
from cablewalk.files.load import load_baseline, load_procedure, parse_baseline, parse_procedure
from cablewalk.reports.asrun_forecast import forecast_report
from cablewalk.reports.asrun_log import LogFacts
from cablewalk.timeline.asrun import asrun_account
from cablewalk.timeline.extras import extras
from cablewalk.timeline.forecast import WORST, forecast
from cablewalk.timeline.spells import outages
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
    timed = found.phases[0].timed
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
    assert likely.phases[0].behind_s == (48 - 12) * MIN
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
    assert likely.phases[0].behind_s == 0
    assert not likely.refused
    assert likely.trace.end == whole.fold.config


def test_outages_of_the_log_are_those_of_the_replay(planned: tuple[Tracked, list[Entry]]) -> None:
    tracked, _ = planned
    trace = replay(tracked.ground, tracked.procedures)
    account = asrun_account(tracked, tracked.trace.end_s)

    def told(spells: object) -> list[tuple[int, int, int | None]]:
        return [(s.service, s.from_s, s.to_s) for s in spells]  # type: ignore[attr-defined]

    assert told(account.outages) == told(outages(trace, {}))


# -- phases that have not begun ---------------------------------------------------------

AGAIN = """cablewalk: 1
procedure: again
gap_min: 30
start_pet: "-0:10"
minutes: {any: [1, 2, 4]}
planned_outages: {light: once more}
steps:
  - {id: a1, by: gus, do: [switch_off: SW1]}
  - {id: a2, by: ada, after: a1, do: [demate: P2, mate: {P2: J2}]}
  - {id: a3, by: gus, after: a2, do: [switch_on: SW1]}
  - mark: get_aheads
get_aheads:
  - {id: look, priority: 1, when: {COV: open}, steps: [{id: g1, by: ada, do: [inspect: J3]}]}
  - {id: long, priority: 2, steps: [{id: g2, by: gus, do: [switch_off: SW1, wait: 90]}]}
"""


def two_phases(*entries: Entry) -> Tracked:
    """Return a log of the bench with a second phase that has not begun."""
    second = parse_procedure(AGAIN.encode(), "again.yaml", 2).model
    assert second is not None
    return track(plans().ground, [*plans().procedures, second], [begin(), *entries])


def test_a_later_phase_begins_from_what_this_one_will_leave() -> None:
    found = forecast(two_phases(OFF), 40 * MIN)
    # The first is over at 0:48 (above, two of its actions were under way); 30 minutes on the
    # second begins at 1:18, its PET -0:10; each action takes 2 likely minutes.
    first, second = found.phases
    assert (first.end_s, second.phase.start_s, second.end_s) == (48 * MIN, 78 * MIN, 86 * MIN)
    assert second.phase.zero_s == 88 * MIN
    # Both are 36 minutes later than planned: the second for the first one's sake.
    assert (first.behind_s, second.behind_s) == (36 * MIN, 36 * MIN)
    dark = [(s.from_s // MIN, (s.to_s or 0) // MIN) for s in found.spells]
    assert dark == [(2, 46), (78, 86)]
    # No time resets the clock: 44 and 8 minutes of 60.
    assert [found.readings[n][0].margin_s // MIN for n in (0, 1)] == [16, 8]


def test_a_clock_at_risk_in_a_later_phase_only() -> None:
    # At 0:46 dark 50 in the first and 58 in all: the worst minutes of the second overrun it.
    tracked = two_phases(OFF)
    likely, worst = forecast(tracked, 46 * MIN), forecast(tracked, 46 * MIN, which=WORST)
    assert not likely.exceeded and worst.exceeded == {(0, 0)}
    report = forecast_report(tracked, LogFacts("x", "", 2, (), plans().sources * 2), 46 * MIN)
    late = [(o.from_pet.phase, o.at_risk, o.margin_min) for o in report.outages]
    assert late == [("swap", False, 10), ("again", True, 2)]
    # At worst back at 0:58 (56 dark), then 16 more.
    assert [o.worst_margin_min for o in report.outages] == [4, -12]
    # 46 + 60 - 50: the second is back by its minute 10 at the latest, begun at 1:24.
    by = report.outages[1].reconnect_by_pet
    assert by is not None and (by.phase, by.pet) == ("again", "0:00")


def test_what_happens_now_makes_a_later_phase_impossible() -> None:
    lost = Entry(
        0, 3, "action", ZERO_S + 180, 180, ZERO_S, "t", None, (),
        Action(found={"P2": "bare", "J2": "capped CP"}, reason="off"), "found",
    )  # fmt: skip
    refused = forecast(two_phases(OFF, lost), 4 * MIN).refused
    assert [(r.task.phase, r.task.step_id) for r in refused] == [(1, "a2")]


def test_get_aheads_of_a_later_phase_are_judged_by_what_will_be_so() -> None:
    tracked = two_phases(OFF)
    told = [(e.phase, e.id, e.why_not) for e in extras(tracked, 2 * MIN, forecast(tracked, 120))]
    # The cover is opened in the first phase; the long one leaves the lamp dark for 90 minutes.
    assert told == [(1, "look", ""), (1, "long", "a clock is exceeded: light")]


def test_a_phase_that_is_over_does_not_grow_while_the_next_is_awaited() -> None:
    whole = track(plans().ground, plans().procedures, [begin()]).phases[0]
    entries = [
        done(n + 2, (n + 1) * 2, task.workers[0], task.action, step.id, k)
        for n, (step, k, task) in enumerate(
            (step, k, task) for step in whole.plan.steps for k, task in enumerate(step.tasks)
        )
    ]
    tracked = two_phases(*entries)
    over = entries[-1].pet_s
    for now_s, start_s in ((over, over + 30 * MIN), (over + 45 * MIN, over + 45 * MIN)):
        first, second = forecast(tracked, now_s).phases
        assert (first.end_s, second.phase.start_s) == (over, start_s)


def test_before_anything_is_recorded_the_forecast_is_the_replay() -> None:
    base = load_baseline(CONFIGS / "outpost.yaml").model
    rows = [load_procedure(CONFIGS / f"outing-{n}.yaml", n).model for n in (1, 2, 3)]
    procedures = [row for row in rows if row is not None]
    assert base is not None and len(procedures) == 3
    ground = ready(base)
    trace = replay(ground, procedures, keep_going=True)
    tracked = track(ground, procedures, [begin()])
    found = forecast(tracked, tracked.phases[0].start_s)
    assert [(row.phase.start_s, row.end_s) for row in found.phases] == [
        (timed.start_s, timed.end_s) for timed in trace.phases
    ]
    assert found.trace.end == trace.end
    told = [(s.service, s.from_s, s.to_s) for s in outages(trace, base.now.dark_min)]
    assert [(s.service, s.from_s, s.to_s) for s in found.spells] == told and told
    assert not any(row.behind_s for row in found.phases)


def test_the_forecast_tells_what_a_phase_will_end_without() -> None:
    """``establishes``, judged as a phase ends: of the one under way as of one to come."""
    loaded = [load_procedure(CONFIGS / f"outing-{n}.yaml", n).model for n in (1, 2, 3)]
    baseline = load_baseline(CONFIGS / "outpost.yaml").model
    procedures = [p for p in loaded if p is not None]
    assert baseline is not None and len(procedures) == 3
    name = procedures[2].establishes[0]
    one = procedures[0].model_copy(update={"establishes": (name,)})
    tracked = track(ready(baseline), [one, *procedures[1:]], [begin()])
    told = [f.found for f in forecast(tracked, 0).findings if f.rule == "not-established"]
    assert told == [f"outing-1 was to bring up {name}, and ends without it"]
    plain = track(ready(baseline), procedures, [begin()])
    ahead = forecast(plain, 0)
    assert not [f for f in ahead.findings if f.rule == "not-established"], "outing 3 brings it up"


# -- what follows from what -------------------------------------------------------------

NEEDY = (
    BASELINE.replace(
        "    units: {SRC",
        "      J5: p2 socket BOX.hi BOX.ret\n      J6: p2 pin TV.hi TV.ret\n"
        "    units: {BOX: load, TV: load, SRC",
    )
    .replace("harnesses: {", "harnesses: {W2: [Q1 p2 pin, Q2 p2 socket], ")
    .replace("mated: {P1: J1, P2: J2}", "mated: {P1: J1, P2: J2, Q1: J5, Q2: J6}")
    .replace(
        "now:",
        "  glow: {kind: data, needs: light, lines: [BOX.hi to TV.hi]}\n"
        "  deep: {kind: data, needs: glow, lines: [BOX.ret to TV.ret]}\nnow:",
    )
)
TESTED = PROCEDURE.replace("verify: light]", "verify: light, verify: glow, verify: deep]").replace(
    "{light: it is being worked on}", "{light: a, glow: b, deep: c}"
)


def needy(*entries: Entry, then: str = "") -> list[tuple[str, tuple[str, ...], str | None]]:
    """Return rule, items and cause of what the rest will bring where services need one another."""
    base = parse_baseline(NEEDY.encode(), "needy.yaml").model
    text = TESTED.replace("after: s2, do", "after: s2b, do") if then else TESTED
    text = text.replace("  - {id: s3", f"  - {then}\n  - {{id: s3") if then else text
    plan = parse_procedure(text.encode(), "swap.yaml", 1).model
    assert base is not None and plan is not None
    tracked = track(ready(base), [plan], [begin(), OFF, *entries])
    assert not tracked.findings.has_errors, list(tracked.findings)
    return [(f.rule, f.items, f.because_of) for f in forecast(tracked, 600).findings]


def seen(serial: int, **found: str) -> Entry:
    """Return an entry that something was found, five minutes into the phase."""
    at = ZERO_S + 5 * MIN
    action = Action(found=found, reason="seen")
    return Entry(0, serial, "action", at, 5 * MIN, at, "t", None, ("ada",), action, "found")


def test_what_needs_what_a_refusal_keeps_down_stands_beneath_it() -> None:
    assert needy() == []
    demated = done(3, 4, "ada", Action(demate="P1"), "s2", 0)
    told = needy(demated, seen(4, J1="capped C3"))
    assert next(row for row in told if row[0] == "refused")[2] is None
    assert [row for row in told if row[0] == "verify-failed"] == [
        ("verify-failed", (name,), "s2") for name in ("light", "glow", "deep")
    ]


def test_what_is_down_for_a_reason_of_its_own_stands_for_itself() -> None:
    """Q1 was found off: glow is down whatever becomes of the light, and nothing was refused."""
    told = needy(seen(3, Q1="bare"))
    assert [row for row in told if row[0] == "verify-failed"] == [
        ("verify-failed", ("glow",), None), ("verify-failed", ("deep",), None),
    ]  # fmt: skip


def test_a_test_that_fails_for_a_mate_not_made_stands_beneath_it_wherever_the_gap_is() -> None:
    """The refused mate is not the last of its harness: P2 is apart too as P1 cannot be mated."""
    demated = done(3, 4, "ada", Action(demate="P1"), "s2", 0)
    off = replace(seen(4, J1="capped C3", P2="bare"), actors=("ada",))
    told = needy(demated, off, then="{id: s2b, by: ev1, after: s2, do: [mate: {P2: J2}]}")
    assert [row for row in told if row[0] == "verify-failed"] == [
        ("verify-failed", (name,), "s2") for name in ("light", "glow", "deep")
    ]


def test_a_test_of_what_was_retired_stands_for_itself() -> None:
    demated = done(3, 4, "ada", Action(demate="P1"), "s2", 0)
    retired = done(5, 6, "gus", Action(retire="light", reason="x"), "", 0)
    told = needy(demated, seen(4, J1="capped C3"), replace(retired, task=None))
    assert ("verify-failed", ("light",), None) in told
