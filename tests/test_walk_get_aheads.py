"""Get-aheads: which enter, where, and which do not."""

from __future__ import annotations

import pytest
from small import baseline, having, procedure, so, starts

from cablewalk.timeline.account import Account, account

PLAN = """
steps:
  - [{inspect: P1}]
  - mark: get_aheads
  - {id: clean-up, do: [{walk: hatch}]}
get_aheads:
  - {id: second, priority: 2, steps: [{id: g2, by: ada, do: [{take: N1}]}]}
  - {id: first, priority: 1, steps: [{id: g1, by: ada, do: [{remove_cap: C3}]}]}
  - {id: never, priority: 1, when: {SW1: "off"}, steps: [{id: g0, by: ada, do: [{take: CL}]}]}
  - {id: third, priority: 3, steps: [{id: g3, by: ada, do: [{take: N2}]}]}
"""


def ahead(count: int, plan: str = PLAN, keep_going: bool = True) -> Account:
    return account(baseline(), [procedure(plan)], keep_going, count)


def entered(result: Account) -> list[str]:
    return [name for _, name in result.trace.get_aheads]


@pytest.mark.parametrize(
    ("count", "names"),
    [
        (0, set()),
        (1, {"first"}),
        (2, {"first", "second"}),
        (3, {"first", "second", "third"}),
        (9, {"first", "second", "third"}),
    ],
)
def test_by_priority_of_those_that_are_possible(count: int, names: set[str]) -> None:
    assert set(entered(ahead(count))) == names


def test_they_enter_at_the_mark_before_clean_up() -> None:
    """In priority order: the one that matters most is done first."""
    times = starts(ahead(2))
    assert list(times) == ["s1", "g1", "g2", "clean-up"]
    assert times == {"s1": 0, "g1": 1, "g2": 2, "clean-up": 3}


def test_none_asked_none_done() -> None:
    result = ahead(0)
    assert list(starts(result)) == ["s1", "clean-up"]
    assert so(result, "N1", "packed kit")


def test_when_is_judged_as_its_first_action_begins() -> None:
    """An earlier step, and an earlier get-ahead, may make it so."""
    plan = PLAN.replace("[{inspect: P1}]", "{loses: light, do: [{switch_off: SW1}]}")
    assert set(entered(ahead(2, plan))) == {"first", "never"}
    later = PLAN.replace('when: {SW1: "off"}', "when: {C3: tethered}")
    assert set(entered(ahead(2, later))) == {"first", "never"}


def test_when_may_name_a_service_and_a_place() -> None:
    plan = PLAN.replace('when: {SW1: "off"}', "when: {light: up, ada: at bench}")
    assert "never" in entered(ahead(2, plan))


def test_one_that_is_impossible_is_skipped_for_the_next() -> None:
    plan = PLAN.replace("do: [{remove_cap: C3}]", "do: [{lock: P1}]")
    result = ahead(2, plan)
    assert set(entered(result)) == {"second", "third"}
    assert not having(result, "refused")


def test_one_that_spoils_a_later_step_is_skipped() -> None:
    """A get-ahead after which the clean-up cannot be done is no get-ahead."""
    plan = PLAN.replace("do: [{walk: hatch}]", "do: [{fit_cap: {C3: J3}}]")
    without = ahead(0, plan)
    assert having(without, "refused")
    plan = PLAN.replace("do: [{walk: hatch}]", "do: [{remove_cap: C3}]")
    result = ahead(1, plan)
    assert entered(result) == ["second"]
    assert not having(result, "refused")


def test_what_is_refused_anyway_is_not_held_against_it() -> None:
    plan = PLAN.replace("[{inspect: P1}]", "[{lock: P1}]")
    result = ahead(1, plan)
    assert entered(result) == ["first"]
    assert [f.step for f in having(result, "refused")] == ["s1"]


def test_when_names_what_is_not_there() -> None:
    result = ahead(1, PLAN.replace('when: {SW1: "off"}', 'when: {SW9: "off"}'))
    (finding,) = having(result, "unknown-id")
    assert finding.address.path == ("get_aheads", 2, "when", "SW9")
    assert finding.way_out.startswith("did you mean SW")


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_step_may_wait_for_a_get_ahead_that_did_not_enter(count: int) -> None:
    """What is not done need not be waited for; at least it must not end in a traceback."""
    result = ahead(count, PLAN.replace("{id: clean-up,", "{id: clean-up, after: g3,"))
    assert result.trace.unusable or "clean-up" in starts(result)


@pytest.mark.parametrize("count", [0, 1])
def test_a_go_call_given_only_in_a_get_ahead(count: int) -> None:
    plan = PLAN.replace("do: [{take: N2}]", "do: [{go_call: GO}]")
    result = ahead(count, plan.replace("{id: clean-up,", "{id: clean-up, go: GO,"))
    assert result.trace.unusable or "clean-up" in starts(result)


def test_a_step_of_the_same_id_is_refused_even_if_not_chosen() -> None:
    result = ahead(0, PLAN.replace("id: g3", "id: s1"))
    assert having(result, "duplicate-id")


def test_each_phase_has_its_own() -> None:
    """In the second phase the first is done already, so the second enters."""
    plan = PLAN.replace("walk: hatch", "wait: 1")
    phases = [procedure(plan), procedure(plan, procedure="again", gap_min="1")]
    result = account(baseline(), phases, True, 1)
    assert result.trace.get_aheads == [(0, "first"), (1, "second")]
