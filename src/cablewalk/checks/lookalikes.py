"""Look-alikes: what a mate with the wrong half would do, worked out by doing it on a copy."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.checks.case import Case
from cablewalk.checks.rule import LLIS_0431, Rule
from cablewalk.continuity.feeds import may_be_on
from cablewalk.continuity.graph import BARE, MATED, net
from cablewalk.continuity.services import Continuity, State
from cablewalk.findings import Finding, Severity
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE
from cablewalk.replay.fit import misfit
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import Event

WARNING = Severity.WARNING
MATING = frozenset({"mate", "engage", "seat", "park"})
_OPEN = frozenset({"open", "removed"})


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mate that is possible in place of the one planned, and what it would do."""

    task: Task
    planned: tuple[int, int]
    wrong: tuple[int, int]
    live: tuple[str, ...]
    """Terminals that a feed's high would reach and that are not its own."""
    shorts: tuple[str, ...]
    lost: tuple[str, ...]

    @property
    def weight(self) -> tuple[int, int, int]:
        """What makes one mistake worse than another."""
        return len(self.live), len(self.shorts), len(self.lost)


class _Trial:
    """Follows the replay, and at each mate tries the wrong halves on the same configuration."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.wiring = case.wiring
        self.config = case.trace.start.copy()
        self.continuity = Continuity(self.config)
        self.bare = {h for h in self.wiring.ids("half") if self.config.state[h] == BARE}

    def run(self) -> Iterator[Mistake]:
        for event in self.case.trace.events:
            if event.begins and event.task.verb in MATING:
                yield from self._mistakes(event)
            self.config.apply(event.changes)
            self.continuity.update(event.changes)
            for change in event.changes:
                if change.field is Field.STATE and self.wiring.items[change.item].kind == "half":
                    (self.bare.add if change.new == BARE else self.bare.discard)(change.item)

    def _mistakes(self, event: Event) -> Iterator[Mistake]:
        task = event.task
        free, other = (self.wiring.by_id[n] for n in next(iter(task.action.argument.items())))
        place = self.config.place_of(self.wiring.by_id[task.workers[0]])
        pairs = []
        for half in sorted(self.bare - {free, other}):
            if not self._at_hand(half, place):
                continue
            if self._fit(free, half):
                pairs.append((free, half))
            if self._fit(other, half):
                pairs.append((half, other))
        for wrong in pairs:
            found = self._try(task, (free, other), wrong)
            if any(found.weight):
                yield found

    def _fit(self, a: int, b: int) -> bool:
        leg = self.wiring.leg_of
        same_leg = a in leg and leg.get(a) == leg.get(b)
        return not same_leg and not misfit(self.wiring, a, b)

    def _at_hand(self, half: int, place: int) -> bool:
        """Return whether a worker at a place could take a half for another."""
        config, wiring = self.config, self.wiring
        if config.place_of(half) != place or config.moving(half):
            return False
        owner = wiring.items[half].owner
        if owner != NONE and config.state_name(owner) != "installed":
            return False
        leg = wiring.leg_of.get(half, NONE)
        if leg != NONE and config.state_name(leg) == "packed":
            return False
        return all(config.state_name(c) in _OPEN for c in wiring.covers_over.get(half, ()))

    def _try(self, task: Task, planned: tuple[int, int], wrong: tuple[int, int]) -> Mistake:
        config = self.config
        a, b = wrong
        changes = [
            Change(field, item, config.value(field, item), new)
            for item, mate in ((a, b), (b, a))
            for field, new in ((Field.STATE, MATED), (Field.LINK, mate))
        ]
        before = list(self.continuity.states)
        high = {n: self._strangers(n) for n in self._feeds_near(wrong)}
        config.apply(changes)
        self.continuity.update(changes)
        lost = tuple(
            self.wiring.services[n].id
            for n, state in enumerate(self.continuity.states)
            if state is State.DOWN and before[n] is not State.DOWN and config.life[n] == ALIVE
        )
        shorts = tuple(
            dict.fromkeys(
                f"{self.wiring.strings[s].id}: {trouble.text}"
                for s, (old, new) in sorted(self.continuity.rejudged.items())
                for trouble in new.troubles
                if trouble.rule and trouble not in old.troubles
            )
        )
        live = []
        for n in self._feeds_near(wrong):
            row = self.wiring.feeds[n]
            now = ", live at once" if may_be_on(config, row) else f", live once {row.id} is on"
            live += [
                f"{row.id} ({row.volts:g} V) on {name}{now}"
                for name in sorted(self._strangers(n) - high.get(n, set()))
            ]
        config.undo(changes)
        self.continuity.update(changes)
        return Mistake(task, planned, wrong, tuple(live), shorts, lost)

    def _feeds_near(self, halves: tuple[int, int]) -> list[int]:
        """Return the feeds whose high is in the net of one of these halves' contacts."""
        of = self.continuity.components.of
        near = {id(of[i]) for half in halves for i in self.wiring.joints[half]}
        terminals = self.wiring.terminals
        return [
            n for n, row in enumerate(self.wiring.feeds) if id(of[terminals[row.hi].island]) in near
        ]

    def _strangers(self, feed: int) -> set[str]:
        """Return the terminals joined to a feed's high that no service means to be there."""
        terminals = self.wiring.terminals
        row = terminals[self.wiring.feeds[feed].hi]
        return {
            terminals[t].name
            for island in net(self.config, row.island)
            for t in self.wiring.island_terminals[island]
            if terminals[t].family != row.family
        }


