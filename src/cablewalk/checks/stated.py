"""Stated inhibits: what the procedures say, resolved against the baseline."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from cablewalk.checks.touches import Touch
from cablewalk.documents.inhibits import Every, Expression, Fact, Inhibit, Not, Some, facts, parse
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Address
from cablewalk.replay.wiring import NONE, Wiring

if TYPE_CHECKING:
    from cablewalk.checks.case import Case

END = "end"
"""As ``until``: the inhibit holds to the end of the phase."""


@dataclass(slots=True)
class Stated:
    """One inhibit of one phase.

    ``expression`` is None where what it requires cannot be judged; a wrong owner, step or half
    leaves it to be judged as far as it goes.
    """

    inhibit: Inhibit
    phase: int
    address: Address
    expression: Expression | None
    faults: list[tuple[str, str]] = field(default_factory=list)
    """(``unknown`` or ``circle``, what is wrong) of the document."""
    owned: bool = True
    """Whether its owner is a person or role that is there."""
    touches: list[Touch] = field(default_factory=list)
    """What it protects, of what was replayed."""
    start: int = NONE
    """Position of the event whose after-state is the first that must hold; NONE: the start."""
    stop: int = 0
    """Position of the first event that need no longer hold."""

    @property
    def id(self) -> str:
        """The id of the inhibit."""
        return self.inhibit.id


def stated(case: Case) -> list[Stated]:
    """Return every inhibit of the phases replayed, with what it protects and its interval."""
    found = []
    for phase, timed in enumerate(case.trace.phases):
        procedure = timed.plan.procedure
        for n, inhibit in enumerate(procedure.inhibits):
            address = Address(phase + 1, ("inhibits", n))
            one = Stated(inhibit, phase, address, None)
            if _check_requires(case.wiring, procedure, one):
                one.expression = _expanded(case.wiring, procedure, inhibit, one, ())
            _check_names(case.wiring, procedure, one)
            _place(case, one)
            found.append(one)
    return found


def _check_requires(wiring: Wiring, procedure: Procedure, one: Stated) -> bool:
    """Return whether all that an inhibit requires is there."""
    inhibit = one.inhibit
    others = {i.id for i in procedure.inhibits}
    for fact in facts(parse(inhibit.requires)):
        if fact.state:
            if wiring.item("switch", fact.name) == NONE:
                one.faults.append(("unknown", f"there is no switch {fact.name}"))
        elif fact.name not in procedure.statements and fact.name not in others:
            switch = wiring.item("switch", fact.name) != NONE
            hint = f"say its state, as in '{fact.name} blocked'" if switch else "it is none"
            text = f"{fact.name} stands where a statement or inhibit is named: {hint}"
            one.faults.append(("unknown", text))
    return not one.faults


def _check_names(wiring: Wiring, procedure: Procedure, one: Stated) -> None:
    inhibit = one.inhibit
    owner = procedure.roles.get(inhibit.owner, inhibit.owner)
    if wiring.item("person", owner) == NONE:
        one.faults.append(("unknown", f"there is no person or role {inhibit.owner}"))
        one.owned = False
    steps = {step.id for step in procedure.steps}
    steps |= {step.id for ahead in procedure.get_aheads for step in ahead.steps}
    for key, name in (("set_by", inhibit.set_by), ("until", inhibit.until)):
        if name is not None and name not in steps and (key, name) != ("until", END):
            one.faults.append(("unknown", f"{key}: there is no step {name}"))
    for name in inhibit.protects:
        if name not in steps and wiring.item("half", name) == NONE:
            one.faults.append(("unknown", f"protects: there is no step or half {name}"))


def _expanded(
    wiring: Wiring, procedure: Procedure, inhibit: Inhibit, one: Stated, above: tuple[str, ...]
) -> Expression | None:
    """Return what an inhibit requires with the inhibits it names put in.

    None for a circle, and where an inhibit it names cannot be judged, which is told there.
    """
    if inhibit.id in above:
        chain = " → ".join((*above[above.index(inhibit.id) :], inhibit.id))
        one.faults.append(("circle", chain))
        return None
    by_id = {other.id: other for other in procedure.inhibits}

    def fill(part: Expression) -> Expression | None:
        if isinstance(part, Fact):
            if part.state:
                return None if wiring.item("switch", part.name) == NONE else part
            if part.name in procedure.statements:
                return part
            inner = by_id.get(part.name)
            if inner is None:
                return None
            return _expanded(wiring, procedure, inner, one, (*above, inhibit.id))
        if isinstance(part, Not):
            opposite = fill(part.part)
            return None if opposite is None else Not(opposite)
        inside = [fill(p) for p in part.parts]
        kept = tuple(p for p in inside if p is not None)
        if len(kept) < len(inside):
            return None
        return Every(kept) if isinstance(part, Every) else Some(kept)

    return fill(parse(inhibit.requires))


def _place(case: Case, one: Stated) -> None:
    """Find the touches an inhibit protects, and from where to where it must hold."""
    inhibit, events = one.inhibit, case.trace.events
    mine = [n for n, event in enumerate(events) if event.task.phase == one.phase]
    first, beyond = (mine[0], mine[-1] + 1) if mine else (len(events), len(events))
    set_end = [n for n in mine if events[n].task.step_id == inhibit.set_by]
    released = [n for n in mine if events[n].task.step_id == inhibit.until]
    one.stop = released[0] if released else beyond
    after = set_end[-1] if set_end else first - 1
    names = set(inhibit.protects)
    for touch in case.survey.touches:
        if touch.task.phase != one.phase:
            continue
        named = {touch.task.step_id, *(case.id(half) for half in touch.halves)}
        if names & named or (not names and after < touch.position < one.stop):
            one.touches.append(touch)
    steps = {step.id for step in case.trace.phases[one.phase].plan.procedure.steps}
    if one.touches and inhibit.until not in (None, END) and inhibit.until not in steps:
        # Its release is not there: it is judged to the last action it protects, no further.
        one.stop = 1 + max(n for n in mine if events[n].task is one.touches[-1].task)
    if one.touches:
        lead_s = round(inhibit.lead_min * 60)
        begins = one.touches[0].time_s - lead_s
        one.start = one.touches[0].position - 1
        if lead_s:
            before = [n for n in mine if events[n].time_s <= begins and n <= one.start]
            one.start = before[-1] if before else first - 1
        if set_end:
            one.start = min(one.start, after)
    else:
        one.start = one.stop
