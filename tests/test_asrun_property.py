"""The log never refuses reality: whatever is recorded, in whatever order, is folded.

Actions of every verb, possible or not, with told and untold beginnings that overlap.
"""

from __future__ import annotations

from typing import Any

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from small import BENCH

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Findings
from cablewalk.logbook.words import action_of
from cablewalk.replay.snapshot import now_of
from cablewalk.replay.start import start_configuration
from cablewalk.timeline.extras import extras
from cablewalk.timeline.forecast import forecast
from cablewalk.timeline.trouble import trouble_ahead
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry, Outcome
from cablewalk.walk.run import ready

ZERO_S = 1_936_000_000
MINUTE = 60


def document(text: str) -> Any:
    return yaml.load(text, Loader=yaml.BaseLoader)


GROUND = ready(Baseline.model_validate({"cablewalk": "1", "baseline": "bench", **document(BENCH)}))
PLAN = Procedure.model_validate(
    document("""
cablewalk: 1
procedure: plan
roles: {ev1: ada, ev2: bob}
minutes: {any: [1, 2, 5]}
steps:
  - {id: s1, by: ev1, do: [demate: P1, mate: {P1: J3}]}
  - {id: s2, by: ev2, do: [release: COV, open: COV]}
  - mark: get_aheads
  - {id: s3, by: [ev1, ev2], after: s2, do: [walk: hatch]}
get_aheads:
  - {id: g, priority: 1, steps: [{id: g1, by: ev1, do: [inspect: P2]}]}
""")
)

DEEDS = [
    action_of(text, "seen so")
    for text in (
        "mate P1 J1", "mate P1 J3", "mate N1 J3", "mate P1 JQ", "engage P1 J4", "seat P2 J2",
        "park P1 JP", "park N1 JP", "lock P1", "lock N1", "demate P1", "demate J2", "demate JP",
        "demate JN", "mate N2 P1", "mate N1 JB", "mate P1 JF",
        "fit_cap C3 J3", "fit_cap C3 J4", "fit_cap CL J3", "fit_cap CN N1", "fit_cap CL J1",
        "remove_cap C3", "remove_cap CN", "remove_cap CU", "tether CL", "pick_up C3", "pick_up W2",
        "pick_up P1", "let_go W2", "let_go P1", "release COV", "release COV 2", "fasten COV",
        "fasten COV 1", "open COV", "close COV", "remove_cover COV", "fit_cover COV",
        "pick_up COV", "switch_off SW1", "switch_on SW1", "switch_on SW2", "block SW1",
        "unblock SW1", "reset SW1", "take W2", "take CL", "take N1", "pack W2 kit", "pack C3 sack",
        "carry kit", "carry sack", "leave kit", "hand_over N1 bob", "hand_over C3 ada",
        "pull_aside P1", "restore P1", "tie W1.main t1", "tie W1.main t3", "cut_tie W1.main t1",
        "route W1.main way", "route W2.main way off", "restrain N1", "stow N1 sack", "stow P1 far",
        "install PAN", "install BOX", "remove PAN", "remove BOX", "walk hatch", "walk far",
        "walk bench carrying", "walk arm", "inspect J1", "inspect W1", "verify light",
        "verify SW1 blocked", "verify COV open", "expect P1 mated", "go_call go", "wait 3",
        "found COV part_fastened 2", "found C3 lost", "found P1 mated J4", "found P1 part_engaged",
        "found J1 bare", "found ada at far", "found SW1 tripped", "found N1 loose bench",
        "found kit carried bob", "found PAN absent", "found C3 fitted J4", "found CL fitted J3",
        "retire light",
    )
]  # fmt: skip
"""Actions of every verb; many of them impossible at most moments."""

OUTCOMES: tuple[Outcome, ...] = ("done", "done", "done", "done differently", "failed", "skipped")

ENTRIES = st.lists(
    st.tuples(
        st.sampled_from(DEEDS),
        st.sampled_from(OUTCOMES),
        st.sampled_from((("ada",), ("bob",), ("ada", "bob"), ("gus",), ("arm",), ("ivy",), ())),
        st.integers(-20, 200),
        st.none() | st.integers(0, 12),
        st.none() | st.sampled_from((("s1", 0), ("s1", 1), ("s2", 1), ("g1", 0), ("s3", 0))),
    ),
    max_size=25,
)


