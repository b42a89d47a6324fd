"""Rules of legs, covers, bags and ties as the work leaves them."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.rule import PRACTICE, Rule
from cablewalk.findings import Finding, Severity
from cablewalk.replay.wiring import NONE
from cablewalk.walk.trace import Event

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE
_UNSETTLED = {
    "loose": "held by nothing",
    "in_hand": "still in hand",
    "pulled_aside": "still pulled aside",
}


def _legs(case: Case) -> Iterator[Finding]:
    for leg in case.wiring.ids("leg"):
        words = _UNSETTLED.get(case.end.state_name(leg))
        if words is None or leg not in case.last_task:
            continue
        yield Finding(
            "leg-loose-at-end",
            WARNING,
            case.address_of(leg),
            f"the leg {case.named(leg)} is {words}",
            expected="every leg packed, restrained, routed or stowed",
            difference="it is where it may float, snag or be stepped on",
            way_out="restore, route, restrain, stow or pack it",
            step=case.step_of(leg),
            items=(case.id(leg),),
        )


def _covers(case: Case) -> Iterator[Finding]:
    for cover in case.wiring.ids("cover"):
        state = case.end.state_name(cover)
        if state == "fastened" or cover not in case.last_task:
            continue
        document = case.baseline.places[case.id(case.wiring.items[cover].owner)].covers
        loose = case.wiring.fasteners[cover] - case.end.count[cover]
        captive = document[case.id(cover)].captive
        yield Finding(
            "cover-left-open",
            WARNING,
            case.address_of(cover),
            f"the cover {case.named(cover)} is left {state.replace('_', ' ')}",
            expected=f"closed, with its {case.wiring.fasteners[cover]} fasteners made",
            difference=f"{loose} fastener{'s' * (loose != 1)} not made"
            + ("" if captive else ", and they are not captive: account for each"),
            way_out=f"close and fasten {case.id(cover)}",
            step=case.step_of(cover),
            items=(case.id(cover),),
        )


def _bags(case: Case) -> Iterator[Finding]:
    start = case.trace.start
    for bag in case.wiring.ids("bag"):
        document = case.baseline.bags[case.id(bag)]
        holder = case.end.link[bag]
        if holder == start.link[bag] or holder == NONE:
            continue
        carried = case.wiring.items[holder].kind == "person"
        tools = ", ".join(f"{n} {tool}" for tool, n in document.tools.items())
        inside = [case.id(n) for n, link in enumerate(case.end.link) if link == bag]
        account = (
            f"tools to account for: {tools}" if tools else "",
            f"in it: {', '.join(inside)}" if inside else "",
        )
        yield Finding(
            "bag-not-home",
            WARNING if carried else NOTE,
            case.address_of(bag),
            f"the bag {case.named(bag)} "
            + (
                f"is still carried by {case.id(holder)}"
                if carried
                else f"stays at {case.id(holder)}"
            ),
            expected=f"where it began, {case.id(start.link[bag])}, or left there on purpose",
            difference="; ".join(filter(None, account)) or "nothing listed in it",
            way_out="count tools and bags at ingress",
            step=case.step_of(bag),
            items=(case.id(bag),),
        )


def _ties(case: Case) -> Iterator[Finding]:
    """Count ties against the bags: they are used up over all phases."""
    if uncounted_bags(case):
        return  # not-judged tells it
    total = sum(bag.ties for bag in case.baseline.bags.values())
    for event in ties_fitted(case)[total : total + 1]:
        yield Finding(
            "ties-short",
            WARNING,
            event.task.address,
            f"the bags hold {total} tie{'s' * (total != 1)}, and this is tie {total + 1}",
            expected="a tie in a bag for each one fitted",
            difference="counted over all procedures of the run",
            way_out="put more ties in a bag (bags: ties)",
            step=event.task.step_id,
            items=tuple(case.baseline.bags),
        )


def ties_fitted(case: Case) -> list[Event]:
    """Return the ends of all tyings, in order of time."""
    return [e for e in case.trace.events if not e.begins and e.task.verb == "tie"]


def uncounted_bags(case: Case) -> list[str]:
    """Return what may hold ties the baseline does not count: bags, or that there are none."""
    bags = case.baseline.bags
    return [name for name, bag in bags.items() if "ties" not in bag.model_fields_set] or (
        [] if bags else ["any bag"]
    )


def _two_ends(case: Case) -> Iterator[Finding]:
    """Note workers who end the run with a harness, cover or unit in hand."""
    for item in case.wiring.ids("cover", "unit", "panel"):
        holder = case.end.link[item]
        held = holder != NONE and case.wiring.items[holder].kind == "person"
        if held and item in case.last_task:
            yield Finding(
                "held-at-end",
                WARNING,
                case.address_of(item),
                f"{case.id(holder)} still holds {case.named(item)}",
                expected="hardware installed, fitted or put down at the end",
                difference=f"both hands are not free, and {case.id(item)} has no place",
                way_out=f"fit_cover or install {case.id(item)}",
                step=case.step_of(item),
                items=(case.id(item), case.id(holder)),
            )


_COVER = "baseline: {places: {bench: {covers: {LID: {fasteners: 4, over: [J1]}}}}}\n"
_BAG = (
    "baseline: {places: {hatch: {}}, bags: {kit: {ties: 0, tools: {pliers: 2}}},\n"
    "  paths: {way: {between: bench hatch, length_m: 4, tie_points: [t1, t2]}},\n"
    "  now: {bags: {kit: bench}, people: {ada: bench}}}\n"
)

RULES = (
    Rule(
        "leg-loose-at-end",
        "A leg is left loose, in hand or pulled aside",
        WARNING,
        PRACTICE,
        "A loose leg snags, chafes and pulls on its connector.",
        "Route, restrain, stow or pack it; restore what was pulled aside.",
        _legs,
        fires="steps: [[demate: P1, fit_cap: {C1: P1}, pick_up: P1]]",
        silent="steps: [[demate: P1, fit_cap: {C1: P1}, pick_up: P1, restrain: P1]]",
    ),
    Rule(
        "cover-left-open",
        "A cover is not closed with all its fasteners",
        WARNING,
        PRACTICE,
        "What the cover protects is open; fasteners that are not captive are lost.",
        "Close it, fasten all, and account for each loose fastener.",
        _covers,
        fires=_COVER + "steps: [[release: LID, open: LID, close: LID]]",
        silent=_COVER + "steps: [[release: LID, open: LID, close: LID, fasten: LID]]",
    ),
    Rule(
        "held-at-end",
        "A worker still holds hardware at the end",
        WARNING,
        PRACTICE,
        "What is in hand at ingress has no place.",
        "Fit it, install it or put it down.",
        _two_ends,
        fires=_COVER + "steps: [[release: LID, remove_cover: LID]]",
        silent=_COVER + "steps: [[release: LID, remove_cover: LID, fit_cover: LID]]",
    ),
    Rule(
        "bag-not-home",
        "A bag ends elsewhere than it began",
        WARNING,
        PRACTICE + ": tools and bags are inventoried at egress and at ingress",
        "A bag left outside, with its tools, is found missing at the next egress.",
        "Bring it home, or read the note as the list of what stays out.",
        _bags,
        fires=_BAG + "steps: [[carry: kit]]",
        silent=_BAG + "steps: [[carry: kit, leave: kit]]",
    ),
    Rule(
        "ties-short",
        "More ties are fitted than the bags hold",
        WARNING,
        PRACTICE,
        "A worker who runs out of ties leaves a leg loose.",
        "Pack more ties.",
        _ties,
        fires=_BAG + "steps: [[route: {W1.main: way}, tie: {W1.main: t1}]]",
        silent=_BAG.replace("ties: 0", "ties: 1")
        + "steps: [[route: {W1.main: way}, tie: {W1.main: t1}]]",
    ),
)
