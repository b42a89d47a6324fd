"""Findings: faults of a document or a plan, as values.

A finding is never raised; it is gathered. It carries an :class:`Address` (which
document, which path in it); the line number is looked up only when it is printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any, NamedTuple

Path = tuple[str | int, ...]


class Severity(IntEnum):
    """How much a finding weighs; larger is worse."""

    NOTE = 1
    WARNING = 2
    ERROR = 3

    def __str__(self) -> str:
        return self.name.lower()


class Address(NamedTuple):
    """Where in the documents something stands.

    ``document`` counts the documents of a run: 0 is the baseline, 1 the first procedure.
    ``path`` is the chain of keys and list positions as the user wrote them.
    """

    document: int
    path: Path = ()

    def child(self, *steps: str | int) -> Address:
        """Return the address of something below this one."""
        return Address(self.document, self.path + steps)


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault, with the four parts of a message: found, expected, difference, way out."""

    rule: str
    severity: Severity
    address: Address
    found: str
    expected: str = ""
    difference: str = ""
    way_out: str = ""
    step: str | None = None
    items: tuple[str, ...] = ()
    source: str = ""
    because_of: str | None = None
    """Id of the skipped step whose consequence this is."""

    def sentence(self) -> str:
        """Return the four parts as one line of text, without the place."""
        parts = [self.found]
        if self.expected:
            parts.append(f"expected: {self.expected}")
        if self.difference:
            parts.append(f"difference: {self.difference}")
        if self.way_out:
            parts.append(f"way out: {self.way_out}")
        return "; ".join(parts)


@dataclass(slots=True)
class Findings:
    """Findings gathered so far, in the order they were met."""

    items: list[Finding] = field(default_factory=list)

    def add(self, finding: Finding) -> None:
        """Append one finding."""
        self.items.append(finding)

    def extend(self, findings: Iterable[Finding]) -> None:
        """Append several findings."""
        self.items.extend(findings)

    def error(self, rule: str, address: Address, found: str, **parts: Any) -> None:
        """Append a finding of severity error."""
        self.add(Finding(rule, Severity.ERROR, address, found, **parts))

    def warning(self, rule: str, address: Address, found: str, **parts: Any) -> None:
        """Append a finding of severity warning."""
        self.add(Finding(rule, Severity.WARNING, address, found, **parts))

    @property
    def worst(self) -> Severity | None:
        """Return the severity of the worst finding, or None where there is none."""
        return max((f.severity for f in self.items), default=None)

    @property
    def has_errors(self) -> bool:
        """Return whether any finding is of severity error."""
        return any(f.severity is Severity.ERROR for f in self.items)

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)


def nearest(wanted: str, known: list[str], most: int = 1) -> str:
    """Return a hint naming the closest known id, or the ids there are, or that there is none.

    Of ids that are as near as one another, ``most`` are named: none is the likeliest.
    """
    import difflib  # only where something is wrong

    close = difflib.get_close_matches(wanted, known, n=most, cutoff=0.5)
    likeness = [difflib.SequenceMatcher(None, one, wanted).ratio() for one in close]
    close = [one for one, like in zip(close, likeness, strict=True) if like == likeness[0]]
    if close:
        return f"did you mean {' or '.join(close)}?"
    if not known:
        return "there is none: add it first, or take this out"
    more = f" … ({len(known)} in all)" if len(known) > 8 else ""
    return f"there is: {', '.join(sorted(known)[:8])}{more}"
