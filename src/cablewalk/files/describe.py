"""A finding as one printable line: file, line, severity, rule, sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from cablewalk.files.wording import inert
from cablewalk.findings import Finding, Path


class HasLines(Protocol):
    """What knows its name and the lines of what stands in it."""

    @property
    def name(self) -> str:
        """The file's name, as the user gave it."""

    def line(self, path: Path) -> int | None:
        """Return the line (from 1) of ``path``, or None."""


def describe(finding: Finding, sources: Sequence[HasLines]) -> str:
    """Return ``file:line: severity: rule: [step] sentence``, with control characters escaped.

    ``sources[n]`` is document n of the finding's address. Without a line the file stands alone;
    an address outside the sources prints as ``document n``.
    """
    number = finding.address.document
    if 0 <= number < len(sources):
        source = sources[number]
        line = source.line(finding.address.path)
        where = source.name if line is None else f"{source.name}:{line}"
    else:
        where = f"document {number}"
    step = f"step {finding.step}: " if finding.step else ""
    return inert(f"{where}: {finding.severity}: {finding.rule}: {step}{finding.sentence()}")
