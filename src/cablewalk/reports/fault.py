"""A finding, as a report tells it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.files.wording import inert
from cablewalk.findings import Finding
from cablewalk.reports.base import Part
from cablewalk.timeline.account import Account


class FindingRow(Part):
    """A fault of a document or of the plan."""

    rule: str = Field(description="Id of the rule.")
    severity: Literal["note", "warning", "error"] = Field(description="How much it weighs.")
    file: str = Field(description="The file it stands in.")
    line: int | None = Field(description="Line in the file, from 1; null where there is none.")
    phase: str | None = Field(description="Id of the procedure; null for the baseline.")
    phase_number: int | None = Field(
        description="Position of the procedure, from 1; null for the baseline."
    )
    step: str | None = Field(description="Id of the step; null where no step is concerned.")
    found: str = Field(description="What was found.")
    expected: str = Field(description="What was expected; may be empty, as the next three.")
    difference: str = Field(description="How the two differ.")
    way_out: str = Field(description="What can be done.")
    source: str = Field(description="Who says so.")
    items: tuple[str, ...] = Field(description="Ids of the items and services concerned.")
    because_of: str | None = Field(
        description="Id of the step that could not be done, whose consequence this is; or null."
    )


def finding_rows(account: Account, sources: Sequence[Source]) -> tuple[FindingRow, ...]:
    """Return every finding, in the order met; their places are looked up in ``sources``."""
    return tuple(finding_row(account, sources, finding) for finding in account.findings)


def finding_row(account: Account, sources: Sequence[Source], finding: Finding) -> FindingRow:
    """Return one finding; its place is looked up in ``sources``, the baseline's first."""
    document, path = finding.address.document, finding.address.path
    source = sources[document]
    return FindingRow.model_validate(
        {
            "rule": finding.rule,
            "severity": str(finding.severity),
            "file": inert(source.name),
            "line": source.line(path),
            "phase": account.procedures[document - 1].procedure if document else None,
            "phase_number": document or None,
            "step": finding.step,
            "found": finding.found,
            "expected": finding.expected,
            "difference": finding.difference,
            "way_out": finding.way_out,
            "source": finding.source,
            "items": finding.items,
            "because_of": finding.because_of,
        }
    )
