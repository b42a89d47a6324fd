"""Whether an expression holds, can hold, or must."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from cablewalk.documents.inhibits import Every, Expression, Fact, Not, Some, facts

Known = Mapping[str, str | bool]
"""Switch to its state, statement to whether it is vouched for; what is missing is not known."""

BUDGET: Final = 20_000
"""Trials a search may take; past it the answer is that nobody knows."""

_VALUES: Final = ("blocked", "off", "on", "tripped")


def truth(expression: Expression, known: Known) -> bool | None:
    """Return whether an expression holds; None where that is not known."""
    if isinstance(expression, Fact):
        value = known.get(expression.name)
        if value is None or isinstance(value, bool):
            return value
        return value == expression.state or (expression.state == "off" and value == "blocked")
    if isinstance(expression, Not):
        inner = truth(expression.part, known)
        return None if inner is None else not inner
    values = [truth(part, known) for part in expression.parts]
    decisive = isinstance(expression, Some)
    if decisive in values:
        return decisive
    return None if None in values else not decisive


def possible(expression: Expression) -> bool | None:
    """Return whether some states of its switches and statements make an expression hold.

    None where that cannot be told within the budget.
    """
    kinds: dict[str, tuple[str | bool, ...]] = {}
    for fact in facts(expression):
        kinds[fact.name] = _VALUES if fact.state else (True, False)
    return _search(expression, list(kinds.items()), {}, [BUDGET])


def _search(
    expression: Expression,
    free: list[tuple[str, tuple[str | bool, ...]]],
    known: dict[str, str | bool],
    budget: list[int],
) -> bool | None:
    value = truth(expression, known)
    if value is not None:
        return value
    budget[0] -= 1
    if budget[0] < 0 or not free:
        return None
    (name, values), *rest = free
    sure = True
    for each in values:
        found = _search(expression, rest, {**known, name: each}, budget)
        if found:
            return True
        sure = sure and found is not None
    return False if sure else None


def always(expression: Expression) -> bool | None:
    """Return whether an expression holds whatever the states; None where that is not told."""
    return _opposite(possible(Not(expression)))


def implies(one: Expression, other: Expression) -> bool | None:
    """Return whether ``other`` holds wherever ``one`` does; None where that is not told."""
    return _opposite(possible(Every((one, Not(other)))))


def _opposite(value: bool | None) -> bool | None:
    return None if value is None else not value
