"""A log read whole: its documents made ready, its entries folded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cablewalk.documents.procedure import Procedure
from cablewalk.files.load import parse_baseline, parse_procedure
from cablewalk.files.place import Source
from cablewalk.files.wording import clipped
from cablewalk.findings import Finding
from cablewalk.logbook.log import Log, Reading, Stored
from cablewalk.logbook.trouble import CannotLog, Damaged
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_state import Tracked
from cablewalk.walk.run import Ground, ready


@dataclass(frozen=True, slots=True)
class Plans:
    """The documents of a log, made ready."""

    ground: Ground
    procedures: tuple[Procedure, ...]
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Run:
    """A log as it stands: plans, what was read, and what it comes to."""

    plans: Plans
    reading: Reading
    tracked: Tracked


def plans_of(documents: Sequence[Stored]) -> Plans:
    """Return the documents of a log, made ready.

    Raises:
        CannotLog: they are none that this program can use.
    """
    if not documents or documents[0].kind != "baseline":
        raise Damaged("the log holds no baseline; give one to 'cablewalk asrun salvage'")
    base = parse_baseline(documents[0].raw, documents[0].name)
    rest = [parse_procedure(d.raw, d.name, n + 1) for n, d in enumerate(documents[1:])]
    procedures = tuple(r.model for r in rest if r.model is not None)
    if base.model is None or len(procedures) < len(rest):
        faulty: list[tuple[str, tuple[Finding, ...]]] = [(base.source.name, base.findings)]
        faulty += [(r.source.name, r.findings) for r in rest if r.model is None]
        name, found = next(pair for pair in faulty if pair[1])
        raise CannotLog(
            f"the document {clipped(name)} in the log cannot be used: {found[0].sentence()}. It "
            "was sound when the log was opened: 'cablewalk asrun check' tells whether it was "
            "damaged since; 'cablewalk asrun salvage' takes the documents anew"
        )
    ground = ready(base.model)
    if ground.findings.has_errors:
        raise CannotLog(
            "the baseline in the log has faults that forbid a replay: 'cablewalk asrun check' "
            "tells whether it was damaged; 'cablewalk asrun salvage' takes the documents anew"
        )
    return Plans(ground, procedures, (base.source, *(r.source for r in rest)))


def run_of(log: Log, plans: Plans | None = None) -> Run:
    """Return what a log comes to now; ``plans`` from before spare reading the documents."""
    plans = plans or plans_of(log.documents)
    reading = log.read()
    return Run(plans, reading, track(plans.ground, plans.procedures, reading.entries))
