"""Whether inhibits are released, after the last action that needs them."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.power import over
from cablewalk.checks.reaching import killers
from cablewalk.checks.stated import END, Stated
from cablewalk.documents.inhibits import facts
from cablewalk.findings import Finding, Severity

ERROR, WARNING = Severity.ERROR, Severity.WARNING


def never_released(case: Case) -> Iterator[Finding]:
    """Note inhibits without a release, released too early, or still set after it."""
    for one in case.stated:
        if one.faults:
            continue
        until = one.inhibit.until
        events = case.trace.events
        reached = until == END or any(
            e.task.step_id == until and e.task.phase == one.phase for e in events
        )
        early = reached and until is not None and _early(case, one)
        if early:
            text = f"is released by {until} while {early} still needs it"
        elif reached and until is not None:
            left = [] if until == END else _left_blocked(case, one)
            if not left:
                continue
            text = f"is released by {until}, and still {' and '.join(left)} at the end"
        else:
            text = "is never released: " + (
                "it names no step" if until is None else f"nothing of {until} was done"
            )
        yield Finding(
            "inhibit-never-released",
            ERROR if early else WARNING,
            one.address,
            f"inhibit {one.id} {text}",
            expected="a named release after the last action it protects",
            difference="released too early: " + early + " is unprotected"
            if early
            else "nobody is told when the power may come back",
            way_out="until: the step that releases it, or 'end'",
            items=(one.id,),
        )


def _early(case: Case, one: Stated) -> str:
    """Return the step that still needs an inhibit when its release begins, or nothing.

    Without ``protects`` that is the releasing step itself, where it mates or demates what the
    inhibit's own switches keep dead and no other inhibit does.
    """
    if one.touches and one.touches[-1].position >= one.stop:
        return one.touches[-1].task.step_id
    if one.inhibit.protects or one.expression is None:
        return ""
    names = {fact.name for fact in facts(one.expression) if fact.state}
    for touch in case.survey.touches:
        inside = touch.task.phase == one.phase and touch.task.step_id == one.inhibit.until
        if inside and not over(case, touch) and names & killers(case.wiring, touch):
            return touch.task.step_id
    return ""


def _left_blocked(case: Case, one: Stated) -> list[str]:
    """Return the switches that the work blocked for an inhibit and that are so at the end.

    Those that another inhibit holds to the end of its phase are meant to be.
    """
    if one.expression is None:
        return []
    meant = {
        fact.name
        for other in case.stated
        if other.inhibit.until == END and other.expression is not None
        for fact in facts(other.expression)
    }
    start = case.trace.start
    names = dict.fromkeys(f.name for f in facts(one.expression) if f.state and f.name not in meant)
    found = []
    for name in names:
        switch = case.wiring.by_id[name]
        if case.end.state_name(switch) == "blocked" != start.state_name(switch):
            found.append(f"{name} blocked")
    return found
