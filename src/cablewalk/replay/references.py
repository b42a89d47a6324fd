"""Every id a procedure uses, checked against the baseline before anything is replayed."""

from __future__ import annotations

from cablewalk.documents.actions import Action
from cablewalk.documents.procedure import Procedure
from cablewalk.files.wording import spoken
from cablewalk.findings import Address, Findings, nearest
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.act import INSPECTED
from cablewalk.replay.standing import states_of, subject
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.schedule.tasks import Plan

_LEGS = ("harness", "leg")
_WHOLE = ("cover", "unit", "panel")
_HELD = (*_LEGS, "cap", "bag", *_WHOLE)
_KINDS: dict[str, tuple[tuple[str, ...], ...]] = {
    **dict.fromkeys(("mate", "engage", "seat", "park"), (("half",), ("half",))),
    **dict.fromkeys(("lock", "demate"), (("half",),)),
    "fit_cap": (("cap",), ("half",)),
    "remove_cap": (("cap",),),
    "tether": (("cap",),),
    "pick_up": (("cap", *_LEGS, *_WHOLE),),
    "let_go": ((*_LEGS, *_WHOLE),),
    "take": (("cap", *_LEGS),),
    "pack": (("cap", *_LEGS), ("bag",)),
    **dict.fromkeys(("pull_aside", "restore", "restrain"), (_LEGS,)),
    "stow": ((*_LEGS, *_WHOLE), ("place", "bag")),
    **dict.fromkeys(
        ("release", "fasten", "open", "close", "remove_cover", "fit_cover"), (("cover",),)
    ),
    **dict.fromkeys(("switch_off", "switch_on", "block", "unblock", "reset"), (("switch",),)),
    **dict.fromkeys(("carry", "leave"), (("bag",),)),
    "hand_over": (_HELD, ("person",)),
    **dict.fromkeys(("tie", "cut_tie"), (("segment",), ("tie point",))),
    "route": (("segment", "leg"), ("path",)),
    **dict.fromkeys(("install", "remove"), (("unit", "panel"),)),
    "inspect": (INSPECTED,),
}
_SERVICE_STATES = ("up", "reduced", "down", "awaited", "retired", "unproven")


