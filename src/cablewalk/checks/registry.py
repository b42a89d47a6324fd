"""The registry: every rule id that can appear, with what explains it."""

from __future__ import annotations

import difflib
from typing import Final

from cablewalk.checks import (
    inhibits,
    left_halves,
    left_things,
    lengths,
    lookalikes,
    outcome,
    power,
    replayed,
    single,
    waive,
    workers,
)
from cablewalk.checks.rule import Rule
from cablewalk.findings import Severity

_FAMILIES: Final = (
    replayed.RULES,
    inhibits.RULES,
    power.RULES,
    lookalikes.RULES,
    left_halves.RULES,
    left_things.RULES,
    lengths.RULES,
    workers.RULES,
    outcome.RULES,
    single.RULES,
    waive.RULES,
)

_DOCUMENTS: Final = tuple(
    Rule(
        name,
        title,
        Severity.ERROR,
        "the document models ('cablewalk schema')",
        "A document that cannot be read as it was meant is not replayed.",
        "The message says what is expected there.",
        waivable=False,
    )
    for name, title in replayed.DOCUMENT_RULES.items()
)

RULES: Final[dict[str, Rule]] = {
    rule.id: rule for family in (*_FAMILIES, _DOCUMENTS) for rule in family
}
"""Rule id to the rule, in the order of the families; those of documents last."""


def near(name: str) -> list[str]:
    """Return the ids closest to a name, the closest first."""
    return difflib.get_close_matches(name, RULES, n=3, cutoff=0.5)


def rules_table() -> str:
    """Return all rules but those of documents as a Markdown table."""
    rows = ["| rule | severity | what | source |", "|---|---|---|---|"]
    for rule in RULES.values():
        if rule.id not in replayed.DOCUMENT_RULES:
            rows.append(f"| `{rule.id}` | {rule.severity} | {rule.title} | {rule.source} |")
    return "\n".join(rows) + "\n"
