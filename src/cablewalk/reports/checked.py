"""The report of ``cablewalk check``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from pydantic import Field

from cablewalk.checks.case import Case
from cablewalk.checks.interval import watch
from cablewalk.checks.power import Gaps, left_alive, over, verdict
from cablewalk.checks.reaching import proposal
from cablewalk.checks.registry import RULES
from cablewalk.checks.run import Checked
from cablewalk.checks.touches import Touch
from cablewalk.files.place import Source
from cablewalk.findings import Finding, Findings
from cablewalk.reports.base import Part, Pet, pet_at
from cablewalk.reports.fault import FindingRow, finding_rows
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.limits_missing import MissingRow, missing_rows
from cablewalk.timeline.account import Account
from cablewalk.timeline.limits_given import limits_of


class RuleRow(Part):
    """A rule that found something, or whose findings were waived."""

    id: str = Field(description="Its id.")
    title: str = Field(description="What it finds.")
    source: str = Field(description="Who says so.")
    why: str = Field(description="What may go wrong.")
    satisfy: str = Field(description="How to satisfy it.")
    waivable: bool = Field(description="Whether a procedure can waive it.")


class WaivedRow(Part):
    """A finding that a procedure waives."""

    finding: FindingRow = Field(description="The finding.")
    scope: str = Field(description="The step or item it is waived for.")
    reason: str = Field(description="Why.")
    authority: str = Field(description="Who allows it.")


class TouchRow(Part):
    """A mate or demate, with what could make its contacts live."""

    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="Id of the step.")
    begins: Pet = Field(description="When it begins.")
    verb: str = Field(description="What is done.")
    halves: tuple[str, ...] = Field(description="The halves concerned.")
    could_reach: tuple[str, ...] = Field(
        description="Feeds that could reach the contacts if no switch were known to be off."
    )
    live: tuple[str, ...] = Field(description="Feeds that may make them live as planned.")
    proposed: str = Field(
        description="The inhibit that would make them dead; empty where nothing could reach them."
    )
    no_switch: tuple[str, ...] = Field(description="Feeds that no switch can keep away.")
    inhibits: tuple[str, ...] = Field(description="Ids of the inhibits stated for it.")
    left_alive: tuple[str, ...] = Field(
        description="Feeds (of touch_volts or more) that could reach it while these inhibits hold."
    )
    verdict: str = Field(
        description="What these inhibits are worth, with the times at which one does not hold; "
        "empty where none is stated."
    )


class CheckReport(Report):
    """What the rules find; ``findings`` are those that stand."""

    report: Literal["check"] = Field(description="Which report this is.")
    waived: tuple[WaivedRow, ...] = Field(description="Findings that procedures waive.")
    touches: tuple[TouchRow, ...] = Field(
        description="Every mate and demate, in order of time, with what could reach it."
    )
    rules: tuple[RuleRow, ...] = Field(description="The rules of these findings.")
    runs: int | None = Field(
        description="How many samples clocks and phase limits were held against; null: none, only "
        "likely minutes."
    )
    not_sampled: str = Field(description="Why nothing was sampled; empty where it was.")
    limits_judged: int = Field(description="How many phase limits were judged.")
    limits_not_judged: tuple[MissingRow, ...] = Field(
        description="Phase limits that are not judged, and what is missing."
    )


def check_report(
    checked: Checked, sources: Sequence[Source], runs: int | None, not_sampled: str
) -> CheckReport:
    """Return the report of a check.

    Args:
        checked: what the rules found.
        sources: the files, the baseline's first.
        runs, not_sampled: how many samples, or why none.
    """
    case = checked.case
    waived = tuple(w.finding for w in checked.waived)
    named = {f.rule for f in (*checked.findings, *waived)}
    gaps = {(one.phase, one.id): watch(case, one).gaps for one in case.stated}
    return CheckReport(
        **heading(_with(case.account, checked.findings), sources),
        report="check",
        waived=tuple(
            WaivedRow(
                finding=row,
                scope=w.waiver.scope,
                reason=w.waiver.reason,
                authority=w.waiver.authority,
            )
            for row, w in zip(
                finding_rows(_with(case.account, waived), sources), checked.waived, strict=True
            )
        ),
        touches=tuple(_touch(case, touch, gaps) for touch in case.survey.touches),
        rules=tuple(
            RuleRow(
                id=rule.id,
                title=rule.title,
                source=rule.source,
                why=rule.why,
                satisfy=rule.satisfy,
                waivable=rule.waivable,
            )
            for rule in RULES.values()
            if rule.id in named
        ),
        runs=runs,
        not_sampled=not_sampled,
        limits_judged=len(limits_of(case.account.trace.phases)[0]),
        limits_not_judged=missing_rows(case.account),
    )


def _with(account: Account, findings: Sequence[Finding]) -> Account:
    """Return an account with these findings in place of its own."""
    return replace(account, trace=replace(account.trace, findings=Findings(list(findings))))


def _touch(case: Case, touch: Touch, gaps: Gaps) -> TouchRow:
    feeds = case.wiring.feeds
    proposed, no_switch = proposal(case.wiring, touch, touch.reach)
    return TouchRow(
        phase=case.trace.phases[touch.task.phase].plan.procedure.procedure,
        step=touch.task.step_id,
        begins=pet_at(case.trace, touch.time_s, touch.task.phase),
        verb=touch.task.verb,
        halves=tuple(case.id(half) for half in touch.halves),
        could_reach=tuple(feeds[f].id for f in touch.reach),
        live=tuple(feeds[f].id for f in touch.live),
        proposed=proposed,
        no_switch=no_switch,
        inhibits=tuple(one.id for one in over(case, touch)),
        left_alive=tuple(feeds[f].id for f in left_alive(case, touch)),
        verdict=verdict(case, touch, gaps),
    )