class _Checker:
    def __init__(
        self, wiring: Wiring, findings: Findings, procedure: Procedure, strings: bool
    ) -> None:
        self.wiring = wiring
        self.findings = findings
        self.roles = procedure.roles
        self.statements = frozenset(procedure.statements)
        several = (s.strings for s in wiring.services if len(s.strings) > 1) if strings else ()
        self.strings = frozenset(wiring.strings[s].id for own in several for s in own)
        """Strings that may be said to be found down, or up."""

    def check(self, name: str, kinds: tuple[str, ...], address: Address, *below: str) -> None:
        """Note an id that is not of one of these kinds, named at an address or below it."""
        wiring = self.wiring
        if any(wiring.item(kind, name) != NONE for kind in kinds):
            return
        item = wiring.by_id.get(name, NONE)
        known = [wiring.items[n].id for n in wiring.ids(*kinds)]
        wanted = " or ".join(kinds)
        self.findings.error(
            "unknown-id",
            address.child(*below),
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

    def states(
        self, states: dict[str, str], address: Address, statements: frozenset[str] = frozenset()
    ) -> None:
        """Note unknown items and state words; ``statements`` are what may be vouched for."""
        wiring = self.wiring
        for name, words in states.items():
            at = address.child(name)
            first = (words or "").split()[0] if (words or "").split() else ""
            legal: tuple[str, ...]
            if name in statements:
                legal = ("true", "false")
            elif name in wiring.service_by_id:
                legal = _SERVICE_STATES
            elif name in self.strings and address.path[-1:] == ("found",):
                legal = ("up", "down")
            else:
                item = subject(wiring, name, words or "")
                if item == NONE:
                    item = wiring.by_id.get(name, NONE)
                if item == NONE:
                    known = [*wiring.by_id, *wiring.service_by_id, *self.strings]
                    self.findings.error(
                        "unknown-id",
                        at,
                        f"there is no item or service {name}",
                        expected="the id of an item or a service",
                        way_out=nearest(name, known),
                    )
                    continue
                legal = states_of(wiring, item)
                leg = wiring.leg_of.get(item, NONE)
                if leg != NONE:
                    legal = (*legal, *states_of(wiring, leg))
            self._partner(words, at)
            if first not in legal:
                self.findings.error(
                    "unknown-state",
                    at,
                    f"{name} cannot be {words!r}"
                    + ("" if legal else f": a {wiring.items[item].kind} has no states"),
                    expected=" or ".join(legal) or "the id of an item that has states",
                    difference=self._of_others(name, first),
                    way_out=_meant(first, legal),
                )

    def _of_others(self, name: str, word: str) -> str:
        """Return what ``name`` is and what else a state word is said of, if of anything."""
        machines = [kind for kind, machine in COMPILED.items() if word in machine.states]
        item = self.wiring.by_id.get(name, NONE)
        if not machines or item == NONE:
            return ""
        kinds = " or ".join(f"a {kind}" for kind in machines)
        return f"that is said of {kinds}, and {name} is a {self.wiring.items[item].kind}"

    def _partner(self, words: str, address: Address) -> None:
        """Note a second word that names nothing there is."""
        for word in (words or "").split()[1:2]:
            known = {*self.wiring.by_id, *self.wiring.service_by_id, "unproven"}
            if not word.isdigit() and word not in known:
                self.findings.error(
                    "unknown-id",
                    address,
                    f"there is no item {word}",
                    expected="the id of what it is mated with, fitted to, held by or kept in",
                    way_out=nearest(word, list(self.wiring.by_id)),
                )

    def action(self, verb: str, action: Action, address: Address) -> None:
        """Check what one action, of this verb, names."""
        argument = getattr(action, verb)
        if verb == "walk":
            target = self.roles.get(argument.to, argument.to)
            self.check(target, ("place", "person"), address, verb)
        elif verb in ("verify", "expect", "found"):
            at = address.child(verb)
            if isinstance(argument, str):
                self.service(argument, at)
            else:
                self.states(argument, at, self.statements if verb == "verify" else frozenset())
        elif verb == "retire":
            self.service(argument, address.child(verb))
        elif verb in _KINDS:
            kinds = _KINDS[verb]
            if isinstance(argument, str):
                self.check(argument, kinds[0], address, verb)
                return
            for name, value in argument.items():
                self.check(name, kinds[0], address, verb, name)
                if len(kinds) > 1:
                    for other in (value,) if isinstance(value, str) else value:
                        self.check(self.roles.get(other, other), kinds[1], address, verb, name)


def _meant(word: str, legal: tuple[str, ...]) -> str:
    """Return the state word of an item that another word may have been meant for."""
    if not legal:
        return "name another item"
    near = nearest(word, list(legal))
    return near if near.startswith("did you mean") else "write one of these, or name another item"


def _stands_in_baseline(wiring: Wiring, name: str) -> str:
    """Return what bears this id in the baseline, and where it is written."""
    item = wiring.by_id.get(name, NONE)
    if item == NONE:
        return f"the service stands at {spoken(('services', name))} there"
    entry = wiring.items[item]
    return f"the {entry.kind} stands at {spoken(entry.path)} there"


def _others(named: list[str], n: int) -> str:
    """Return where the other inhibits of the id of number ``n`` stand."""
    places = [
        spoken(("inhibits", k)) for k, name in enumerate(named) if name == named[n] and k != n
    ]
    return f"it stands at {' and '.join(places)} too"


def check_references(wiring: Wiring, plan: Plan, findings: Findings, strings: bool = False) -> None:
    """Note every id and state word of a plan that the baseline does not know.

    ``strings``: one string of a service may be found down, or up, which only a log can say.
    """
    procedure = plan.procedure
    checker = _Checker(wiring, findings, procedure, strings)
    document = Address(plan.phase + 1)
    for name in procedure.statements:
        if name in wiring.by_id or name in wiring.service_by_id:
            findings.error(
                "duplicate-id",
                document.child("statements", name),
                f"{name} names a statement here and an item or service of the baseline",
                expected="an id of its own for each statement",
                difference=_stands_in_baseline(wiring, name),
                way_out="rename the statement",
            )
    named = [inhibit.id for inhibit in procedure.inhibits]
    for n, name in enumerate(named):
        if named.count(name) > 1:
            findings.error(
                "duplicate-id",
                document.child("inhibits", n),
                f"{named.count(name)} inhibits bear the id {name}",
                expected="each inhibit id once in a procedure",
                difference=f"{_others(named, n)}: an expression that names it would mean either",
                way_out="rename all but one",
            )
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
            checker.action(task.verb, task.action, task.address)


def check_limits(plan: Plan, findings: Findings) -> None:
    """Note steps that phase limits name and that are not there: the limit would be off unseen.

    ``plan`` has all get-aheads in it.
    """
    limits = plan.procedure.phase_limits
    if limits is None:
        return
    known = [step.id for step in plan.steps]
    at = Address(plan.phase + 1).child("phase_limits")
    asked = [(limits.turn_back.step, at.child("turn_back", "step"))] if limits.turn_back else []
    for n, decision in enumerate(limits.decisions):
        asked.append((decision.step, at.child("decisions", n, "step")))
    for name, address in asked:
        if name not in known:
            findings.error(
                "unknown-id",
                address,
                f"there is no step {name}",
                expected="the id of a step of this procedure",
                way_out=nearest(name, known),
            )
