"""A rule: one thing that can be wrong, with its source, and how to put it right."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from cablewalk.checks.case import Case
from cablewalk.findings import Finding, Severity

Judge = Callable[[Case], Iterable[Finding]]

PRACTICE = "common practice, no source"
CAPS = "NASA-STD-8739.4 Change 6, 16.2.4 (caps on unmated connectors); your programme decides"
LLIS_0431 = "NASA LLIS 0431 (identical connectors cross-connected)"
LLIS_0579 = "NASA LLIS 0579 (1996): power off outside, the battery still live"
LLIS_1224 = "NASA LLIS 1224 (1998): a valid second work document undid a known configuration"
LLIS_1619 = "NASA LLIS 1619 (2005): one at a time, each logged, each witnessed"
INHIBIT_PAD = (
    "STS-120 inhibit pad (system, who, numbered action, end state; open and close command blocked)"
)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. ``severity`` is the worst its findings have.

    ``judge`` is None where the reading of documents or the replay finds it.
    ``fires`` and ``silent`` are examples: YAML laid over :data:`.example.BASE`.
    """

    id: str
    title: str
    severity: Severity
    source: str
    why: str
    satisfy: str
    judge: Judge | None = None
    fires: str = ""
    silent: str = ""
    waivable: bool = True
