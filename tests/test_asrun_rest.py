"""The order of the rest: an entry nobody made leaves the others in their order."""

from __future__ import annotations

from pathlib import Path

from asrun_bench import ZERO_S, begin, plans
from asrun_quay import opened
from hypothesis import given, settings
from hypothesis import strategies as st
from test_asrun_commands import asrun, done

from cablewalk.documents.actions import Action, Estimate
from cablewalk.documents.procedure import Procedure, Step
from cablewalk.timeline.forecast import forecast
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry

CHAIN = """\
cablewalk: 1
procedure: looks
assumes: quay
roles: {ev: ann, gnd: gil}
minutes: {any: [1, 2, 5]}
steps:
  - {id: a1, by: ev, do: [{inspect: K1}]}
  - {id: a2, by: ev, do: [{inspect: K1}]}
  - {id: a3, by: ev, do: [{inspect: K1}]}
  - {id: a4, by: ev, do: [{inspect: K1}, {inspect: K1}]}
"""


def test_a_forgotten_entry_makes_nothing_impossible(tmp_path: Path) -> None:
    log = opened(tmp_path, CHAIN)
    said = done("do", log, "a2", "--pet", "0:04")
    assert "impossible" not in said and "busy" not in said
    assert "CANNOT BE DONE" not in asrun("now", log, "--pet", "0:05").stdout
    told = asrun("forecast", log, "--pet", "0:05")
    assert told.exit_code == 0 and "busy" not in told.stdout


def in_two_at_once(by: list[tuple[str, ...]], after: list[int | None], over: set[int]) -> list[str]:
    """Return who is in two actions at once in the rest of such a plan, and what is refused.

    Args:
        by: the workers of each step.
        after: position of a step each comes after, or None.
        over: positions of the steps recorded.
    """
    steps = tuple(
        Step(
            id=f"s{n}",
            by=workers,
            after=() if (before := after[n]) is None or before >= n else (f"s{before}",),
            do=tuple(Action(inspect="J1" if w == "ada" else "J2", by=(w,)) for w in workers),
        )
        for n, workers in enumerate(by)
    )
    plan = Procedure(
        cablewalk=1,
        procedure="p",
        minutes={"any": Estimate(best_min=1, likely_min=2, worst_min=4)},
        steps=steps,
    )
    entries = [begin()]
    for n in sorted(over):
        for k, who in enumerate(by[n]):
            at = 60 * len(entries)
            entries.append(
                Entry(
                    0, len(entries) + 1, "action", ZERO_S + at, at, ZERO_S + at, "t", None, (who,),
                    steps[n].do[k], "done", f"s{n}", k,
                )
            )  # fmt: skip
    tracked = track(plans().ground, [plan], entries)
    found = forecast(tracked, tracked.trace.end_s)
    told = [row.text for row in found.refused]
    at_work: set[str] = set()
    for moment in found.phases[0].timed.moments:
        for who in moment.task.workers:
            if moment.begins and who in at_work:
                told.append(f"{who} is in two actions at once")
            (at_work.add if moment.begins else at_work.discard)(who)
    return told


@settings(max_examples=60, deadline=None)
@given(data=st.data(), count=st.integers(2, 8))
def test_nobody_is_in_two_actions_at_once(data: st.DataObject, count: int) -> None:
    people = st.sampled_from([("ada",), ("bob",), ("ada", "bob")])
    by = [data.draw(people) for _ in range(count)]
    after = [data.draw(st.none() | st.integers(0, count - 1)) for _ in range(count)]
    over = data.draw(st.sets(st.integers(0, count - 1)))
    assert in_two_at_once(by, after, over) == []


def test_what_waited_behind_a_step_recorded_too_soon_still_waits() -> None:
    """Of four steps the second alone is recorded: the third comes after the first all the same."""
    assert in_two_at_once([("ada",)] * 4, [None] * 4, {1}) == []
