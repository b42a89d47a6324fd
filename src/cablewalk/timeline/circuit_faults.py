"""Faults of circuits as findings: each told when it comes, and again when it comes back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cablewalk.findings import Address, Finding, Path, Severity
from cablewalk.power.grid import Grid
from cablewalk.power.network import Fault
from cablewalk.power.ratings import driven_backwards
from cablewalk.power.topology import described
from cablewalk.replay.wiring import Wiring
from cablewalk.walk.trace import Event

WHY = {
    "short-circuit": "no current but through loads",
    "feeds-tied": "feeds joined only where parallel_with says so",
    "feeds-in-series": "every feed's high and return kept apart from the others'",
    "feed-driven-backwards": "feeds that give current, and take none",
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

Key = tuple[str, str, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class _Told:
    """A fault that is there and was told: beyond doubt or not, where, and of which step."""

    sure: bool
    position: int
    step: str | None


class Faults:
    """Remembers which faults are there, so that each is told once as long as it lasts."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.known: dict[Key, _Told] = {}

    def tell(self, findings: list[Finding], grids: Iterable[Grid], event: Event | None) -> None:
        """Add the faults that were not there before; ``grids``: that without doubtful joins first.

        One that was told as in doubt and is beyond doubt later in the same step takes the place
        of what was told.
        """
        present: dict[Key, tuple[Fault, Path, bool]] = {}
        beyond: set[tuple[str, str]] = set()
        """Faults beyond doubt: a doubtful join that only adds another way is not told."""
        for grid in grids:
            sure = grid.surveyor.sure
            for circuit in grid.circuits.values():
                address = self.wiring.feeds[circuit.network.feeds[0]].path
                for fault in (*circuit.faults, *self._backwards(driven_backwards(circuit))):
                    if sure:
                        beyond.add((fault.rule, fault.text))
                    elif (fault.rule, fault.text) in beyond:
                        continue
                    key = (fault.rule, fault.text, fault.path)
                    present.setdefault(key, (fault, address, sure))
        step = event.task.step_id if event else None
        for key, (fault, address, sure) in present.items():
            known = self.known.get(key)
            if known is not None and (known.sure or not sure):
                continue
            finding = self._finding(fault, event, sure, address)
            if known is not None and known.step == step:
                findings[known.position] = finding
                self.known[key] = _Told(sure, known.position, step)
            else:
                self.known[key] = _Told(sure, len(findings), step)
                findings.append(finding)
        for key in self.known.keys() - present.keys():
            del self.known[key]

    def _backwards(self, feeds: Iterable[int]) -> Iterable[Fault]:
        for n in feeds:
            feed = self.wiring.feeds[n]
            text = f"feed {feed.id} takes current instead of giving it: it is driven backwards"
            yield Fault("feed-driven-backwards", text)

    def _finding(self, fault: Fault, event: Event | None, sure: bool, path: Path) -> Finding:
        names = described(self.wiring, fault)
        bare = "no number is given for this circuit"
        if fault.rule == "feed-driven-backwards":
            bare = "feeds of higher volts are joined with it"
        return Finding(
            fault.rule,
            Severity.WARNING if fault.rule in WARNINGS else Severity.ERROR,
            event.task.address if event else Address(0, path),
            fault.text + ("" if sure else " (by a join in doubt)"),
            expected=WHY[fault.rule],
            difference=f"path: {names}" if names else bare,
            way_out="demate what makes the join, or correct the documents",
            step=event.task.step_id if event else None,
            items=(fault.load.partition(".")[0],) if fault.load else (),
        )
