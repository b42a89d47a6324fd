"""The check: every rule asked about a replay, waivers applied."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from cablewalk.checks.case import Case
from cablewalk.checks.registry import RULES, near
from cablewalk.checks.rule import Rule
from cablewalk.checks.waive import Waived, apply_waivers
from cablewalk.continuity.graph import net
from cablewalk.findings import Finding, Severity
from cablewalk.replay.wiring import NONE, STRUCTURE
from cablewalk.timeline.account import Account
from cablewalk.walk.taint import Taint


@dataclass(frozen=True, slots=True)
class Checked:
    """What the rules found: the findings that stand, and those that are waived."""

    case: Case
    findings: tuple[Finding, ...]
    waived: tuple[Waived, ...]

    @property
    def has_errors(self) -> bool:
        """Whether an error stands."""
        return any(f.severity is Severity.ERROR for f in self.findings)


def check(account: Account, rules: Mapping[str, Rule] = RULES) -> Checked:
    """Return what all rules find in a replay that could be done (``unusable`` is not set)."""
    case = Case(account)
    found = [_softened(case, f) for f in account.findings if f.rule in rules]
    for rule in rules.values():
        if rule.judge is not None:
            found.extend(rule.judge(case))
    blame = _Blame(case)
    unknown = {w.rule for p in account.procedures for w in p.waivers} - rules.keys()
    hints = {name: f"did you mean {close[0]}?" for name in unknown if (close := near(name))}
    result = apply_waivers(case, (blame.mark(f) for f in found), rules, hints)
    kept = [f for f in result.kept if f.rule in rules]
    return Checked(case, tuple(_in_order(case, kept)), tuple(result.waived))


def _in_order(case: Case, findings: list[Finding]) -> list[Finding]:
    """Return findings in the order of the documents and of their steps, else as they were."""
    at = {
        (phase + 1, step.id): n
        for phase, timed in enumerate(case.trace.phases)
        for n, step in enumerate(timed.plan.steps)
    }

    def place(finding: Finding) -> tuple[int, int]:
        document, step = finding.address.document, finding.step or ""
        if document == 0 and step:
            document = next((d for d, name in at if name == step), 0)
        return document, at.get((document, step), len(at))

    return sorted(findings, key=place)


def _softened(case: Case, finding: Finding) -> Finding:
    """Return a finding of live contacts as a warning where all volts are below the user's limit."""
    limit = case.limits.touch_volts
    if limit is None or finding.rule not in ("live-contact", "live-exposed"):
        return finding
    step, volts_at = finding.step or "", case.survey.exposed_volts
    volts = [volts_at.get((step, case.wiring.by_id[name])) for name in finding.items]
    if any(one is None or one >= limit.value for one in volts):
        return _in_series(finding, max((v for v in volts if v is not None), default=0.0), case)
    return replace(
        finding,
        severity=Severity.WARNING,
        expected=f"{finding.expected}; below {limit.value:g} V the programme allows it "
        f"({limit.source})",
        source=limit.source,
    )


def _in_series(finding: Finding, volts: float, case: Case) -> Finding:
    """Return a finding that says the volts of feeds in series, where no feed alone has them."""
    feeds = case.wiring.feeds
    named = [row.volts for row in feeds if f"{row.id} ({row.volts:g} V)" in finding.found]
    if volts <= max(named, default=volts):
        return finding
    text = f"{finding.found}, with what may be in series {volts:g} V"
    return replace(finding, found=text)


_LEFT = frozenset({"cover-left-open", "bag-not-home"})
"""Rules of how things are left whose ids do not end with that."""


class _Blame:
    """Finds the skipped step that a finding follows from."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.taint = Taint(case.wiring)
        self.joints: dict[int, str] = {}
        """Island of a half that a skipped action named, to the step."""
        for refused in case.trace.refused:
            step = refused.because_of or refused.task.step_id
            names = self.taint.named(refused.task)
            self.taint.add(names, step)
            for name in names:
                half = case.wiring.item("half", name)
                for island in case.wiring.joints[half] if half != NONE else ():
                    if island != STRUCTURE:
                        self.joints.setdefault(island, step)
        self.of_service = lru_cache(maxsize=None)(self._of_service)

    def mark(self, finding: Finding) -> Finding:
        """Return a finding with the skipped step it follows from, if any."""
        if finding.because_of is not None or finding.rule == "refused":
            return finding
        if finding.rule in ("down-at-end", "verify-failed", "not-established"):
            step = self.of_service(self.case.wiring.service_by_id[finding.items[0]])
            return replace(finding, because_of=step) if step else finding
        late = finding.rule.endswith("-at-end") or finding.rule in _LEFT
        return self.taint.mark(finding) if late else finding

    def _of_service(self, service: int) -> str | None:
        """Return the skipped step at a half that what the service runs over now ends at."""
        if not self.joints:
            return None
        wiring, config = self.case.wiring, self.case.end
        for s in wiring.services[service].strings:
            string = wiring.strings[s]
            for line in (*string.lines, *(string.load or ())):
                for end in {line.a, line.b} - {STRUCTURE, NONE}:
                    for island in net(config, end):
                        if island in self.joints:
                            return self.joints[island]
        return None