def mistakes(case: Case) -> list[Mistake]:
    """Return every mate by mistake that would do harm, the worst first, each pair once a step."""
    seen: dict[tuple[int, str, tuple[int, int]], Mistake] = {}
    for found in _Trial(case).run():
        key = (found.task.phase, found.task.step_id, found.wrong)
        if key not in seen or found.weight > seen[key].weight:
            seen[key] = found
    return sorted(seen.values(), key=lambda m: m.weight, reverse=True)


def _judge(case: Case) -> Iterator[Finding]:
    for mistake in mistakes(case):
        (a, b), (x, y) = mistake.planned, mistake.wrong
        parts = []
        if mistake.live:
            parts.append("puts " + "; ".join(mistake.live[:4]))
        if mistake.shorts:
            parts.append("joins what must stay apart: " + "; ".join(mistake.shorts[:4]))
        if mistake.lost:
            parts.append("loses " + ", ".join(mistake.lost))
        yield Finding(
            "look-alike",
            WARNING,
            mistake.task.address,
            f"{case.named(x)} fits {case.named(y)} too, and both are bare and at hand when "
            f"{case.id(a)} is to go to {case.id(b)}",
            expected="no other half within reach that fits",
            difference=f"that mate {'; '.join(parts)}",
            way_out="cap the other half first, read the label aloud, or key them apart",
            step=mistake.task.step_id,
            items=(case.id(x), case.id(y)),
            source=LLIS_0431,
        )


_TWIN = """
baseline:
  places: {bench: {halves: {J3: p2 pin XU.a XU.b}, units: {XU: {kind: load, terminals: a b}}}}
  caps: {CJ3: J3}
  now: STANDS
steps: [[demate: P2, mate: {P2: J2}]]
"""

RULES = (
    Rule(
        "look-alike",
        "Another half within reach fits as well",
        WARNING,
        LLIS_0431,
        "Identical connectors were cross-connected on several spacecraft; one case destroyed 26 "
        "transistors. The mistake is worked out on a copy: power on wrong terminals, shorts, "
        "services lost, in this order.",
        "Uncap one half at a time, mark and read labels, or choose keys that differ.",
        _judge,
        fires=_TWIN.replace("STANDS", "{bare: [J3]}"),
        silent=_TWIN.replace("STANDS", "{fitted: {CJ3: J3}}"),
    ),
)
