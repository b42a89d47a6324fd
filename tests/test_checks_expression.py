"""Inhibit expressions: reading, truth, satisfiability."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cablewalk.checks.logic import always, implies, possible, truth
from cablewalk.documents.inhibits import (
    MAX_DEPTH,
    Every,
    Expression,
    Fact,
    Not,
    Some,
    facts,
    parse,
)

STATES = ("blocked", "off", "on", "tripped")

leaves = st.one_of(
    st.builds(Fact, st.sampled_from(["K1", "K2"]), st.sampled_from(STATES)),
    st.builds(Fact, st.sampled_from(["joint-locked", "tx-off"])),
)
expressions = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.builds(Not, inner),
        st.builds(lambda a, b: Every((a, b)), inner, inner),
        st.builds(lambda a, b: Some((a, b)), inner, inner),
    ),
    max_leaves=6,
)


def _models(expression: Expression) -> list[bool | None]:
    """Return the truth in every state of everything: the oracle."""
    return [
        truth(expression, {"K1": a, "K2": b, "joint-locked": c, "tx-off": d})
        for a, b, c, d in product(STATES, STATES, (True, False), (True, False))
    ]


@given(expressions)
def test_possible_is_what_trying_every_state_says(expression: Expression) -> None:
    models = _models(expression)
    assert None not in models
    assert possible(expression) is any(models)
    assert always(expression) is all(models)


@given(expressions, expressions)
def test_implies_is_what_trying_every_state_says(a: Expression, b: Expression) -> None:
    pairs = zip(_models(a), _models(b), strict=True)
    assert implies(a, b) is all(y for x, y in pairs if x)


@given(expressions)
def test_written_out_and_read_again(expression: Expression) -> None:
    again = parse(str(expression))
    assert _models(again) == _models(expression)


@given(expressions, st.sampled_from(["K1", "K2", "joint-locked", "tx-off"]))
def test_what_is_not_known_makes_nothing_surer(expression: Expression, missing: str) -> None:
    known: dict[str, str | bool] = {"K1": "off", "K2": "on", "joint-locked": True, "tx-off": False}
    whole = truth(expression, known)
    del known[missing]
    assert truth(expression, known) in (whole, None)


def test_and_binds_closer_than_or() -> None:
    assert parse("K1 on or K2 off and K3 blocked") == parse("K1 on or (K2 off and K3 blocked)")


def test_off_holds_for_a_blocked_switch() -> None:
    assert truth(parse("K1 off"), {"K1": "blocked"}) is True
    assert truth(parse("K1 blocked"), {"K1": "off"}) is False


def test_facts_are_each_told_once() -> None:
    found = facts(parse("K1 off and (a or not K1 off) and a"))
    assert found == [Fact("K1", "off"), Fact("a")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "requires something"),
        ("   ", "requires something"),
        ("K1 and", "missing at the end"),
        ("and K1", "missing before 'and'"),
        ("(K1 off", "not closed"),
        ("K1 off)", "not expected"),
        ("K1 off K2 off", "not expected"),
        ("off", "missing before 'off'"),
        ("K1 & K2", "no meaning"),
        ("not", "missing at the end"),
        ("()", "missing before ')'"),
        ("(" * (MAX_DEPTH + 1) + "K1" + ")" * (MAX_DEPTH + 1), "deeper than"),
        ("not " * (MAX_DEPTH + 1) + "K1", "deeper than"),
        ("(" * 400, "deeper than"),
    ],
)
def test_what_is_no_expression_is_refused(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=r".") as refused:
        parse(text)
    assert words in str(refused.value)


def test_brackets_up_to_the_limit_are_read() -> None:
    assert parse("(" * (MAX_DEPTH - 1) + "K1 on" + ")" * (MAX_DEPTH - 1)) == Fact("K1", "on")


def test_many_facts_stay_quick() -> None:
    """The first way found is enough."""
    parts = tuple(Some((Fact(f"K{n}", "on"), Fact(f"K{n + 1}", "off"))) for n in range(60))
    assert possible(Every(parts)) is True


def test_past_its_budget_the_search_does_not_know() -> None:
    """Around a ring of 31 each differs from the next, which cannot be: too many ways to try."""
    odd = [Fact(f"s{n}") for n in range(31)]
    differ = [
        Some((Every((a, Not(b))), Every((Not(a), b))))
        for a, b in zip(odd, [*odd[1:], odd[0]], strict=True)
    ]
    late = tuple(sorted(differ, key=str, reverse=True))
    never = Every((Some(tuple(Fact(f"t{n}") for n in range(40))), *late))
    assert possible(never) is None
    assert always(Not(never)) is None
    assert implies(never, Fact("u")) is None
