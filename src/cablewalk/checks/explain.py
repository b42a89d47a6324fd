"""What a rule is for, and how to satisfy or waive it, as text."""

from __future__ import annotations

from cablewalk.checks.rule import Rule


def explanation(rule: Rule) -> list[tuple[str, str]]:
    """Return (heading, text) pairs that explain a rule."""
    waive = (
        f"waivers: {{rule: {rule.id}, scope: STEP or ITEM, reason: …, authority: …}} in the "
        "procedure; the finding is then listed as waived"
        if rule.waivable
        else "it cannot be waived"
    )
    found_by = "" if rule.judge is not None else "the replay, or the reading of the documents"
    return [
        ("severity", f"{rule.severity} at most"),
        ("why", rule.why),
        ("source", rule.source),
        ("satisfy", rule.satisfy),
        ("waive", waive),
        ("found by", found_by),
    ]
