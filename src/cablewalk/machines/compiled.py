"""The transition tables as bytes, for replay: one look-up a step, no third-party import."""

from __future__ import annotations

from typing import Final, NamedTuple

from cablewalk.machines.tables import TABLES, Table

REFUSED: Final = 255
"""In ``Compiled.next``: this event is not legal in this state."""


class Compiled(NamedTuple):
    """One kind's table. States and events are ints: their place in ``states`` and ``events``.

    ``next[state][event]`` is the state reached, or ``REFUSED``. Proved equal to the machine that
    the ``transitions`` library builds of the same table (``tests/test_machines.py``).
    """

    kind: str
    states: tuple[str, ...]
    events: tuple[str, ...]
    state_index: dict[str, int]
    event_index: dict[str, int]
    next: tuple[bytes, ...]

    def step(self, state: int, event: int) -> int:
        """Return the state that ``event`` leads to from ``state``, or -1 when it is refused."""
        reached = self.next[state][event]
        return -1 if reached == REFUSED else reached

    def legal(self, state: int) -> tuple[str, ...]:
        """Return the names of the events legal in ``state``, in the table's order."""
        row = self.next[state]
        return tuple(n for n, reached in zip(self.events, row, strict=True) if reached != REFUSED)


def compile_table(table: Table) -> Compiled:
    """Return the compiled form of one table.

    Raises ValueError where the table contradicts itself: two rows of one event share a source,
    a row names no state of the table, or there are too many states for a byte.
    """
    if len(table.states) >= REFUSED:
        raise ValueError(f"{table.kind}: {len(table.states)} states do not fit a byte")
    state_index = {name: i for i, name in enumerate(table.states)}
    events = tuple(dict.fromkeys(e.name for e in table.events))
    event_index = {name: i for i, name in enumerate(events)}
    rows = [bytearray([REFUSED] * len(events)) for _ in table.states]
    for event in table.events:
        column = event_index[event.name]
        for source in event.sources:
            dest = event.dest_from(source)
            if source not in state_index or dest not in state_index:
                step = f"{event.name} from {source} to {dest}"
                raise ValueError(f"{table.kind}: {step}: no such state")
            row = rows[state_index[source]]
            if row[column] != REFUSED:
                raise ValueError(f"{table.kind}: two rows of {event.name} start from {source}")
            row[column] = state_index[dest]
    return Compiled(
        table.kind, table.states, events, state_index, event_index, tuple(map(bytes, rows))
    )


COMPILED: Final[dict[str, Compiled]] = {k: compile_table(t) for k, t in TABLES.items()}
"""Kind to its compiled table."""
