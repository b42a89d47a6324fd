"""Rules of the inhibits a procedure states."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from cablewalk.checks.case import Case
from cablewalk.checks.idle import idle, off_only
from cablewalk.checks.interval import watch
from cablewalk.checks.logic import always, possible
from cablewalk.checks.power import over, premise
from cablewalk.checks.release import never_released
from cablewalk.checks.rule import INHIBIT_PAD, Rule
from cablewalk.findings import Finding, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE


def _unknown(case: Case) -> Iterator[Finding]:
    for one in case.stated:
        for kind, text in one.faults:
            if kind == "unknown":
                yield Finding(
                    "inhibit-unknown-name",
                    ERROR,
                    one.address,
                    f"inhibit {one.id} cannot be judged: {text}",
                    expected="switches, people and halves of the baseline; steps, statements and "
                    "inhibits of this procedure",
                    difference="what is named there is none of these",
                    way_out="correct the name",
                    items=(one.id,),
                )


def _circle(case: Case) -> Iterator[Finding]:
    for one in case.stated:
        chains = {text for kind, text in one.faults if kind == "circle"}
        for text in sorted(chains):
            yield Finding(
                "inhibit-circle",
                ERROR,
                one.address.child("requires"),
                f"inhibit {one.id} requires itself: {text}",
                expected="inhibits that name one another in no circle",
                difference="what it requires never comes down to switches and statements",
                way_out="write out what one of them requires",
                items=(one.id,),
            )


def _contradiction(case: Case) -> Iterator[Finding]:
    for one in case.stated:
        if one.expression is None:
            continue
        can = possible(one.expression)
        if can is not False and not always(one.expression):
            continue
        yield Finding(
            "inhibit-contradiction",
            ERROR,
            one.address.child("requires"),
            f"inhibit {one.id} {'holds whatever the switches do' if can else 'can never hold'}: "
            f"{one.inhibit.requires}",
            expected="a condition that some states meet and others do not",
            difference=f"{'every' if can else 'no'} state of the switches and statements meets it",
            way_out="correct the expression",
            items=(one.id,),
        )
    yield from _against(case)


def _against(case: Case) -> Iterator[Finding]:
    """Note inhibits over one action that can each hold, but not together."""
    seen: set[tuple[int, tuple[str, ...]]] = set()
    told: set[tuple[int, tuple[str, ...]]] = set()
    for touch in case.survey.touches:
        inhibits = [one for one in over(case, touch) if one.expression is not None]
        key = (touch.task.phase, tuple(one.id for one in inhibits))
        if len(inhibits) < 2 or key in seen:
            continue
        seen.add(key)
        if possible(premise(inhibits)) is not False:
            continue
        if any(possible(premise([one])) is False for one in inhibits):
            continue
        pairs = (p for p in combinations(inhibits, 2) if possible(premise(p)) is False)
        clash = next(pairs, tuple(inhibits))
        ids = tuple(one.id for one in clash)
        if (touch.task.phase, ids) in told:
            continue
        told.add((touch.task.phase, ids))
        yield Finding(
            "inhibit-contradiction",
            ERROR,
            clash[-1].address.child("requires"),
            f"inhibits {' and '.join(ids)} can never hold together, and all are over "
            f"{touch.task.step_id}",
            expected="inhibits over one action that some states meet together",
            difference="; ".join(f"{one.id}: {one.inhibit.requires}" for one in clash),
            way_out="correct one of them, or what it protects",
            step=touch.task.step_id,
            items=ids,
        )


def _fails(case: Case) -> Iterator[Finding]:
    for one in case.stated:
        for begin, end, why in watch(case, one).gaps:
            first = one.touches[0]
            lead = one.inhibit.lead_min
            parts = [f"from {lead:g} min before {first.task.step_id}"] if lead else []
            if one.inhibit.set_by:
                parts.append(f"from the end of {one.inhibit.set_by}")
            before = f"from before {first.task.verb.replace('_', ' ')} in {first.task.step_id}"
            held = " and ".join(parts) or before
            yield Finding(
                "inhibit-fails",
                ERROR,
                one.address,
                f"inhibit {one.id} does not hold from {case.pet(begin, one.phase)} to "
                f"{case.pet(end, one.phase)}",
                expected=f"{one.inhibit.requires} {held} to {one.inhibit.until or 'its release'}",
                difference=why,
                way_out=f"have {one.inhibit.owner} set it earlier, or release it later",
                step=first.task.step_id,
                items=(one.id, *(case.id(h) for h in first.halves)),
            )


def _unverified(case: Case) -> Iterator[Finding]:
    for one in case.stated:
        missing = watch(case, one).unverified if one.owned else ()
        if missing:
            first = one.touches[0]
            verifies = "; ".join(f"verify: {{{m.replace(' ', ': ')}}}" for m in missing)
            yield Finding(
                "inhibit-unverified",
                WARNING,
                one.address,
                f"{one.inhibit.owner} has not verified the end state of inhibit {one.id}: "
                f"{', '.join(missing)}",
                expected=f"its end state verified by its owner before {first.task.step_id}",
                difference=f"{len(missing)} of what it requires not verified by then",
                way_out=f"add {verifies}, by {one.inhibit.owner}",
                step=first.task.step_id,
                items=(one.id,),
            )


_BARE = """
procedure:
  inhibits: {id: dead, requires: K1 blocked, owner: gus, until: s3}
