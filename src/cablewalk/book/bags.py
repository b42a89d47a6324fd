"""Bag manifests: what goes out in each bag and what comes back, counted from the steps."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.book.left import bag_contents
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.account import Account


@dataclass(slots=True)
class Manifest:
    """One bag in one phase."""

    bag: str
    starts: str
    """Where it is as the phase starts."""
    ends: str
    tools: tuple[tuple[str, int], ...]
    ties_out: int
    ties_used: int
    """Ties made by a worker who carried it or stood beside it, where it was the only such bag."""
    at_egress: list[str] = field(default_factory=list)
    at_ingress: list[str] = field(default_factory=list)
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
    found: list[BagList] = []
    for phase in range(len(trace.phases)):
        found.append(_phase(account, phase, config, used))
    return found


def _phase(account: Account, phase: int, config: Configuration, used: dict[str, int]) -> BagList:
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
            tuple(document.tools.items()),
            document.ties - used.get(wiring.items[n].id, 0),
            0,
            bag_contents(config, n),
        )
    made: dict[str, int] = {}
    for event in (e for e in trace.events if e.task.phase == phase):
        if not event.begins and event.task.verb == "tie":
            made[event.task.step_id] = made.get(event.task.step_id, 0) + 1
            bag = _bag_beside(config, numbers, event.task.workers)
            if bag is None:
                result.ties_uncharged += 1
            else:
                rows[bag].ties_used += 1
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
        used[name] = used.get(name, 0) + row.ties_used
    result.manifests = list(rows.values())
    result.ties_made = [f"{step}: {count}" for step, count in made.items()]
    return result


def _where(config: Configuration, bag: int) -> str:
    link = config.link[bag]
    if link == NONE:
        return "not known"
    carried = config.wiring.items[link].kind == "person"
    name = config.wiring.items[link].label or config.wiring.items[link].id
    return f"carried by {name}" if carried else f"at {name}"


def _bag_beside(config: Configuration, bags: list[int], workers: tuple[str, ...]) -> int | None:
    """Return the one bag that the workers carry, else the one at their place; None: not clear."""
    people = [config.wiring.by_id[name] for name in workers]
    carried = [b for b in bags if config.link[b] in people]
    if len(carried) == 1:
        return carried[0]
    here = {config.place_of(p) for p in people}
    beside = [b for b in bags if config.place_of(b) in here]
    return beside[0] if len(beside) == 1 and not carried else None
