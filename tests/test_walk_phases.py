"""Several phases: gaps, what each assumes, what one leaves to the next; replaying twice."""

from __future__ import annotations

import pytest
from small import BENCH, LAMP, baseline, having, outages, procedure, rules, so, starts, words_at

from cablewalk.replay.configuration import Configuration
from cablewalk.timeline.account import Account, account
from cablewalk.walk.run import ready, replay

OFF = "[{loses: light, do: [{switch_off: SW1}, {demate: P1}]}]"
ON = "[[{mate: {P1: J1}}, {switch_on: SW1}, {verify: light}]]"


def two(first: str = OFF, second: str = ON, base: str = LAMP, **head: str) -> Account:
    whole = {"procedure": "back", "gap_min": "10", **head}
    whole = {key: value for key, value in whole.items() if value}
    phases = [procedure(first, procedure="out"), procedure(second, **whole)]
    return account(baseline(base), phases, keep_going=True)


def test_an_outage_runs_across_the_gap() -> None:
    result = two()
    assert outages(result) == [("light", 0, 14)]
    assert rules(result) == set()


def test_the_second_phase_begins_where_the_first_left_off() -> None:
    assert so(two(), "P1", "mated J1")
    assert having(two(OFF, OFF), "refused")


def test_mission_time_and_phase_time() -> None:
    result = two(start_pet="-0:30")
    first, second = result.trace.phases
    assert (first.start_s, first.end_s) == (0, 120)
    assert second.start_s == 12 * 60
    assert second.zero_s == 42 * 60
    assert starts(result, 1) == {"s1": 12}


def test_no_gap_said() -> None:
    result = two(gap_min="")
    assert result.trace.unusable
    (finding,) = having(result, "no-gap")
    assert finding.address.document == 2
    assert "out" in finding.found
    assert "gap_min" in finding.expected


def test_a_gap_of_nothing_is_said() -> None:
    assert outages(two(gap_min="0")) == [("light", 0, 4)]


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        ("small", "out", []),
        ("another", "out", ["out assumes another, but follows small"]),
        ("small", "small", ["back assumes small, but follows out"]),
    ],
)
def test_what_each_assumes(first: str, second: str, found: list[str]) -> None:
    phases = [
        procedure(OFF, procedure="out", assumes=first),
        procedure(ON, procedure="back", gap_min="1", assumes=second),
    ]
    result = account(baseline(LAMP), phases, keep_going=True)
    assert [f.found for f in having(result, "assumes-another")] == found
    assert not result.trace.unusable


def test_steps_of_the_same_id_in_two_phases() -> None:
    result = two()
    trace = result.trace
    assert trace.views_after("s1", 0)[0].words == "down"
    assert trace.views_after("s1", 1)[0].words == "up"
    with pytest.raises(KeyError):
        trace.configuration_after("s9")


def test_faults_of_a_later_phase_forbid_the_first() -> None:
    result = two(second="[[{demate: PX}]]")
    assert result.trace.unusable
    (finding,) = having(result, "unknown-id")
    assert finding.address.document == 2


def test_not_established_is_a_finding_of_its_phase() -> None:
    more = "{services: {light: {begins: established}}, now: {mated: {P1: '~'}, loose: {P1: bench}}}"
    work = procedure("[[{wait: 1}]]", establishes=["light"])
    result = account(baseline(LAMP, more), [work])
    (finding,) = having(result, "not-established")
    assert finding.address.path == ("establishes", 0)
    done = procedure("[[{mate: {P1: J1}}]]", establishes=["light"])
    result = account(baseline(LAMP, more), [done])
    assert not having(result, "not-established")
    assert [t.kind for t in result.turns] == ["established"]


def test_no_procedure_at_all() -> None:
    result = account(baseline(BENCH))
    assert result.trace.end == result.trace.start
    assert result.outages == ()
    assert words_at(result, None) == "up"


def told(config: Configuration | None) -> list[object]:
    assert config is not None
    return list(config.tables)


def test_replaying_twice_gives_the_same() -> None:
    steps = """
    - {loses: light, do: [{switch_off: SW1}, {block: SW1}, {demate: P1}, {lock: P1}]}
    - {by: bob, do: [{take: W2}, {remove_cap: CU}, {carry: kit}, {walk: hatch}]}
    - [{mate: {P1: J1}}, {unblock: SW1}, {switch_on: SW1}, {verify: light}]
    """
    ground = ready(baseline())
    before = ground.config.copy()
    one, two_ = (replay(ground, [procedure(steps)], True) for _ in range(2))
    assert ground.config == before
    assert one.events == two_.events
    assert list(one.findings) == list(two_.findings)
    assert told(one.end) == told(two_.end)
    other = account(baseline(), [procedure(steps)], True).trace
    assert [(e.time_s, e.begins, e.changes, e.shifts) for e in one.events] == [
        (e.time_s, e.begins, e.changes, e.shifts) for e in other.events
    ]
    assert told(one.end) == told(other.end)


def test_undoing_every_event_leads_back_to_the_start() -> None:
    steps = (
        "[{loses: light, do: [{demate: P1}, {take: W2}, {remove_cap: CN}, {mate: {N1: J1}}, "
        "{walk: hatch}]}]"
    )
    trace = account(baseline(), [procedure(steps)], True).trace
    config = trace.configuration_after("s1")
    assert config == trace.end
    for event in reversed(trace.events):
        config.undo(event.changes)
    assert config == trace.start
