"""Bag manifests: what goes out in each bag and what comes back, counted from the steps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from cablewalk.book.left import bag_contents
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.account import Account
from cablewalk.walk.trace import Event


@dataclass(slots=True)
class Manifest:
    """One bag in one phase."""

    bag: str
    starts: str
    """Where it is as the phase starts."""
    ends: str
    tools: tuple[tuple[str, int], ...]
    """Tool and how many, at egress."""
    ties_out: int
    ties_used: int
    """Ties made by a worker who carried it or stood beside it, where it was the only such bag."""
    unsure_out: int = 0
    """Ties of earlier phases that may have been this bag's, at most, and are charged to none."""
    unsure_back: int = 0
    """The same with those of this phase."""
    at_egress: list[str] = field(default_factory=list)
    at_ingress: list[str] = field(default_factory=list)
    tools_back: tuple[tuple[str, int], ...] = ()
    """Tool and how many, at ingress, by what the steps take out and put back."""
    taken: list[str] = field(default_factory=list)
    """``thing: step``."""
    packed: list[str] = field(default_factory=list)

    @property
    def ties_back(self) -> int:
        """Ties that should come back."""
        return self.ties_out - self.ties_used


@dataclass(slots=True)
class BagList:
    """All bags of one phase, and the ties that no single bag can be charged with."""

    manifests: list[Manifest] = field(default_factory=list)
    ties_made: list[str] = field(default_factory=list)
    """Steps, with how many each."""
    ties_cut: int = 0
    ties_uncharged: int = 0


def bags_of(account: Account, ties_before: dict[str, int] | None = None) -> list[BagList]:
    """Return the manifests of every phase that was replayed; ties count down over the phases.

    ``ties_before``: bag to ties used before the first phase.
    """
    trace = account.trace
    used = dict(ties_before or {})
    config = trace.start.copy()
    kits = {name: dict(bag.tools) for name, bag in account.ground.baseline.bags.items()}
    unsure: dict[str, int] = {}
    found: list[BagList] = []
    for phase in range(len(trace.phases)):
        found.append(_phase(account, phase, config, used, kits, unsure))
    return found


Kits = dict[str, dict[str, int]]
"""Bag to the tools in it, and how many of each."""


def _phase(
    account: Account,
    phase: int,
    config: Configuration,
    used: dict[str, int],
    kits: Kits,
    unsure: dict[str, int],
) -> BagList:
    wiring, trace = config.wiring, account.trace
    numbers = [n for n, item in enumerate(wiring.items) if item.kind == "bag"]
    result = BagList()
    rows: dict[int, Manifest] = {}
    for n in numbers:
        document = account.ground.baseline.bags[wiring.items[n].id]
        rows[n] = Manifest(
            wiring.items[n].named,
            _where(config, n),
            "",
            _counted(kits[wiring.items[n].id]),
            document.ties - used.get(wiring.items[n].id, 0),
            0,
            unsure.get(wiring.items[n].id, 0),
            unsure.get(wiring.items[n].id, 0),
            bag_contents(config, n),
        )
    made: dict[str, int] = {}
    for event in (e for e in trace.events if e.task.phase == phase):
        for name, words in _move_tools(event, kits):
            rows[wiring.item("bag", name)].taken.append(words)
        if not event.begins and event.task.verb == "tie":
            made[event.task.step_id] = made.get(event.task.step_id, 0) + 1
            bags = _bags_beside(config, numbers, event.task.workers)
            if len(bags) == 1:
                rows[bags[0]].ties_used += 1
            else:
                result.ties_uncharged += 1
                # None beside them: it came out of some bag all the same.
                for bag in bags or numbers:
                    if account.ground.baseline.bags[wiring.items[bag].id].ties:
                        rows[bag].unsure_back += 1
        if not event.begins and event.task.verb == "cut_tie":
            result.ties_cut += 1
        for change in event.changes:
            if change.field is not Field.LINK or wiring.items[change.item].kind not in (
                "leg",
                "cap",
                "cover",
            ):
                continue
            item = wiring.half_of.get(change.item, change.item)
            words = f"{wiring.items[item].named}: {event.task.step_id}"
            if change.old in rows:
                rows[int(change.old)].taken.append(words)
            if change.new in rows:
                rows[int(change.new)].packed.append(words)
        config.apply(event.changes)
    for n, row in rows.items():
        row.ends, row.at_ingress = _where(config, n), bag_contents(config, n)
        name = wiring.items[n].id
        row.tools_back = _counted(kits[name])
        used[name] = used.get(name, 0) + row.ties_used
        unsure[name] = row.unsure_back
    result.manifests = list(rows.values())
    result.ties_made = [f"{step}: {count}" for step, count in made.items()]
    return result


def _counted(kit: dict[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple((tool, count) for tool, count in kit.items() if count)


def _move_tools(event: Event, kits: Kits) -> Iterator[tuple[str, str]]:
    """Move the tools an action takes out as it begins, or puts back as it ends.

    Yields each bag something is taken out of, with what and in which step.
    """
    action = event.task.action
    moves = action.tools_out if event.begins else action.tools_back
    for tool, name in moves.items():
        kit = kits.get(name)
        if kit is None or (event.begins and not kit.get(tool)):
            continue  # `check` tells of it
        kit[tool] = kit.get(tool, 0) + (-1 if event.begins else 1)
        if event.begins:
            yield name, f"{tool}: {event.task.step_id}"


def _where(config: Configuration, bag: int) -> str:
    link = config.link[bag]
    if link == NONE:
        return "not known"
    carried = config.wiring.items[link].kind == "person"
    name = config.wiring.items[link].label or config.wiring.items[link].id
    return f"carried by {name}" if carried else f"at {name}"


def _bags_beside(config: Configuration, bags: list[int], workers: tuple[str, ...]) -> list[int]:
    """Return the bags that the workers carry, else those at their place."""
    people = [config.wiring.by_id[name] for name in workers]
    carried = [b for b in bags if config.link[b] in people]
    here = {config.place_of(p) for p in people}
    return carried or [b for b in bags if config.place_of(b) in here]
