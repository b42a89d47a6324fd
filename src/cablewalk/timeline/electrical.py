"""The electrical state through a replay: what strings carry, at each event and at worst."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from cablewalk.continuity.services import Continuity
from cablewalk.continuity.verdict import Standing
from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Finding
from cablewalk.power.circuit import Circuit
from cablewalk.power.copper import Copper
from cablewalk.power.grid import Grid
from cablewalk.power.limits import Limits
from cablewalk.power.ratings import KINDS, margins
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import ALIVE
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.circuit_faults import Faults
from cablewalk.timeline.loads_not_judged import loads_not_judged
from cablewalk.timeline.overloads import Carried, Overloads
from cablewalk.timeline.spells import start_s
from cablewalk.walk.trace import Event, Trace


@dataclass(slots=True)
class Loading:
    """What strings carry: at the end of what was asked for, and at worst until then."""

    worst: dict[tuple[int, str, bool], Carried] = field(default_factory=dict)
    """(string, kind, surviving) to the margin most used."""
    now: list[Carried] = field(default_factory=list)
    circuits: list[Circuit] = field(default_factory=list)
    """The circuits at the end."""
    names: list[str] = field(default_factory=list)
    """Load to its name, unit and draw."""
    min_volts: list[float | None] = field(default_factory=list)
    missing: set[str] = field(default_factory=set)
    """Resistances that were counted as nothing at any moment."""
    resistances: set[str] = field(default_factory=set)
    """Who gave the others."""
    findings: list[Finding] = field(default_factory=list)
    solved: int = 0
    """How many circuits were solved on the way."""


class _Run:
    def __init__(self, baseline: Baseline, trace: Trace) -> None:
        self.baseline = baseline
        self.trace = trace
        self.wiring = trace.wiring
        self.config = trace.start.copy()
        self.continuity = Continuity(self.config)
        self.copper = Copper(baseline, self.wiring)
        self.grids = [
            Grid(self.config, self.continuity, self.copper, sure) for sure in (True, False)
        ]
        self.found = Loading(
            names=[load.name for load in self.copper.loads],
            min_volts=[load.min_volts for load in self.copper.loads],
        )
        self.limits = Limits(self.config, self.copper)
        self.faults = Faults(self.wiring)
        self.overloads = Overloads(self.wiring)

    def go(self, events: int) -> Loading:
        everything = list(range(len(self.wiring.strings)))
        found = self.found
        self._look(None, everything, [list(grid.circuits) for grid in self.grids])
        for event in self.trace.events[:events]:
            self.config.apply(event.changes)
            self.continuity.update(event.changes)
            solved = [grid.update(event.changes) for grid in self.grids]
            found.solved += sum(map(len, solved))
            strings = self._touched(event, solved)
            if any(change.field == Field.TIES for change in event.changes):
                self.limits.ties_changed()
                strings, solved = everything, [list(grid.circuits) for grid in self.grids]
            self._look(event, strings, solved)
        found.findings.extend(self._not_judged())
        last = self.trace.events[events - 1] if events and self.trace.events else None
        found.now = [row for n in everything for row in self._carried(n, last)]
        found.circuits = [self.grids[0].circuits[n] for n in sorted(self.grids[0].circuits)]
        return found

    def _touched(self, event: Event, solved: list[list[int]]) -> list[int]:
        """Return the strings that an event can have loaded otherwise.

        Those of the services that stand otherwise, and those fed, through converters too, by a
        circuit solved anew.
        """
        strings = {s for shift in event.shifts for s in self.wiring.services[shift.service].strings}
        feeds: set[int] = set()
        for grid, numbers in zip(self.grids, solved, strict=True):
            feeds |= {f for n in numbers for f in grid.circuits[n].network.feeds}
            loads = {load for n in numbers for load in grid.circuits[n].network.loads}
            feeds |= self._below(loads)
        strings |= {n for n, s in enumerate(self.wiring.strings) if not feeds.isdisjoint(s.feeds)}
        return sorted(strings)

    def _below(self, loads: set[int]) -> set[int]:
        """Return the feeds that converters make of these loads, those of theirs and so on."""
        copper = self.copper
        found: set[int] = set()
        todo = [copper.loads[load].passes for load in loads]
        for feed in todo:  # grows as it goes
            if feed == NONE or feed in found:
                continue
            found.add(feed)
            for grid in self.grids:
                number = grid.of_feed.get(feed)
                if number is not None:
                    todo += [copper.loads[n].passes for n in grid.circuits[number].network.loads]
        return found

    def _look(self, event: Event | None, strings: list[int], solved: list[list[int]]) -> None:
        """See what strings carry, and tell of faults and of whatever is past its limit."""
        found = self.found
        self.faults.tell(found.findings, self.grids, event)
        rows = [row for string in strings for row in self._carried(string, event)]
        for row in rows:
            key = (row.string, row.margin.kind, row.surviving)
            known = found.worst.get(key)
            if known is None or row.margin.rank > known.margin.rank:
                found.worst[key] = row
        found.findings.extend(self.overloads.of_strings(rows))
        for grid, numbers in zip(self.grids, solved, strict=True):
            for number in numbers:
                circuit = grid.circuits[number]
                found.missing |= circuit.missing
                found.resistances |= circuit.resistances
                rest = self.overloads.of_circuit(self.limits, circuit, event, grid.surveyor.sure)
                found.findings.extend(rest)

    def _carried(self, number: int, event: Event | None) -> Iterator[Carried]:
        """Yield what a string that is up carries; of two readings of doubtful joins the worse."""
        string = self.wiring.strings[number]
        verdict = self.continuity.verdicts[number]
        if string.load is None or verdict.standing is not Standing.UP:
            return
        if self.config.life[string.service] != ALIVE:
            return
        sisters = self.wiring.services[string.service].strings
        alone = any(self.continuity.verdicts[s].standing is Standing.DOWN for s in sisters)
        time_s = event.time_s if event else start_s(self.trace)
        first, second = (margins(self.limits, grid, string, verdict) for grid in self.grids)
        for one, other in zip(first, second, strict=True):
            yield Carried(number, max(one, other, key=lambda m: m.rank), alone, event, time_s)

    def _not_judged(self) -> Iterator[Finding]:
        """Yield a note of units whose draw is not given, and of kinds no string has a limit of.

        A drop without a limit is none where the volts at some load have one: these bound it.
        """
        worst = self.found.worst
        kinds: dict[str, list[str]] = {}
        for kind in KINDS:
            rows = [row.margin for (_, own, _), row in worst.items() if own == kind]
            known = [margin for margin in rows if margin.value is not None]
            if known and not any(margin.limit is not None for margin in known):
                kinds[kind] = [text for margin in known for text in margin.lacking]
        if "volts" not in kinds:
            kinds.pop("drop", None)
        strings = sorted({string for string, _, _ in worst})
        yield from loads_not_judged(self.baseline, self.wiring, strings, kinds)


def loading(baseline: Baseline, trace: Trace, events: int | None = None) -> Loading:
    """Return what strings carry through the first ``events`` events of a replay (all: None)."""
    return _Run(baseline, trace).go(len(trace.events) if events is None else events)
