"""Waivers: findings accepted by name, and the rules that watch them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from cablewalk.checks.case import Case
from cablewalk.checks.rule import PRACTICE, Rule
from cablewalk.documents.waivers import Waiver
from cablewalk.findings import Address, Finding, Severity

ERROR, WARNING = Severity.ERROR, Severity.WARNING


@dataclass(frozen=True, slots=True)
class Waived:
    """A finding, and the waiver that accepts it."""

    finding: Finding
    waiver: Waiver


@dataclass(slots=True)
class Sorted:
    """Findings after waivers."""

    kept: list[Finding] = field(default_factory=list)
    waived: list[Waived] = field(default_factory=list)


def apply_waivers(
    case: Case, findings: Iterable[Finding], rules: Mapping[str, Rule], near: Mapping[str, str]
) -> Sorted:
    """Set aside the findings that a waiver names, and add those about the waivers themselves.

    A waiver reaches the findings of its own phase, and those of the baseline, of its rule, whose
    step or one of whose items is its scope. What cannot be waived stays. ``near`` is filled by
    the caller: waived rule ids that are unknown, to the closest known one.
    """
    result = Sorted()
    waivers: list[tuple[int, int, Waiver]] = [
        (phase, n, waiver)
        for phase, timed in enumerate(case.trace.phases)
        for n, waiver in enumerate(timed.plan.procedure.waivers)
    ]
    used: set[tuple[int, int]] = set()
    for finding in findings:
        rule = rules.get(finding.rule)
        match = next(
            (
                (phase, n, waiver)
                for phase, n, waiver in waivers
                if waiver.rule == finding.rule
                and finding.address.document in (0, phase + 1)
                and waiver.scope in _scopes(finding)
            ),
            None,
        )
        if match is None or rule is None or not rule.waivable:
            result.kept.append(finding)
            continue
        used.add(match[:2])
        result.waived.append(Waived(finding, match[2]))
    for phase, n, waiver in waivers:
        address = Address(phase + 1, ("waivers", n))
        rule = rules.get(waiver.rule)
        if rule is None:
            result.kept.append(
                Finding(
                    "waiver-unknown-rule",
                    ERROR,
                    address.child("rule"),
                    f"there is no rule {waiver.rule} to waive",
                    expected="the id of a rule, as findings print it",
                    difference="what it was to waive stands",
                    way_out=near.get(waiver.rule, ""),
                    items=(waiver.scope,),
                )
            )
        elif not rule.waivable:
            result.kept.append(
                Finding(
                    "waiver-not-possible",
                    ERROR,
                    address.child("rule"),
                    f"{waiver.rule} cannot be waived",
                    expected="a waiver of something that can be done and is accepted",
                    difference=rule.why,
                    way_out=rule.satisfy,
                    items=(waiver.scope,),
                )
            )
        elif (phase, n) not in used:
            result.kept.append(
                Finding(
                    "waiver-idle",
                    WARNING,
                    address,
                    f"the waiver of {waiver.rule} for {waiver.scope} matches nothing",
                    expected="a finding of that rule whose step or item is the scope",
                    difference="no finding of that rule is of this scope",
                    way_out="correct the scope, or take the waiver out",
                    items=(waiver.scope,),
                )
            )
    return result


def _scopes(finding: Finding) -> tuple[str | None, ...]:
    """Return what a waiver may name to reach a finding: its step or one of its items.

    What was not judged is waived by what it is about alone, which comes first: not a whole list
    by one name of it.
    """
    items = finding.items[:1] if finding.rule == "not-judged" else finding.items
    return finding.step, *items


def _waiver(rule: str, scope: str = "J1") -> str:
    return (
        f"procedure: {{waivers: {{rule: {rule}, scope: {scope}, reason: r, authority: a}}}}\n"
        "steps: [[demate: P1, fit_cap: {C1: P1}]]"
    )


RULES = (
    Rule(
        "waiver-unknown-rule",
        "A waiver names no rule",
        ERROR,
        PRACTICE,
        "A waiver of nothing may hide a slip of the pen, and what it meant to waive stands.",
        "Name the rule as findings print it.",
        fires=_waiver("bare-at-ends"),
        silent=_waiver("bare-at-end"),
        waivable=False,
    ),
    Rule(
        "waiver-not-possible",
        "A waiver of what cannot be waived",
        ERROR,
        PRACTICE,
        "Nobody can allow what is impossible.",
        "Correct the plan.",
        fires=_waiver("refused"),
        silent=_waiver("bare-at-end"),
        waivable=False,
    ),
    Rule(
        "waiver-idle",
        "A waiver matches nothing",
        WARNING,
        PRACTICE,
        "The plan has changed, or the scope is wrong: a stale waiver will hide the next fault.",
        "Correct the scope, or take it out.",
        fires=_waiver("bare-at-end", "J2"),
        silent=_waiver("bare-at-end"),
        waivable=False,
    ),
)
