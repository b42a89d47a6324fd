"""Orders: the partial order of all events, ties, conflicts, and which tasks touch a service."""

from __future__ import annotations

from itertools import permutations

import pytest
from small import BENCH, baseline, procedure

from cablewalk.continuity.services import Continuity, State
from cablewalk.orders.conflicts import find_conflicts
from cablewalk.orders.course import DOWN, UP, course
from cablewalk.orders.joinable import Joinable
from cablewalk.orders.network import Network, bits
from cablewalk.orders.support import Support
from cablewalk.orders.table import Tables, TooMany
from cablewalk.orders.ties import in_order
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.spread_replay import BREAKING, as_replayed

CROSSED = (
    "[{by: ada, do: [{demate: P1}, {mate: {P1: J1}}]}, {by: gus, do: [{switch_off: SW1},"
    " {switch_on: SW1}]}, {by: bob, do: [{inspect: J3}]}]"
)
"""Ada and gus each take the lamp down and back, in any order; bob does nothing to it."""


def made(steps: str, more: str = "{}") -> tuple[Account, Network]:
    result = account(baseline(BENCH, more), [procedure(steps)], keep_going=True)
    assert not result.trace.unusable, [f.sentence() for f in result.findings]
    return result, Network(result.trace.phases)


def tables(result: Account, network: Network) -> Tables:
    replayed = as_replayed(result.trace, network)
    return Tables(replayed, network, Support(Joinable(replayed)), BREAKING)


def order(result: Account, network: Network) -> list[int]:
    return [network.event(m.task, m.begins) for timed in result.trace.phases for m in timed.moments]


def test_what_comes_first() -> None:
    _, network = made(
        "[{by: ada, do: [{inspect: J1}]}, {by: bob, do: [{inspect: J2}]},"
        " {by: gus, after: s1, do: [{switch_off: SW1}]}]"
    )
    assert [list(bits(mask)) for mask in network.earlier] == [[], [0], [], [2], [0, 1], [0, 1, 4]]
    assert network.apart(0, 3)
    assert not network.apart(1, 4)
    assert network.tasks_apart(0, 1)
    assert not network.tasks_apart(0, 2)


def test_a_phase_comes_before_the_next() -> None:
    plan = procedure("[[{inspect: J1}]]")
    later = plan.model_copy(update={"procedure": "later", "gap_min": 1.0})
    result = account(baseline(), [plan, later])
    network = Network(result.trace.phases)
    assert list(bits(network.earlier[2])) == [0, 1]


@pytest.mark.parametrize(
    "steps",
    [
        CROSSED,
        "[{by: [ada, bob], do: [{inspect: J1}]}, {by: ada, do: [{go_call: g}]},"
        " {by: gus, go: g, do: [{switch_off: SW1}]}, {by: bob, do: [{inspect: J2}]}]",
        "[{by: ada, do: [{expect: {SW1: on}}, {inspect: J1}]}, {by: bob, after: s1,"
        " do: [{expect: {SW1: on}}]}, {by: gus, do: [{switch_off: SW1}]}]",
    ],
)
def test_ties_go_as_the_schedule_has_them(steps: str) -> None:
    result, network = made(steps)
    (timed,) = result.trace.phases
    times = {network.event(m.task, m.begins): m.time_s for m in timed.moments}
    assert in_order(network, times) == order(result, network)


def test_only_what_touches_a_service_is_in_its_table() -> None:
    result, network = made(CROSSED)
    found = tables(result, network)
    assert found.touching(0) == list(range(8)), "bob's inspection is not among them"


def test_a_table_has_every_reachable_set() -> None:
    """Four events in a row of each of two people: 5 x 5 sets; and each agrees with a judgement
    from scratch of the configuration it stands for."""
    result, network = made(CROSSED)
    found = tables(result, network)
    table = found.table(0, found.touching(0), True)
    assert len(table.at) == 25
    changes = found.changes
    for group, standing in table.at.items():
        config = result.trace.start.copy()
        for event in order(result, network):
            if event in table.events and group >> table.events.index(event) & 1:
                for field, item, _, new in changes[event]:
                    config.tables[field][item] = new  # type: ignore[assignment]
        assert standing.down == (Continuity(config).states[0] is State.DOWN), bin(group)


def test_events_that_never_matter_are_left_out() -> None:
    result, network = made(CROSSED)
    found = tables(result, network)
    table = found.table(0, found.touching(0), False)
    small = table.without(table.inert())
    assert len(small.events) == 4, "ada: begin of demate, end of mate; gus: begin off, end on"
    assert {network.events[e].task.verb for e in small.events} == {
        "demate",
        "mate",
        "switch_off",
        "switch_on",
    }
    for some in permutations(range(4)):
        if some.index(0) < some.index(1) and some.index(2) < some.index(3):
            turns = course(small, some).turns
            kinds = [kind for _, kind in turns]
            assert kinds in ([DOWN, UP], [DOWN, UP, DOWN, UP])
            apart = some in ((0, 1, 2, 3), (2, 3, 0, 1))
            assert (len(kinds) == 4) == apart


def test_too_large_a_table_is_given_up_and_the_configuration_left_as_it_was(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    result, network = made(CROSSED)
    found = tables(result, network)
    monkeypatch.setattr("cablewalk.orders.table.SETS_AT_MOST", 7)
    with pytest.raises(TooMany):
        found.table(0, found.touching(0), True)
    assert found.config == result.trace.start
    assert len(found.along(0, found.touching(0)[:4], True).at) == 5


def test_no_conflict_where_each_has_his_own() -> None:
    result, network = made(CROSSED)
    replayed = as_replayed(result.trace, network)
    assert not find_conflicts(replayed, network, order(result, network)).pairs


@pytest.mark.parametrize(
    ("steps", "verbs"),
    [
        (
            "[{by: ada, do: [{inspect: J1}]}, {by: bob, do: [{wait: 5}, {inspect: J1}]}]",
            {"inspect"},
        ),
        (
            "[{by: ada, do: [{remove_cap: C3}]}, {by: bob, do: [{wait: 5}, {inspect: J3}]}]",
            {"remove_cap", "inspect"},
        ),
        ("[{by: ada, do: [{carry: kit}]}, {by: bob, do: [{wait: 5}, {take: W2}]}]", None),
    ],
)
def test_conflicts(steps: str, verbs: set[str] | None) -> None:
    result, network = made(steps)
    replayed = as_replayed(result.trace, network)
    found = find_conflicts(replayed, network, order(result, network))
    assert found.pairs
    if verbs is not None:
        assert {network.tasks[k].verb for k in found.variable} == verbs


def test_a_fixed_order_takes_a_conflict_away() -> None:
    result, network = made(
        "[{by: ada, do: [{inspect: J1}]}, {by: bob, after: s1, do: [{inspect: J1}]}]"
    )
    replayed = as_replayed(result.trace, network)
    assert not find_conflicts(replayed, network, order(result, network)).pairs
