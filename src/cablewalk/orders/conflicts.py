"""Conflicts: tasks whose being possible depends on which of two workers is first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from cablewalk.orders.network import Happened, Network, Replayed
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Refusal
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import Wiring
from cablewalk.schedule.tasks import Task

Cell = tuple[int, int]
"""(field, item) of a configuration; the field is ``DOWN`` for a service's being down."""

DOWN: Final = -1
_ANY_SERIAL: Final = 1
_LOOKED_AT: Final = ("leg", "person")


@dataclass(slots=True)
class Conflicts:
    """What was found.

    Attributes:
        pairs: tasks of which one reads what the other writes, in no fixed order.
        variable: those tasks, and all whose outcome may differ because theirs does.
    """

    pairs: set[tuple[int, int]] = field(default_factory=set)
    variable: set[int] = field(default_factory=set)


@dataclass(slots=True)
class _Record:
    """What one task read as it was attempted."""

    cells: set[Cell] = field(default_factory=set)
    near: set[int] = field(default_factory=set)
    """Where it looked through all links for what is with one of these: people and bags."""
    harnesses: set[int] = field(default_factory=set)
    """Harnesses a leg of which is with one of those."""
    refused: bool = False


class _Seen(list[Any]):
    """A table of a configuration that notes which of its cells are read."""

    def __init__(self, values: Iterable[Any], number: Field, log: set[Cell]) -> None:
        super().__init__(values)
        self.number = int(number)
        self.log = log

    def __getitem__(self, item: Any) -> Any:
        self.log.add((self.number, item))
        return super().__getitem__(item)


def _watched(start: Configuration, log: set[Cell]) -> Configuration:
    """Return a copy of a configuration that notes in ``log`` what is read."""
    twin = start.copy()
    for number, name in enumerate(
        ("state", "link", "count", "ties", "along", "claim", "disturbed", "life")
    ):
        setattr(twin, name, _Seen(getattr(start, name), Field(number), log))
    twin.tables = (
        twin.state,
        twin.link,
        twin.count,
        twin.ties,
        twin.along,
        twin.claim,
        twin.disturbed,
        twin.life,
    )
    return twin


def find_conflicts(replayed: Replayed, network: Network, order: Sequence[int]) -> Conflicts:
    """Return the tasks whose outcome may depend on the order.

    Where there are none, every order has the same outcome: two neighbours that do not read or
    write what the other writes can be exchanged, and exchanges lead from any order to any other.

    Args:
        replayed: what happened.
        network: all events.
        order: all events in the order that was replayed, those of refused tasks included.
    """
    records = _records(replayed, network, order)
    wiring = replayed.start.wiring
    writers = _writers(replayed, network)
    # Whether somebody was busy before is over when the next of the same person begins.
    people = {(int(Field.STATE), person) for person in wiring.ids("person")}
    lasting = {cell: rows for cell, rows in writers.items() if cell not in people}
    found = Conflicts()
    for k, record in enumerate(records):
        for other in _written_by_others(record, k, network, writers, wiring):
            if network.tasks_apart(k, other):
                found.pairs.add((k, other))
    found.variable = {task for pair in found.pairs for task in pair}
    if any(records[k].refused for k in found.variable):
        found.variable = set(range(len(network.tasks)))
        return found
    fresh = set(found.variable)
    while fresh:
        fresh = {
            k
            for k, record in enumerate(records)
            if k not in found.variable
            and any(
                other in fresh and _may_follow(network, other, k)
                for other in _written_by_others(record, k, network, lasting, wiring)
            )
        }
        found.variable |= fresh
    return found


def _may_follow(network: Network, first: int, then: int) -> bool:
    """Return whether a task may be over, or at work, when another begins."""
    return not network.earlier[2 * first] >> (2 * then + 1) & 1


def _records(replayed: Replayed, network: Network, order: Sequence[int]) -> list[_Record]:
    log: set[Cell] = set()
    config = _watched(replayed.start, log)
    wiring = config.wiring
    down = list(replayed.down)
    records = [_Record() for _ in network.tasks]
    happened: dict[int, list[Happened]] = {}
    for row in replayed.happened:
        happened.setdefault(row.event, []).append(row)

    def is_down(service: int) -> bool:
        log.add((DOWN, service))
        return down[service]

    for number in order:
        event = network.events[number]
        if event.begins:
            record = records[number >> 1]
            log.clear()
            roles = network.plans[event.task.phase].procedure.roles
            workers = tuple(wiring.by_id[w] for w in event.task.workers)
            outcome = attempt_action(
                config, event.task.action, workers, _ANY_SERIAL, is_down, roles
            )
            record.cells = set(log)
            record.refused = isinstance(outcome, Refusal)
            _look_around(record, event.task, workers, replayed.start, config)
        for row in happened.get(number, ()):
            config.apply(row.changes)
            for service, is_now in row.down:
                down[service] = is_now
    return records


def _look_around(
    record: _Record,
    task: Task,
    workers: tuple[int, ...],
    start: Configuration,
    config: Configuration,
) -> None:
    """Note whose links a task looked through that looks through all of them."""
    if task.verb not in ("walk", "carry"):
        return
    wiring = start.wiring
    links = list(list.__iter__(config.link))
    record.near = set(workers) | {b for b in wiring.ids("bag") if links[b] in workers}
    record.near |= {links[w] for w in workers if wiring.items[links[w]].kind == "person"}
    if task.verb == "carry":
        record.near.add(wiring.by_id[task.action.argument])
    record.harnesses = {
        wiring.items[leg].owner for leg in wiring.ids("leg") if links[leg] in record.near
    }


_Writers = dict[Cell, list[tuple[int, Any, Any]]]
"""Cell to (task, old, new)."""


def _writers(replayed: Replayed, network: Network) -> _Writers:
    found: _Writers = {}
    for row in replayed.happened:
        for change in row.changes:
            cell = (int(change.field), change.item)
            found.setdefault(cell, []).append((row.event >> 1, change.old, change.new))
        for service, _ in row.down:
            found.setdefault((DOWN, service), []).append((row.event >> 1, 0, 0))
    return found


def _written_by_others(
    record: _Record, own: int, network: Network, writers: _Writers, wiring: Wiring
) -> Iterator[int]:
    """Yield the tasks that write what a task read."""
    for cell in record.cells:
        number, item = cell
        looked = number == Field.LINK and record.near and wiring.items[item].kind in _LOOKED_AT
        for other, old, new in writers.get(cell, ()):
            if other == own:
                continue
            # A walk looks at every leg and person, but only for those with the walker or his bag.
            if looked and not (
                {old, new, item} & record.near or wiring.items[item].owner in record.harnesses
            ):
                continue
            yield other
    for cell, rows in writers.items() if record.near else ():
        if cell[0] == Field.LINK:
            yield from (o for o, old, new in rows if o != own and {old, new} & record.near)
