"""The head of every report: what was replayed, and by what."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pydantic import Field

from cablewalk import __version__
from cablewalk.files.place import Source
from cablewalk.files.wording import inert
from cablewalk.reports.base import REPORT_VERSION, Part, Pet, pet_at, phase_end_s
from cablewalk.reports.fault import FindingRow, finding_rows
from cablewalk.timeline.account import Account
from cablewalk.units import minutes, seconds


class BaselineRow(Part):
    """The baseline that was replayed on."""

    id: str = Field(description="Its id.")
    title: str = Field(description="Its title; empty where it has none.")
    file: str = Field(description="The file, as it was named on the command line.")
    sha256: str = Field(description="SHA-256 of the file's bytes, hexadecimal.")


class ProcedureRow(Part):
    """A procedure that was given."""

    id: str = Field(description="Its id.")
    title: str = Field(description="Its title; empty where it has none.")
    file: str = Field(description="The file, as it was named on the command line.")
    sha256: str = Field(description="SHA-256 of the file's bytes, hexadecimal.")
    start_min: float | None = Field(
        description="When its first step may begin; null: the replay stopped before it."
    )
    end_min: float | None = Field(
        description="When its last step ends, or where the replay stopped in it; null as above."
    )


class PhaseRow(Part):
    """A phase that was replayed: a procedure on the clock."""

    number: int = Field(description="Position of the phase, from 1.")
    procedure: str = Field(description="Id of its procedure.")
    zero_min: float = Field(description="Mission elapsed time of this phase's PET 0:00.")
    start_min: float = Field(description="When its first step may begin.")
    end_min: float = Field(description="When its last step ends, or where the replay stopped.")
    start_pet: Pet = Field(description="start_min on the phase's clock.")
    end_pet: Pet = Field(description="end_min on the phase's clock.")
    length_min: float = Field(description="From start_min to end_min.")
    gap_min: float | None = Field(
        description="Minutes since the end of the phase before; null for the first."
    )
    roles: dict[str, str] = Field(description="Role to the person who has it in this phase.")
    steps: int = Field(description="How many steps it has, those of get-aheads included.")
    complete: bool = Field(description="False: the replay stopped within it.")


class GetAheadRow(Part):
    """A get-ahead of a procedure."""

    phase: str = Field(description="Id of the procedure.")
    id: str = Field(description="Its id.")
    title: str = Field(description="Its title; empty where it has none.")
    priority: int = Field(description="1 comes first.")
    entered: bool = Field(description="Whether this replay has it.")
    steps: tuple[str, ...] = Field(description="Ids of its steps.")


class Report(Part):
    """What every report begins with."""

    version: int = Field(description="Version of this report's fields.")
    cablewalk: str = Field(description="Version of the program.")
    baseline: BaselineRow = Field(description="The baseline.")
    procedures: tuple[ProcedureRow, ...] = Field(description="The procedures, in order.")
    phases: tuple[PhaseRow, ...] = Field(description="The phases that were replayed, in order.")
    get_aheads: tuple[GetAheadRow, ...] = Field(description="The get-aheads there are.")
    stopped: bool = Field(
        description="The replay stopped at an action that is impossible; nothing after is known."
    )
    end_min: float = Field(description="When the replay ends.")
    findings: tuple[FindingRow, ...] = Field(description="Faults found, in the order met.")


def heading(account: Account, sources: Sequence[Source]) -> dict[str, Any]:
    """Return the fields of :class:`Report` for a replay with at least one phase.

    ``sources`` are the files, the baseline's first.
    """
    baseline, trace = account.ground.baseline, account.trace
    return {
        "version": REPORT_VERSION,
        "cablewalk": __version__,
        "baseline": BaselineRow(
            id=baseline.baseline,
            title=baseline.title,
            file=inert(sources[0].name),
            sha256=sources[0].sha256,
        ),
        "procedures": tuple(_procedure(account, n, source) for n, source in enumerate(sources[1:])),
        "phases": tuple(_phase(account, n) for n in range(len(trace.phases))),
        "get_aheads": tuple(
            GetAheadRow(
                phase=procedure.procedure,
                id=ahead.id,
                title=ahead.title,
                priority=ahead.priority,
                entered=(n, ahead.id) in trace.get_aheads,
                steps=tuple(step.id for step in ahead.steps),
            )
            for n, procedure in enumerate(account.procedures)
            for ahead in procedure.get_aheads
        ),
        "stopped": trace.stopped,
        "end_min": minutes(trace.end_s),
        "findings": finding_rows(account, sources),
    }


def _procedure(account: Account, number: int, source: Source) -> ProcedureRow:
    procedure, trace = account.procedures[number], account.trace
    played = number < len(trace.phases)
    return ProcedureRow(
        id=procedure.procedure,
        title=procedure.title,
        file=inert(source.name),
        sha256=source.sha256,
        start_min=minutes(trace.phases[number].start_s) if played else None,
        end_min=minutes(phase_end_s(trace, number)) if played else None,
    )


def _phase(account: Account, number: int) -> PhaseRow:
    trace = account.trace
    timed = trace.phases[number]
    procedure = account.procedures[number]
    end_s = phase_end_s(trace, number)
    gap = seconds(procedure.gap_min or 0)
    return PhaseRow(
        number=number + 1,
        procedure=procedure.procedure,
        zero_min=minutes(timed.zero_s),
        start_min=minutes(timed.start_s),
        end_min=minutes(end_s),
        start_pet=pet_at(trace, timed.start_s, number),
        end_pet=pet_at(trace, end_s, number),
        length_min=minutes(end_s - timed.start_s),
        gap_min=minutes(gap) if number else None,
        roles=dict(procedure.roles),
        steps=len(timed.plan.steps),
        complete=not (trace.stopped and number == len(trace.phases) - 1),
    )
