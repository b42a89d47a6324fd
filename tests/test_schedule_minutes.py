"""How long things take, and who does them: minutes, walking, roles."""

from __future__ import annotations

import pytest
from small import baseline, having, procedure, run

from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Findings
from cablewalk.schedule.distance import Distances
from cablewalk.schedule.tasks import Plan, plan_phase
from cablewalk.timeline.account import account

WAYS = [
    ("bench", "hatch", 10.0),
    ("hatch", "far", 30.0),
    ("bench", "yard", 5.0),
    ("yard", "far", 20.0),
]
SPEED = {"free_m_per_min": "5", "loaded_m_per_min": "2", "source": "invented"}


def plan(work: Procedure, **places: str) -> Plan:
    notes = Findings()
    return plan_phase(work, 0, Distances(WAYS), {"ada": "bench", **places}, ["ada", "bob"], notes)


def minutes(work: Procedure, **places: str) -> list[tuple[float, ...]]:
    return [tuple(s / 60 for s in task.durations_s) for task in plan(work, **places).tasks()]


# --- distances -----------------------------------------------------------------------------


def test_the_shortest_way_counts() -> None:
    ways = Distances(WAYS)
    assert ways.between("bench", "far") == 25
    assert ways.between("far", "bench") == 25
    assert ways.between("bench", "bench") == 0
    assert ways.between("nowhere", "nowhere") == 0


def test_no_way() -> None:
    assert Distances(WAYS).between("bench", "moon") is None


def test_of_two_paths_between_the_same_places_the_shorter() -> None:
    assert Distances([*WAYS, ("bench", "hatch", 3.0)]).between("hatch", "bench") == 3


# --- minutes -------------------------------------------------------------------------------


def test_own_minutes_before_the_verbs_before_any() -> None:
    work = procedure(
        "[[{inspect: P1, minutes: 9}, {demate: P1}, {lock: P1}]]",
        minutes={"demate": ["1", "2", "4"], "any": "7"},
    )
    assert minutes(work) == [(9, 9, 9), (1, 2, 4), (7, 7, 7)]


def test_a_wait_lasts_its_argument_and_some_last_no_time() -> None:
    steps = (
        "[[{wait: 2.5}, {expect: {P1: mated}}, {go_call: GO}, {retire: light}, {found: {P1: "
        "bare}, reason: x}]]"
    )
    assert minutes(procedure(steps, minutes="7")) == [(2.5,) * 3, *[(0, 0, 0)] * 4]


def test_unless_given() -> None:
    steps = "[[{expect: {P1: mated}, minutes: 3}, {go_call: GO}, {wait: 2, minutes: 4}]]"
    work = procedure(steps, minutes={"go_call": "1"})
    assert [row[1] for row in minutes(work)] == [3, 1, 4]


def test_missing_minutes() -> None:
    result = run("[[{inspect: P1}, {demate: P1}]]", minutes={"inspect": "1"})
    assert result.trace.unusable
    (finding,) = having(result, "no-minutes")
    assert "demate" in finding.found
    assert finding.address.path == ("steps", 0, "do", 1)


# --- walking -------------------------------------------------------------------------------


def walk(steps: str, **places: str) -> list[float]:
    return [row[1] for row in minutes(procedure(steps, speed=SPEED, minutes="99"), **places)]


def test_walking_takes_the_way_over_the_speed() -> None:
    assert walk("[[{walk: hatch}, {walk: far}, {walk: bench}]]") == [2, 6, 5]


def test_loaded_walking_is_slower() -> None:
    assert walk("[[{walk: {to: hatch, carrying: true}}]]") == [5]


def test_own_minutes_outrank_the_speed() -> None:
    assert walk("[[{walk: hatch, minutes: 1}, {walk: far}]]") == [1, 6]


def test_two_who_walk_together_arrive_with_the_one_who_comes_from_farther() -> None:
    assert walk("[{by: [ada, bob], do: [{walk: hatch}]}]", bob="far") == [6]


def test_where_no_way_leads_the_verbs_minutes_stand() -> None:
    assert walk("[[{walk: moon}]]") == [99]


def test_staying_takes_no_time() -> None:
    assert walk("[[{walk: bench}]]") == [0]


def test_without_a_speed_a_walk_needs_minutes() -> None:
    assert having(run("[[{walk: hatch}]]", minutes={"inspect": "1"}), "no-minutes")
    result = run("[[{walk: hatch}]]", minutes={"inspect": "1"}, speed=SPEED)
    assert result.trace.end_s == 120


def test_the_next_phase_walks_from_where_this_one_ended() -> None:
    one = procedure("[[{walk: far}]]", speed=SPEED)
    two = procedure("[[{walk: hatch}]]", speed=SPEED, gap_min="10")
    result = account(baseline(), [one, two])
    assert [t.end_s - t.start_s for t in result.trace.phases] == [480, 360]
    assert result.trace.end_s == 480 + 600 + 360


def test_one_who_was_driven_walks_from_where_he_is() -> None:
    """He rode from the bench to the hatch: getting off there is no walk."""
    steps = (
        "[[{walk: arm, minutes: 1}], {by: arm, after: s1, do: [{walk: hatch, minutes: 1}]}, "
        "{after: s2, do: [{walk: hatch, minutes: 1}, {walk: far}]}]"
    )
    result = run(steps, minutes={"inspect": "1"}, speed=SPEED)
    assert result.trace.end_s == (1 + 1 + 1 + 6) * 60


# --- workers -------------------------------------------------------------------------------


def test_a_role_or_the_person_himself() -> None:
    steps = (
        "[{by: lead, do: [{wait: 1}]}, {by: ada, do: [{wait: 1}]}, {by: [lead, bob], do: "
        "[{wait: 1, by: lead}]}]"
    )
    work = plan(procedure(steps, roles={"lead": "ada"}))
    assert [step.workers for step in work.steps] == [("ada",), ("ada",), ("ada", "bob")]
    assert work.steps[2].tasks[0].workers == ("ada",)


@pytest.mark.parametrize(
    ("who", "words"),
    [("zoe", "no person or role zoe"), ("lead", "role lead names zoe, whom the baseline")],
)
def test_nobody_of_that_name(who: str, words: str) -> None:
    result = run(f"[{{by: {who}, do: [{{wait: 1}}]}}]", roles={"lead": "zoe"})
    assert result.trace.unusable
    (finding,) = having(result, "unknown-id")
    assert words in finding.found
    assert "ada" in finding.expected


def test_nobody_at_all() -> None:
    (finding,) = having(run("[{by: [], do: [{wait: 1}]}]"), "nobody")
    assert finding.address.path == ("steps", 0, "do", 0)


def test_an_id_that_stands_twice() -> None:
    (finding,) = having(run("[{id: a, do: [{wait: 1}]}, {id: a, do: [{wait: 1}]}]"), "duplicate-id")
    assert finding.address.path[:2] == ("steps", 1)