def entries_of(rows: list[Any]) -> list[Entry]:
    """Return the entries that such rows stand for, after the one that begins the phase."""
    found = [Entry(0, 1, "begin", ZERO_S, 0, ZERO_S)]
    for n, (action, outcome, actors, at, took, spot) in enumerate(rows):
        if action.verb in ("found", "retire"):
            outcome = "found" if action.verb == "found" else "done"
        elif not actors or (actors == ("arm",) and action.verb == "walk"):
            actors = ("ada",)  # an arm that walks onto itself is a slip of the engine's, told
        end = ZERO_S + at * MINUTE
        step, task = spot or ("", None)
        found.append(
            Entry(
                0,
                n + 2,
                "action",
                end,
                at * MINUTE,
                end,
                "x",
                None if took is None else end - took * MINUTE,
                actors,
                action,
                outcome,
                step=step,
                task=task,
                text="why",
            )
        )
    return found


@settings(max_examples=40)
@given(ENTRIES)
def test_whatever_is_recorded_is_folded(rows: list[Any]) -> None:
    entries = entries_of(rows)
    tracked = track(GROUND, [PLAN], entries)
    assert not tracked.trace.stopped and not tracked.trace.refused
    played = {row.entry.key for row in tracked.played}
    assert played == {e.key for e in entries if e.kind == "action" and e.outcome != "skipped"}
    times = [event.time_s for event in tracked.trace.events]
    assert times == sorted(times)
    again = track(GROUND, [PLAN], entries)
    assert again.fold.config == tracked.fold.config
    assert again.findings.items == tracked.findings.items


@settings(max_examples=40)
@given(ENTRIES)
def test_what_is_left_can_be_handed_over(rows: list[Any]) -> None:
    tracked = track(GROUND, [PLAN], entries_of(rows))
    now = now_of(tracked.fold.config)
    findings = Findings()
    baseline = GROUND.baseline.model_copy(update={"now": now})
    config = start_configuration(baseline, GROUND.wiring, findings)
    assert not findings.items, findings.items[0].sentence()
    for attribute in ("state", "link", "count", "ties", "along", "disturbed"):
        assert getattr(config, attribute) == getattr(tracked.fold.config, attribute), attribute


@settings(max_examples=40)
@given(ENTRIES)
def test_the_rest_can_be_forecast_from_wherever_it_is(rows: list[Any]) -> None:
    tracked = track(GROUND, [PLAN], entries_of(rows))
    before = tracked.fold.config.copy()
    now_s = tracked.trace.end_s
    likely, worst = forecast(tracked, now_s), forecast(tracked, now_s, which=2)
    assert now_s <= likely.trace.end_s <= worst.trace.end_s
    assert [e.id for e in extras(tracked, now_s, likely)] in ([], ["g"])
    trouble = trouble_ahead(tracked, now_s)
    told = {(row.phase.number, row.refused.task.step_id) for row in trouble.obstacles}
    assert told <= {(r.task.phase, r.task.step_id) for r in likely.refused}
    assert bool(told) is bool(likely.refused)
    for row in trouble.obstacles:
        task = row.phase.by_id[row.refused.task.step_id].tasks[row.place]
        assert task.action == row.refused.task.action and row.refused.text in row.refusal.found
    assert tracked.fold.config == before, "a forecast changes nothing"


@settings(max_examples=40)
@given(ENTRIES, st.integers(0, 25))
def test_what_was_recorded_first_does_not_change_by_what_comes_later(
    rows: list[Any], cut: int
) -> None:
    """Entries after, in time and in the log, leave the events before them as they were."""
    entries = entries_of(sorted(rows, key=lambda row: row[3]))
    entries = [e for e in entries if e.began_s is None]
    first = track(GROUND, [PLAN], entries[: cut + 1])
    whole = track(GROUND, [PLAN], entries)
    assert whole.played[: len(first.played)] == first.played
