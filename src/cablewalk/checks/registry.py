"""The registry: every rule id that can appear, with what explains it."""

from __future__ import annotations

import difflib
from typing import Final

from cablewalk.checks import (
    dark,
    inhibits,
    left_halves,
    left_things,
    lengths,
    lookalikes,
    not_judged,
    outcome,
    power,
    replayed,
    single,
    told_elsewhere,
    tools,
    undone,
    waive,
    workers,
)
from cablewalk.checks.rule import Rule

_FAMILIES: Final = (
    replayed.RULES,
    dark.RULES,
    inhibits.RULES,
    power.RULES,
    lookalikes.RULES,
    left_halves.RULES,
    left_things.RULES,
    tools.RULES,
    lengths.RULES,
    not_judged.RULES,
    workers.RULES,
    undone.RULES,
    outcome.RULES,
    single.RULES,
    waive.RULES,
)

JUDGED: Final[dict[str, Rule]] = {rule.id: rule for family in _FAMILIES for rule in family}
"""The rules asked about a plan and its replay, in the order of the families."""

RULES: Final[dict[str, Rule]] = JUDGED | {rule.id: rule for rule in told_elsewhere.RULES}
"""Rule id to the rule; those of documents and logs last."""


def near(name: str) -> list[str]:
    """Return the ids closest to a name, the closest first."""
    return difflib.get_close_matches(name, RULES, n=3, cutoff=0.5)


def rules_table() -> str:
    """Return the rules asked about a plan as a Markdown table."""
    rows = ["| rule | severity | what | source |", "|---|---|---|---|"]
    for rule in JUDGED.values():
        rows.append(f"| `{rule.id}` | {rule.severity} | {rule.title} | {rule.source} |")
    return "\n".join(rows) + "\n"
