"""The transition tables as machines of the ``transitions`` library.

Too slow for replay (see ``compiled``); it is the authority the compiled form is tested against.
The one place where that library is met.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from transitions import Machine, MachineError

from cablewalk.machines.tables import TABLES, Table


class _Item:
    """What a machine moves; the library puts ``state`` and ``trigger`` on it."""

    state: str
    trigger: Callable[[str], bool]


def build_machine(table: Table) -> Machine:
    """Return the library's machine of a table, with no model and no automatic transitions."""
    return Machine(
        model=None,
        states=list(table.states),
        initial=table.initial,
        transitions=[[e.name, list(e.sources), e.dest] for e in table.events],
        auto_transitions=False,
    )


@cache
def _machine(kind: str) -> Machine:
    return build_machine(TABLES[kind])


def trigger(kind: str, state: str, event: str) -> str | None:
    """Return the state that ``event`` leads to from ``state``, or None when it is refused.

    Raises ValueError for a kind, state or event the tables do not know.
    """
    if kind not in TABLES:
        raise ValueError(f"no machine for kind {kind!r}; there is {', '.join(TABLES)}")
    machine = _machine(kind)
    if state not in machine.states:
        raise ValueError(f"{kind} has no state {state!r}; it has {', '.join(machine.states)}")
    if event not in machine.events:
        raise ValueError(f"{kind} has no event {event!r}; it has {', '.join(machine.events)}")
    item = _Item()
    machine.add_model(item, initial=state)
    try:
        item.trigger(event)
    except MachineError:
        return None
    finally:
        machine.remove_model(item)
    return item.state
