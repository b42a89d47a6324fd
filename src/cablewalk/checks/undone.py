"""Rules of procedures in a row: one that undoes another, one that assumes what is not so."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.rule import LLIS_1224, Rule
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE

NOTE, WARNING = Severity.NOTE, Severity.WARNING
Stand = tuple[object, ...]
"""What of an item counts as the same."""

_PUT = ("half", "unit", "panel")
"""A cap goes with its half: taken off for another cable, it undoes nothing."""


def _stands(case: Case, config: Configuration) -> dict[int, Stand]:
    """Return how each item stands that one procedure can set and another put back.

    Of a switch only whether it is blocked: on and off is what a procedure works with. Of a
    segment the paths it is laid along.
    """
    wiring = case.wiring
    found: dict[int, Stand] = {
        item: (config.state[item], config.link[item]) for item in wiring.ids(*_PUT)
    }
    found |= {s: (config.state_name(s) == "blocked",) for s in wiring.ids("switch")}
    found |= {s: config.along[s] for s in wiring.ids("segment")}
    return found


def _undone(case: Case) -> Iterator[Finding]:
    """Note items that a later phase puts back to where they were before an earlier phase."""
    phases = [-1]
    stands = [_stands(case, case.trace.start)]
    for phase, config in case.phase_ends():
        phases.append(phase)
        stands.append(_stands(case, config))
    told: set[int] = set()
    for later in range(2, len(stands)):
        for item, now in stands[later].items():
            if now == stands[later - 1][item] or item in told:
                continue
            for earlier in range(later - 1, 0, -1):
                if stands[earlier - 1][item] == now != stands[earlier][item]:
                    mate = now[1] if case.wiring.items[item].kind in _PUT else NONE
                    assert isinstance(mate, int)
                    told |= {item, mate}
                    yield _finding(case, item, mate, now, (phases[earlier], phases[later]))
                    break


def _finding(case: Case, item: int, mate: int, now: Stand, phases: tuple[int, int]) -> Finding:
    one, two = (case.trace.phases[n].plan.procedure for n in phases)
    kind = case.wiring.items[item].kind
    if kind == "switch":
        back = "blocked" if now[0] else "not blocked"
    elif kind == "segment":
        paths = ", ".join(case.id(path) for path in now if isinstance(path, int))
        back = f"its way along {paths}" if paths else "no path"
    else:
        assert isinstance(now[0], int)
        back = case.state_words(now[0], item)
        back += f" {case.named(mate)}" if mate != NONE else ""
    # A block that is lifted by a procedure written for what the other leaves is its release.
    meant = kind == "switch" and two.assumes == one.procedure
    event = next(
        e
        for e in reversed(case.trace.events)
        if e.task.phase == phases[1] and any(change.item == item for change in e.changes)
    )
    return Finding(
        "undone-later",
        NOTE if meant else WARNING,
        event.task.address,
        f"{two.procedure} puts {case.named(item)} back to {back}, as it was before {one.procedure}",
        expected="a later procedure builds on an earlier one",
        difference=f"what {one.procedure} did to {case.id(item)} is undone"
        + (f", by a procedure that assumes {one.procedure}" if meant else ""),
        way_out="none needed where that is its release"
        if meant
        else "leave it out of one of the two, or waive this with the reason",
        step=event.task.step_id,
        items=(case.id(item), *((case.id(mate),) if mate != NONE else ())),
    )


def _assumed(case: Case) -> Iterator[Finding]:
    """Note procedures written for what one before leaves, where part of that could not be done.

    That a procedure names another as the one before is found as the documents are read.
    """
    phases = case.trace.phases
    for phase in range(1, len(phases)):
        one, two = (phases[n].plan.procedure for n in (phase - 1, phase))
        skipped = [r for r in case.trace.refused if r.task.phase < phase]
        if two.assumes != one.procedure or not skipped:
            continue
        deeds = dict.fromkeys(
            f"{r.task.verb.replace('_', ' ')} in {r.task.step_id}" for r in skipped
        )
        yield Finding(
            "assumes-another",
            WARNING,
            Address(phase + 1, ("assumes",)),
            f"{two.procedure} assumes {one.procedure}, and not all before it can be done: "
            f"{', '.join(deeds)}",
            expected=f"the configuration that {one.procedure} is to leave",
            difference=f"{len(skipped)} action{'s' * (len(skipped) != 1)} before it not done",
            way_out="put right what is refused before it",
            items=(two.procedure,),
            because_of=skipped[0].because_of or skipped[0].task.step_id,
        )


_THEN = """
then:
  cablewalk: 1
  procedure: back
  minutes: 1
  gap_min: 60
  planned_outages: {light: the example works on it}
  steps: STEPS
"""

RULES = (
    Rule(
        "assumes-another",
        "A phase starts from another configuration than it assumes",
        WARNING,
        LLIS_1224,
        "A procedure written for another start may do harm although each step is right. Names "
        "are compared: that the one before, or the baseline, still says what it said when this "
        "one was written is not.",
        "Give the documents in the order they were written for, put right what is refused before "
        "it, or correct 'assumes'.",
        _assumed,
        fires="steps: [[mate: {P1: J1}]]"
        + _THEN.replace("steps: STEPS", "assumes: work\n  steps: [[wait: 1]]"),
        silent="steps: [[wait: 1]]"
        + _THEN.replace("steps: STEPS", "assumes: work\n  steps: [[wait: 1]]"),
    ),
    Rule(
        "undone-later",
        "A later procedure undoes an earlier one",
        WARNING,
        LLIS_1224,
        "Two documents, each valid by itself, that work against one another.",
        "Take it out of one, or waive it with the reason.",
        _undone,
        fires="steps: [[demate: P1, fit_cap: {CJ1: J1}]]"
        + _THEN.replace("STEPS", "[[remove_cap: CJ1, mate: {P1: J1}]]"),
        silent="steps: [[demate: P1, fit_cap: {CJ1: J1}]]"
        + _THEN.replace("STEPS", "[[fit_cap: {C1: P1}]]"),
    ),
)
