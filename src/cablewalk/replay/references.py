"""Every id a procedure uses, checked against the baseline before anything is replayed."""

from __future__ import annotations

from cablewalk.documents.actions import Action
from cablewalk.findings import Address, Findings
from cablewalk.replay.act import INSPECTED
from cablewalk.replay.names import nearest
from cablewalk.replay.standing import states_of, subject
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.schedule.tasks import Plan

_HELD = ("harness", "leg", "cap", "bag")
_LEGS = ("harness", "leg")
_KINDS: dict[str, tuple[tuple[str, ...], ...]] = {
    **dict.fromkeys(("mate", "engage", "seat", "park"), (("half",), ("half",))),
    **dict.fromkeys(("lock", "demate"), (("half",),)),
    "fit_cap": (("cap",), ("half",)),
    "remove_cap": (("cap",),),
    "tether": (("cap",),),
    "pick_up": (("cap", *_LEGS),),
    "take": (("cap", *_LEGS),),
    "pack": (("cap", *_LEGS), ("bag",)),
    **dict.fromkeys(("let_go", "pull_aside", "restore", "restrain"), (_LEGS,)),
    "stow": (_LEGS, ("place", "bag")),
    **dict.fromkeys(
        ("release", "fasten", "open", "close", "remove_cover", "fit_cover"), (("cover",),)
    ),
    **dict.fromkeys(("switch_off", "switch_on", "block", "unblock", "reset"), (("switch",),)),
    **dict.fromkeys(("carry", "leave"), (("bag",),)),
    "hand_over": (_HELD, ("person",)),
    **dict.fromkeys(("tie", "cut_tie"), (("segment", "leg"), ("tie point",))),
    "route": (("segment", "leg"), ("path",)),
    **dict.fromkeys(("install", "remove"), (("unit", "panel"),)),
    "inspect": (INSPECTED,),
}
_SERVICE_STATES = ("up", "reduced", "down", "awaited", "retired", "unproven")


class _Checker:
    def __init__(self, wiring: Wiring, findings: Findings, roles: dict[str, str]) -> None:
        self.wiring = wiring
        self.findings = findings
        self.roles = roles

    def check(self, name: str, kinds: tuple[str, ...], address: Address) -> None:
        """Note an id that is not of one of these kinds."""
        wiring = self.wiring
        if any(wiring.item(kind, name) != NONE for kind in kinds):
            return
        item = wiring.by_id.get(name, NONE)
        known = [wiring.items[n].id for n in wiring.ids(*kinds)]
        wanted = " or ".join(kinds)
        self.findings.error(
            "unknown-id",
            address,
            f"there is no {wanted} {name}"
            if item == NONE
            else f"{name} is a {wiring.items[item].kind}, not a {wanted}",
            expected=f"the id of a {wanted}",
            way_out=nearest(name, known),
        )

    def service(self, name: str, address: Address) -> None:
        """Note an id that names no service."""
        if name not in self.wiring.service_by_id:
            self.findings.error(
                "unknown-id",
                address,
                f"there is no service {name}",
                expected="the id of a service",
                way_out=nearest(name, list(self.wiring.service_by_id)),
            )

    def states(self, states: dict[str, str], address: Address) -> None:
        """Note unknown items and state words."""
        wiring = self.wiring
        for name, words in states.items():
            at = address.child(name)
            first = (words or "").split()[0] if (words or "").split() else ""
            if name in wiring.service_by_id:
                legal: tuple[str, ...] = _SERVICE_STATES
            else:
                item = subject(wiring, name, words or "")
                if item == NONE:
                    item = wiring.by_id.get(name, NONE)
                if item == NONE:
                    known = [*wiring.by_id, *wiring.service_by_id]
                    self.findings.error(
                        "unknown-id",
                        at,
                        f"there is no item or service {name}",
                        way_out=nearest(name, known),
                    )
                    continue
                legal = states_of(wiring, item)
                leg = wiring.leg_of.get(item, NONE)
                if leg != NONE:
                    legal = (*legal, *states_of(wiring, leg))
            if first not in legal:
                self.findings.error(
                    "unknown-state",
                    at,
                    f"{name} cannot be {words!r}",
                    expected=" or ".join(legal) or "an item that has states",
                )

    def action(self, action: Action, address: Address) -> None:
        """Check what one action names."""
        verb, argument = action.verb, action.argument
        at = address.child(verb)
        if verb == "walk":
            target = self.roles.get(argument.to, argument.to)
            self.check(target, ("place", "person"), at)
        elif verb in ("verify", "expect", "found"):
            if isinstance(argument, str):
                self.service(argument, at)
            else:
                self.states(argument, at)
        elif verb == "retire":
            self.service(argument, at)
        elif verb in _KINDS:
            kinds = _KINDS[verb]
            if isinstance(argument, str):
                self.check(argument, kinds[0], at)
                return
            for name, value in argument.items():
                self.check(name, kinds[0], at.child(name))
                if len(kinds) > 1:
                    for other in (value,) if isinstance(value, str) else value:
                        self.check(self.roles.get(other, other), kinds[1], at.child(name))


def check_references(wiring: Wiring, plan: Plan, findings: Findings) -> None:
    """Note every id and state word of a plan that the baseline does not know."""
    procedure = plan.procedure
    checker = _Checker(wiring, findings, dict(procedure.roles))
    document = Address(plan.phase + 1)
    for n, name in enumerate(procedure.establishes):
        checker.service(name, document.child("establishes", n))
    for name in procedure.planned_outages:
        checker.service(name, document.child("planned_outages", name))
    for n, ahead in enumerate(procedure.get_aheads):
        checker.states(ahead.when, document.child("get_aheads", n, "when"))
    for step in plan.steps:
        for n, name in enumerate(step.document.loses):
            checker.service(name, step.address.child("loses", n))
        for task in step.tasks:
            checker.action(task.action, task.address)
