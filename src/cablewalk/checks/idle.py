"""Whether inhibits protect anything, and by switches that matter."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.reaching import killers
from cablewalk.checks.rule import INHIBIT_PAD
from cablewalk.checks.stated import Stated
from cablewalk.documents.inhibits import facts
from cablewalk.findings import Finding, Severity


def idle(case: Case) -> Iterator[Finding]:
    """Note inhibits that protect nothing, and switches in them that keep nothing dead."""
    for one in case.stated:
        if one.expression is None:
            continue
        if not one.touches and _set_after_release(case, one):
            yield _idle_finding(
                one,
                f"is set by {one.inhibit.set_by}, after its release by {one.inhibit.until}",
                "set_by",
                "it holds at no time",
                "set it by an earlier step, or release it by a later one",
            )
            continue
        if not one.touches:
            yield _idle_finding(
                one,
                "protects no mate or demate that was replayed",
                "protects",
                "there is nothing that it keeps dead while it holds",
                "name in 'protects' what it is for, correct its interval, or take it out",
            )
            continue
        useful = {name for touch in one.touches for name in killers(case.wiring, touch)}
        for name in dict.fromkeys(f.name for f in facts(one.expression) if f.state):
            if name not in useful:
                yield _idle_finding(
                    one,
                    f"names {name}, which stands before no contact it protects",
                    "requires",
                    f"{name} could be on and nothing be otherwise at these contacts",
                    "name the switch that does, or take it out",
                )


def off_only(case: Case) -> Iterator[Finding]:
    """Note switches that an inhibit keeps contacts dead by, and asks off but not blocked."""
    for one in case.stated:
        if one.expression is None or not one.touches:
            continue
        useful = {name for touch in one.touches for name in killers(case.wiring, touch)}
        told = facts(one.expression)
        blocked = {f.name for f in told if f.state == "blocked"}
        names = [f.name for f in told if f.state == "off" and f.name in useful - blocked]
        if names:
            first = one.touches[0]
            listed = ", ".join(dict.fromkeys(names))
            yield Finding(
                "inhibit-off-only",
                Severity.NOTE,
                one.address.child("requires"),
                f"inhibit {one.id} requires {listed} off, not blocked",
                expected="the switch open and its close command blocked",
                difference=f"{one.id} still holds where a command could close {listed}",
                way_out=" and ".join(f"{name} blocked" for name in dict.fromkeys(names)),
                step=first.task.step_id,
                items=(one.id, *dict.fromkeys(names)),
                source=INHIBIT_PAD,
            )


def _set_after_release(case: Case, one: Stated) -> bool:
    """Return whether the step that sets an inhibit ends after the one that releases it begins."""
    mine = [e.task.step_id for e in case.trace.events if e.task.phase == one.phase]
    setting, until = one.inhibit.set_by, one.inhibit.until
    if setting not in mine or until not in mine:
        return False
    return len(mine) - 1 - mine[::-1].index(setting) > mine.index(until)


def _idle_finding(one: Stated, text: str, key: str, difference: str, way_out: str) -> Finding:
    return Finding(
        "inhibit-idle",
        Severity.WARNING,
        one.address.child(key),
        f"inhibit {one.id} {text}",
        expected="switches that stand between a feed and the contacts protected",
        difference=difference,
        way_out=way_out,
        items=(one.id,),
    )
