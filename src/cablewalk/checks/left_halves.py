"""Rules of halves and caps as the work leaves them."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.rule import CAPS, LLIS_1619, PRACTICE, Rule
from cablewalk.continuity.graph import BARE, PART_ENGAGED
from cablewalk.findings import Finding, Severity
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.change import Field
from cablewalk.replay.wiring import NONE

ERROR, WARNING = Severity.ERROR, Severity.WARNING
_UNVERIFIED = COMPILED["half"].state_index["unverified"]
_LOST = COMPILED["cap"].state_index["lost"]


def _halves_in(case: Case, state: int) -> Iterator[int]:
    """Yield the halves that some action altered and that end in a state."""
    for half in case.wiring.ids("half"):
        if case.end.state[half] == state and half in case.last_task:
            yield half


def _bare(case: Case) -> Iterator[Finding]:
    wiring = case.wiring
    for half in case.wiring.ids("half"):
        if case.end.state[half] != BARE:
            continue
        # A half that came with hardware installed in the work is the work's to protect.
        cause = half if half in case.last_task else _came_with(case, half)
        if cause == NONE:
            continue
        leg = wiring.leg_of.get(half, NONE)
        if wiring.items[half].role == "parking":
            continue
        if leg != NONE and case.end.state_name(leg) == "packed":
            continue
        cap = wiring.cap_of.get(half, NONE)
        yield Finding(
            "bare-at-end",
            WARNING,
            case.address_of(cause),
            f"{case.named(half)} is left bare",
            expected="every unmated half capped at the end",
            difference=f"its cap {case.id(cap)} is not on it"
            if cap != NONE
            else "it has no cap of its own",
            way_out=f"fit_cap: {{{case.id(cap)}: {case.id(half)}}}"
            if cap != NONE
            else "mate it, park it, or give it a cap",
            step=case.step_of(cause),
            items=(case.id(half),),
            source=CAPS,
        )


def _came_with(case: Case, half: int) -> int:
    """Return the unit or panel, installed by the work, that carries a half, or NONE."""
    owner = case.wiring.items[half].owner
    if owner == NONE or owner not in case.last_task:
        return NONE
    installed = case.end.state_name(owner) == "installed"
    return owner if installed and case.trace.start.state_name(owner) != "installed" else NONE


def _part_engaged(case: Case) -> Iterator[Finding]:
    told: set[int] = set()
    for half in _halves_in(case, PART_ENGAGED):
        mate = case.end.link[half]
        if half in told:
            continue
        told.add(mate)
        yield Finding(
            "part-engaged-at-end",
            ERROR,
            case.address_of(half),
            f"{case.named(half)} is left part-engaged with {case.named(mate)}: each contact may "
            "touch or not",
            expected="mated with its lock verified, or demated and capped",
            difference="it is neither: its contacts count as whichever is worse",
            way_out=f"lock or demate {case.id(half)}",
            step=case.step_of(half),
            items=(case.id(half), case.id(mate)),
        )


def _unlocked(case: Case) -> Iterator[Finding]:
    told: set[int] = set()
    for half in _halves_in(case, _UNVERIFIED):
        mate = case.end.link[half]
        if half in told:
            continue
        told.add(mate)
        yield Finding(
            "lock-unverified-at-end",
            WARNING,
            case.address_of(half),
            f"{case.named(half)} is seated in {case.named(mate)}, its lock never verified",
            expected="the lock of every mate verified",
            difference="seated is not locked: the mate counts as doubtful",
            way_out=f"lock: {case.id(half)}",
            step=case.step_of(half),
            items=(case.id(half), case.id(mate)),
            source=LLIS_1619,
        )


def _cap_lost(case: Case) -> Iterator[Finding]:
    for _position, event, _config in case.walk():
        for change in event.changes:
            lost = change.field is Field.STATE and change.new == _LOST
            if lost and case.wiring.items[change.item].kind == "cap":
                back = case.end.state[change.item] != _LOST
                yield Finding(
                    "cap-lost",
                    WARNING if back else ERROR,
                    event.task.address,
                    f"the cap {case.named(change.item)} is lost"
                    + (", and found again later" if back else " and is not found again"),
                    expected="every cap fitted, held, tethered or packed",
                    difference="the half it belongs to was without it from then"
                    if back
                    else "one cap is missing at the end",
                    way_out="use a tethered cap, or pack it at once",
                    step=event.task.step_id,
                    items=(case.id(change.item),),
                )


def _cap_held(case: Case) -> Iterator[Finding]:
    for cap in case.wiring.ids("cap"):
        if case.end.state_name(cap) == "held" and cap in case.last_task:
            yield Finding(
                "cap-in-hand-at-end",
                WARNING,
                case.address_of(cap),
                f"{case.id(case.end.link[cap])} still holds the cap {case.named(cap)}",
                expected="every cap fitted, tethered or packed at the end",
                difference="it is in a hand, and on no half, tether or bag",
                way_out=f"fit_cap, tether or pack {case.id(cap)}",
                step=case.step_of(cap),
                items=(case.id(cap),),
            )


RULES = (
    Rule(
        "bare-at-end",
        "A half is left bare",
        WARNING,
        CAPS,
        "Bare contacts gather dirt and damage, and the next mate suffers.",
        "Cap it, mate it or park it.",
        _bare,
        fires="steps: [[demate: P1, fit_cap: {CJ1: J1}]]",
        silent="steps: [[demate: P1, fit_cap: {CJ1: J1}, fit_cap: {C1: P1}]]",
    ),
    Rule(
        "part-engaged-at-end",
        "A half is left halfway connected",
        ERROR,
        "mission report of 2012: a cable 'halfway connected' when time ran out",
        "Contacts may touch or not, and side loads bend pins: neither made nor open.",
        "Finish the mate or take it apart before leaving.",
        _part_engaged,
        fires="steps: [[demate: P1, engage: {P1: J1}]]",
        silent="steps: [[demate: P1, engage: {P1: J1}, mate: {P1: J1}]]",
    ),
    Rule(
        "lock-unverified-at-end",
        "The lock of a mate was never verified",
        WARNING,
        LLIS_1619,
        "A connector in the log as mated was not: only a verified lock tells.",
        "Verify the lock ('lock: P1').",
        _unlocked,
        fires="steps: [[demate: P1, seat: {P1: J1}]]",
        silent="steps: [[demate: P1, seat: {P1: J1}, lock: P1]]",
    ),
    Rule(
        "cap-lost",
        "A cap is lost",
        ERROR,
        "mission report STS-100 (2001): a connector cap drifted off and was never found",
        "A drifting cap is debris, and a half without its cap stays open.",
        "Tether caps; account for each at ingress.",
        _cap_lost,
        fires="steps: [[{found: {CJ1: lost}, reason: it drifted off}]]",
        silent="steps: [[{found: {CJ1: tethered J1}, reason: seen}]]",
    ),
    Rule(
        "cap-in-hand-at-end",
        "A worker still holds a cap at the end",
        WARNING,
        PRACTICE,
        "What is in hand at ingress is easily let go.",
        "Fit, tether or pack it.",
        _cap_held,
        fires="steps: [[demate: P1, pick_up: C1]]",
        silent="steps: [[demate: P1, pick_up: C1, fit_cap: {C1: P1}]]",
    ),
)
