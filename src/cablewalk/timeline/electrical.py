"""The electrical state through a replay: what strings carry, at each event and at worst."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from cablewalk.continuity.services import Continuity
from cablewalk.continuity.verdict import Standing
from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Address, Finding, Path, Severity
from cablewalk.power.circuit import Circuit
from cablewalk.power.copper import Copper
from cablewalk.power.grid import Grid
from cablewalk.power.network import Fault
from cablewalk.power.ratings import Margin, margins
from cablewalk.power.topology import described
from cablewalk.replay.configuration import ALIVE
from cablewalk.timeline.spells import start_s
from cablewalk.walk.trace import Event, Trace

WHY = {
    "short-circuit": "no current but through loads",
    "feeds-tied": "feeds joined only where parallel_with says so",
    "feeds-in-series": "every feed's high and return kept apart from the others'",
    "zero-resistance-loop": "a resistance for each of several ways the current can take",
    "no-convergence": "loads that the feed and its wires can supply",
    "floating-circuit": "every load between the high and the return of one feed",
    "reversed-load": "high to high and return to return",
    "load-shorted": "no current but through the load",
    "not-judged": "numbers for all that a circuit feeds",
}
"""Rule of a fault to what is expected instead."""

WARNINGS = frozenset({"floating-circuit", "zero-resistance-loop", "not-judged"})
"""Faults that are warnings; the others are errors."""


@dataclass(frozen=True, slots=True)
class Carried:
    """What one string carried at one moment, and what it stood against."""

    string: int
    margin: Margin
    surviving: bool
    """A sister string that could do the same was down."""
    event: Event | None
    time_s: int


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
        self.known: dict[tuple[str, str], bool] = {}
        """Fault told already to whether it was beyond doubt."""
        self.over: set[tuple[int, str]] = set()

    def go(self, events: int) -> Loading:
        everything = list(range(len(self.wiring.strings)))
        self._look(None, everything)
        for grid in self.grids:
            self._tell(grid, list(grid.circuits), None)
        for event in self.trace.events[:events]:
            self.config.apply(event.changes)
            self.continuity.update(event.changes)
            services = {shift.service for shift in event.shifts}
            strings = {s for n in services for s in self.wiring.services[n].strings}
            for grid in self.grids:
                numbers = grid.update(event.changes)
                self.found.solved += len(numbers)
                self._tell(grid, numbers, event)
                feeds = {f for n in numbers for f in grid.circuits[n].network.feeds}
                strings |= {
                    n for n, s in enumerate(self.wiring.strings) if not feeds.isdisjoint(s.feeds)
                }
            self._look(event, sorted(strings))
        self.found.findings.extend(self._not_judged())
        self.found.now = [row for n in everything for row in self._carried(n, self._last(events))]
        self.found.circuits = [self.grids[0].circuits[n] for n in sorted(self.grids[0].circuits)]
        return self.found

    def _last(self, events: int) -> Event | None:
        return self.trace.events[events - 1] if events and self.trace.events else None

    def _look(self, event: Event | None, strings: list[int]) -> None:
        for string in strings:
            for row in self._carried(string, event):
                key = (string, row.margin.kind, row.surviving)
                known = self.found.worst.get(key)
                if known is None or row.margin.used > known.margin.used:
                    self.found.worst[key] = row
                self._past(row)

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
        first, second = (
            margins(self.copper, grid.circuits[grid.of_feed[verdict.feed]], string, verdict)
            for grid in self.grids
        )
        for one, other in zip(first, second, strict=True):
            yield Carried(number, max(one, other, key=lambda m: m.used), alone, event, time_s)

    # -- findings ---------------------------------------------------------------------

    def _tell(self, grid: Grid, numbers: list[int], event: Event | None) -> None:
        for circuit in (grid.circuits[number] for number in numbers):
            feed = self.wiring.feeds[circuit.network.feeds[0]]
            for fault in circuit.faults:
                sure = grid.surveyor.sure
                if not self.known.get((fault.rule, fault.text), False):
                    if sure or (fault.rule, fault.text) not in self.known:
                        self.found.findings.append(self._fault(fault, event, sure, feed.path))
                    self.known[(fault.rule, fault.text)] = sure

    def _fault(self, fault: Fault, event: Event | None, sure: bool, path: Path) -> Finding:
        names = described(self.wiring, fault)
        return Finding(
            fault.rule,
            Severity.WARNING if fault.rule in WARNINGS else Severity.ERROR,
            event.task.address if event else Address(0, path),
            fault.text + ("" if sure else " (by a join in doubt)"),
            expected=WHY[fault.rule],
            difference=f"path: {names}" if names else "no number is given for this circuit",
            way_out="demate what makes the join, or correct the documents",
            step=event.task.step_id if event else None,
            items=(fault.load.partition(".")[0],) if fault.load else (),
        )

    def _not_judged(self) -> Iterator[Finding]:
        """Yield a note for each unit that a string fed and whose draw is not given."""
        given = {(load.hi, load.ret) for load in self.copper.loads}
        lacking: dict[int, set[str]] = {}
        for number in {string for string, _, _ in self.found.worst}:
            string = self.wiring.strings[number]
            assert string.load is not None, "a string without a load carries nothing"
            ends = tuple(line.a_terminal for line in string.load)
            if ends not in given:
                service = self.wiring.services[string.service].id
                owner = self.wiring.terminals[ends[0]].owner
                lacking.setdefault(owner, set()).add(service)
        for owner, services in sorted(lacking.items()):
            unit, named = self.wiring.items[owner].id, ", ".join(sorted(services))
            yield Finding(
                "load-not-judged",
                Severity.NOTE,
                self._unit_address(unit),
                f"what {unit} draws is not judged: draws is missing for {named}",
                way_out="give its draws, with who says so",
                items=(unit,),
            )

    def _unit_address(self, unit: str) -> Address:
        for name, place in self.baseline.places.items():
            if unit in place.units:
                return Address(0, ("places", name, "units", unit))
        return Address(0)

    def _past(self, row: Carried) -> None:
        """Note a margin that is used up, once a string and kind."""
        left, margin = row.margin.left, row.margin
        if left is None or left >= 0 or (row.string, margin.kind) in self.over:
            return
        self.over.add((row.string, margin.kind))
        string = self.wiring.strings[row.string]
        service = self.wiring.services[string.service].id
        unit = "V" if margin.kind in ("volts", "drop") else "A"
        most = "at least" if margin.kind == "volts" else "at most"
        self.found.findings.append(
            Finding(
                RULES[margin.kind],
                Severity.ERROR,
                row.event.task.address if row.event else Address(0, string.path),
                f"{service}, string {string.id}: {margin.value:.3g} {unit} {WORDS[margin.kind]} "
                f"{margin.on}",
                expected=f"{most} {margin.limit:.3g} {unit}",
                difference=f"{-left:.3g} {unit} past it",
                way_out="take load off, or carry it over thicker wire or another feed",
                step=row.event.task.step_id if row.event else None,
                items=(service,),
                source=margin.source,
            )
        )


RULES = {
    "feed": "feed-overloaded",
    "wire": "wire-overloaded",
    "contact": "contact-overloaded",
    "volts": "volts-low",
    "drop": "drop-large",
}
WORDS = {
    "feed": "drawn from feed",
    "wire": "in a wire of",
    "contact": "through",
    "volts": "at",
    "drop": "lost on the way to",
}


def loading(baseline: Baseline, trace: Trace, events: int | None = None) -> Loading:
    """Return what strings carry through the first ``events`` events of a replay (all: None)."""
    return _Run(baseline, trace).go(len(trace.events) if events is None else events)
