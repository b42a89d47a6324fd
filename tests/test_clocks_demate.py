"""A clock that starts at the demate: it waits for it, and runs since it can have begun."""

from __future__ import annotations

from pathlib import Path

import pytest
from asrun_quay import BASELINE, opened
from test_asrun_commands import done
from test_asrun_handed import MIN, SHED
from test_asrun_impossible import views

from cablewalk.logbook.log import Stored
from cablewalk.logbook.run import plans_of
from cablewalk.logbook.words import action_of
from cablewalk.timeline.forecast import forecast
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry

PLAN = """\
cablewalk: 1
procedure: p
title: The vat
roles: {ev: ann, gd: gil}
minutes: {any: 1, demate: [2, 3, 6]}
planned_outages: {vat: x}
steps:
  - {id: s1, by: gd, say: off, do: [switch_off: SWB]}
  - {id: s2, by: ev, after: s1, say: part, do: [demate: B2, wait: 9]}
"""


@pytest.mark.parametrize(
    ("now", "over", "begun"),
    [
        (1, 4, 1),  # it begins now, and takes its likely 3 min
        (3, 4, 1),  # ann was free at 0:01: she is at it since, and has 1 min to go
        (7, 7, 1),  # no sooner than its worst 6 min allow: since 0:01
        (20, 20, 14),  # over now at the earliest, and begun 6 min before at the soonest
    ],
)
def test_begun_since_its_worker_was_free(now: int, over: int, begun: int) -> None:
    stored = [Stored("baseline", "b", SHED.encode()), Stored("procedure", "p", PLAN.encode())]
    plans = plans_of(stored)
    action = action_of("switch_off SWB")
    entries = [
        Entry(0, 1, "begin", 0, 0, 0),
        Entry(0, 2, "action", MIN, MIN, MIN, "x", 0, ("gil",), action, "done", "s1", 0),
    ]
    coming = forecast(track(plans.ground, plans.procedures, entries), now * MIN)
    ends = [e.time_s for e in coming.trace.events if e.task.verb == "demate" and not e.begins]
    assert ends == [over * MIN]
    ((reading,),) = coming.readings.values()
    assert reading.runs_from_s == begun * MIN
    assert reading.reconnect_by_s == (begun + 60) * MIN


def test_a_clock_that_waits_for_the_demate_is_told_to(tmp_path: Path) -> None:
    waits = BASELINE.replace(
        "recovery_min: 10, clock: {allowed_min: 60, source: s}",
        "recovery_min: 10, clock: {allowed_min: 60, source: s, starts: demate}",
    )
    log = opened(tmp_path, baseline=waits)
    done("do", log, "s1/1", "--pet", "0:02")
    words = "its clock runs from the demate"
    for name, text in views(log).items():
        assert " ".join(text.split()).count(words) == 1, name  # light; radio's runs
    done("do", log, "s2/1", "--pet", "0:07", "--began", "0:05")
    for name, text in views(log).items():
        assert words not in " ".join(text.split()), name