"""
_GOOD = """
procedure:
  inhibits: {id: dead, requires: K1 blocked, owner: gus, until: s3}
steps:
- {by: gus, do: [switch_off: K1, block: K1, verify: {K1: blocked}]}
- {after: s1, do: [demate: P1, mate: {P1: J1}]}
- {by: gus, after: s2, do: [unblock: K1, switch_on: K1, verify: light]}
"""


def _with(requires: str, more: str = "") -> str:
    return _GOOD.replace("K1 blocked, owner", f"{requires}, owner", 1).replace(
        "until: s3", f"until: s3{more}", 1
    )


RULES = (
    Rule(
        "inhibit-unknown-name",
        "An inhibit names what is not there",
        ERROR,
        INHIBIT_PAD,
        "An inhibit that names no real switch, statement, step or owner protects nobody.",
        "Name switches with a state, statements of the procedure, and an owner.",
        _unknown,
        fires=_with("K9 blocked"),
        silent=_GOOD,
        waivable=False,
    ),
    Rule(
        "inhibit-circle",
        "Inhibits require one another in a circle",
        ERROR,
        INHIBIT_PAD,
        "What requires itself says nothing.",
        "Write out what one of them requires.",
        _circle,
        fires=_with("dead or K1 blocked"),
        silent=_GOOD,
        waivable=False,
    ),
    Rule(
        "inhibit-contradiction",
        "An inhibit can never hold, or always does",
        ERROR,
        INHIBIT_PAD,
        "A condition no state can meet stops the work; one that all meet protects nobody.",
        "Correct the expression.",
        _contradiction,
        fires=_with("K1 on and K1 blocked"),
        silent=_GOOD,
        waivable=False,
    ),
    Rule(
        "inhibit-fails",
        "An inhibit does not hold when it must",
        ERROR,
        INHIBIT_PAD,
        "An inhibit is an interval: it holds from before the first action it protects, by its "
        "lead time, to its named release. A gap in it is a moment nobody is protected.",
        "Set it earlier (lead_min counts), keep it up, release it after the last action.",
        _fails,
        fires=_GOOD.replace("block: K1, verify: {K1: blocked}", "switch_on: K1"),
        silent=_GOOD,
    ),
    Rule(
        "inhibit-unverified",
        "Nobody verified the end state of an inhibit",
        WARNING,
        INHIBIT_PAD,
        "A command sent is not a switch open: the owner reads the end state back before the GO.",
        "Let the owner verify each switch ('verify: {K1: blocked}') before the first action.",
        _unverified,
        fires=_GOOD.replace(", verify: {K1: blocked}", ""),
        silent=_GOOD,
    ),
    Rule(
        "inhibit-never-released",
        "An inhibit has no release, or one that comes too early",
        ERROR,
        INHIBIT_PAD,
        "Without a named release nobody knows who may power up, and when.",
        "Name the step that releases it, after the last action it protects; or 'end'.",
        never_released,
        fires=_GOOD.replace(", until: s3", ", until: s1, protects: s2"),
        silent=_GOOD,
    ),
    Rule(
        "inhibit-idle",
        "An inhibit protects nothing, or over a switch that does not matter",
        WARNING,
        INHIBIT_PAD,
        "A switch that stands before none of the contacts gives a false sense of safety.",
        "Name the switches that could make the contacts live.",
        idle,
        fires="baseline: {places: {bench: {switches: {K1: , K2: }}}, now: {off: K2}}\n"
        + _with("K1 blocked and K2 off"),
        silent=_GOOD,
    ),
    Rule(
        "inhibit-off-only",
        "An inhibit asks a switch off, and not blocked",
        NOTE,
        INHIBIT_PAD,
        "What is only off can be closed by a command; a power inhibit is the switch open and its "
        "close command blocked.",
        "Require 'K1 blocked' and block it, where the switch can be.",
        off_only,
        fires=_with("K1 off"),
        silent=_GOOD,
    ),
)
