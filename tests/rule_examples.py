"""The examples of the rules, laid over their base and replayed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from small import merged, text_of

from cablewalk.checks.example import BASE
from cablewalk.checks.registry import RULES
from cablewalk.checks.rule import Rule
from cablewalk.checks.run import Checked, check
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Finding
from cablewalk.timeline.account import Account, account


def _procedure(head: dict[str, Any], steps: list[Any]) -> Procedure:
    rows = []
    for n, step in enumerate(steps, start=1):
        row = {"do": step} if isinstance(step, list) else step
        rows.append({"id": f"s{n}", "by": "ada", **row})
    return Procedure.model_validate({**head, "steps": rows})


def replayed(text: str, base: str = BASE) -> Account:
    """Replay an example; what is impossible is skipped."""
    raw = merged(text_of(base), text_of(text) or {})
    procedures = [_procedure(raw["procedure"], raw.get("steps", []))]
    then = raw.get("then", [])
    for more in then if isinstance(then, list) else [then]:
        procedures.append(_procedure(more, more["steps"]))
    found = account(Baseline.model_validate(raw["baseline"]), procedures, True)
    assert not found.trace.unusable, [f.sentence() for f in found.findings]
    return found


def checked(text: str, base: str = BASE, rules: Mapping[str, Rule] = RULES) -> Checked:
    """Check an example."""
    return check(replayed(text, base), rules)


def ids(result: Checked) -> set[str]:
    """Return the rules of the findings that stand."""
    return {finding.rule for finding in result.findings}


def having(result: Checked, rule: str) -> list[Finding]:
    """Return the findings of one rule that stand."""
    return [finding for finding in result.findings if finding.rule == rule]
