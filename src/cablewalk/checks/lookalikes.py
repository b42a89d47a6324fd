"""Look-alikes: what a mate with the wrong half would do, worked out by doing it on copies."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.checks.case import Case
from cablewalk.checks.rule import LLIS_0431, Rule
from cablewalk.checks.trial import AT_ONCE, Bench, Harm
from cablewalk.continuity.feeds import may_be_on
from cablewalk.continuity.graph import BARE, CAPPED, MATED
from cablewalk.findings import Finding, Severity
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.change import Field
from cablewalk.replay.fit import misfit
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import Event

WARNING = Severity.WARNING
MATING = frozenset({"mate", "engage", "seat", "park"})
_OPEN = frozenset({"open", "removed"})
_TETHERED = COMPILED["cap"].state_index["tethered"]


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
    """Services it takes down at once."""
    left_down: tuple[str, ...]
    """Further services that would be down at the end of the procedure, or of a later one as long
    as nobody works on the mate, and are planned up; then with that procedure's name."""

    @property
    def weight(self) -> tuple[int, int, int]:
        """What makes one mistake worse than another."""
        return len(self.live), len(self.shorts), len(self.lost) + len(self.left_down)


class _Trial:
    """Follows the replay, and at each mate tries the wrong halves in place of the planned.

    At once, as everything stands; at the end of the procedure, as if the rest of it were done, the
    half that finds its place taken going where the planned one should have gone; and at the end
    of each later procedure as long as they leave the mate alone: what they power through it. The
    ends show what the far end of a cable does, and what stays down.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.wiring = case.wiring
        self.now = Bench(case.trace.start.copy())
        self.config = self.now.config
        self.ends = {phase: config.copy() for phase, config in case.phase_ends()}
        self.benches: dict[int, Bench] = {}
        """Phase to the bench of its end, made when a mate is first tried there."""
        self.relinked: dict[int, set[int]] = {}
        """Phase to the halves joined or parted in it."""
        self.bare = {h for h in self.wiring.ids("half") if self.config.state[h] == BARE}
        self.last: dict[tuple[int, int], int] = {}
        """(phase, step) to the position of its last event."""
        self.bared: list[tuple[int, int]] = []
        """(position, half) of each event that leaves a half bare."""
        for position, event in enumerate(case.trace.events):
            self.last[event.task.phase, event.task.step] = position
            self.relinked.setdefault(event.task.phase, set()).update(
                change.item for change in event.changes if change.field is Field.LINK
            )
            self.bared += [(position, half) for half in self._turned(event, BARE)]

    def run(self) -> Iterator[Mistake]:
        for position, event in enumerate(self.case.trace.events):
            if event.begins and event.task.verb in MATING:
                yield from self._mistakes(position, event)
            self.now.apply(event.changes)
            self.bare -= set(self._turned(event))
            self.bare |= set(self._turned(event, BARE))

    def _turned(self, event: Event, state: int | None = None) -> Iterator[int]:
        """Yield the halves that an event leaves otherwise, or in one state."""
        states: dict[int, object] = {
            change.item: change.new
            for change in event.changes
            if change.field is Field.STATE and self.wiring.items[change.item].kind == "half"
        }
        for half, new in states.items():
            if state is None or new == state:
                yield half

    def _mistakes(self, position: int, event: Event) -> Iterator[Mistake]:
        task = event.task
        free, other = (self.wiring.by_id[n] for n in next(iter(task.action.argument.items())))
        place = self.config.place_of(self.wiring.by_id[task.workers[0]])
        pairs = []
        for half in sorted(self._open_in_step(position, event) - {free, other}):
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

    def _open_in_step(self, position: int, event: Event) -> set[int]:
        """Return the halves bare now, and those capped now that the same step will uncap.

        One that the step has capped before this mate is guarded, and left out.
        """
        last = self.last[event.task.phase, event.task.step]
        first = bisect_left(self.bared, (position, NONE))
        upto = bisect_left(self.bared, (last + 1, NONE))
        later = {half for _, half in self.bared[first:upto]}
        return self.bare | {half for half in later if self.config.state[half] == CAPPED}

    def _fit(self, a: int, b: int) -> bool:
        return not misfit(self.wiring, a, b)

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
        a, b = wrong
        at_once = Harm()
        if {a, b} - set(planned) <= self.bare:
            at_once = self.now.harm({a: (MATED, b), b: (MATED, a)})
        live, shorts, down = dict(at_once.live), dict(at_once.shorts), dict(at_once.down)
        left_down = []
        for phase in self._standing(task.phase, planned):
            late = self._at_end(phase, planned, wrong)
            live = {**self._later(late), **live}
            shorts |= late.shorts
            after = self.case.trace.phases[phase].plan.procedure.procedure
            mark = "" if phase == task.phase else f" (after {after})"
            left_down += [name + mark for name in late.down if name not in down]
            down |= late.down
        found = tuple(live.values()), tuple(shorts), tuple(at_once.down), tuple(left_down)
        return Mistake(task, planned, wrong, *found)

    def _later(self, late: Harm) -> dict[tuple[int, str], str]:
        """Return what is live at an end, told as not at once: so it is only by then."""
        found = {}
        for (feed, name), text in late.live.items():
            on = may_be_on(self.config, self.wiring.feeds[feed])
            word = ", live by the end" if on else ", live after power-up"
            found[feed, name] = text.replace(AT_ONCE, word)
        return found

    def _standing(self, phase: int, planned: tuple[int, int]) -> list[int]:
        """Return the phases at whose end to try: the mate's own, and those that leave it alone."""
        free, other = planned
        if self.ends[phase].link[free] != other:
            return []  # undone in its own procedure: what it did was seen at once
        found = [phase]
        for later in self.ends:
            if later > phase:
                if not self.relinked.get(later, set()).isdisjoint(planned):
                    break
                found.append(later)
        return found

    def _at_end(self, phase: int, planned: tuple[int, int], wrong: tuple[int, int]) -> Harm:
        """Return the harm at the end of a procedure that ends with the planned mate made."""
        free, other = planned
        if phase not in self.benches:
            self.benches[phase] = Bench(self.ends[phase].copy())
        bench = self.benches[phase]
        link = bench.config.link
        kind = self.wiring.items
        wanted: dict[int, tuple[int, int]] = {}
        for half in (*planned, *wrong):
            mate = link[half]
            wanted[half] = (BARE, NONE)
            if mate != NONE and kind[mate].kind == "half":
                wanted[mate] = (BARE, NONE)
            elif mate != NONE and kind[mate].kind == "cap" and link[mate] == half:
                wanted[mate] = (_TETHERED, half)
        a, b = wrong
        wanted[a], wanted[b] = (MATED, b), (MATED, a)
        (half,) = {a, b} - {free, other}
        alone = other if free in wrong else free
        displaced = link[half]
        if displaced != NONE and kind[displaced].kind == "half" and self._fit(displaced, alone):
            wanted[displaced], wanted[alone] = (MATED, alone), (MATED, displaced)
        return bench.harm(wanted)


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
        if mistake.left_down:
            parts.append("leaves down at the end " + ", ".join(mistake.left_down))
        yield Finding(
            "look-alike",
            WARNING,
            mistake.task.address,
            f"{case.named(x)} fits {case.named(y)} too, and both are open and at hand in the step "
            f"in which {case.id(a)} is to go to {case.id(b)}",
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
        "transistors. The mistake is worked out on copies, at once, with the rest of the "
        "procedure done, and at the end of each later one that leaves the mate alone: power "
        "on wrong terminals, shorts, services lost or left down, in this order.",
        "Uncap one half at a time, mark and read labels, or choose keys that differ.",
        _judge,
        fires=_TWIN.replace("STANDS", "{bare: [J3]}"),
        silent=_TWIN.replace("STANDS", "{fitted: {CJ3: J3}}"),
    ),
)
