"""Rules of power at contacts: touched, exposed, switched on beside a worker."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from cablewalk.checks.case import Case
from cablewalk.checks.logic import implies, possible
from cablewalk.checks.reaching import at_stake, dead, proposal
from cablewalk.checks.rule import INHIBIT_PAD, LLIS_0579, Rule
from cablewalk.checks.stated import Stated
from cablewalk.checks.touches import Touch, barriers
from cablewalk.documents.inhibits import Every, Expression
from cablewalk.findings import Finding, Severity

ERROR, WARNING = Severity.ERROR, Severity.WARNING


def volts_limit(case: Case) -> float | None:
    """Return the volts from which a touch counts, or None: all do."""
    limit = case.limits.touch_volts
    return None if limit is None else limit.value


def over(case: Case, touch: Touch) -> list[Stated]:
    """Return the inhibits that protect a touch, those that cannot be judged too."""
    return [one for one in case.stated if any(t.position == touch.position for t in one.touches)]


def premise(inhibits: Iterable[Stated]) -> Expression:
    """Return what inhibits together require, those left out that cannot be judged."""
    return Every(tuple(one.expression for one in inhibits if one.expression is not None))


def left_alive(case: Case, touch: Touch) -> list[int]:
    """Return the feeds that could surely reach a touch although all its inhibits hold.

    Empty where the inhibits contradict one another: nothing follows from what cannot be.
    """
    return _left(case, touch, False)


def undecided(case: Case, touch: Touch) -> list[int]:
    """Return the feeds of which the search could not tell whether the inhibits keep them away."""
    return _left(case, touch, None)


def _left(case: Case, touch: Touch, answer: bool | None) -> list[int]:
    stated = premise(over(case, touch))
    return [
        feed
        for feed in at_stake(touch, volts_limit(case))
        if implies(stated, dead(case.wiring, touch, feed)) is answer
    ]


def lasting(case: Case, touch: Touch) -> str:
    """Return from when to when the contacts of a touch are at risk: as long as its action lasts."""
    task, begin = touch.task, touch.time_s
    events = case.trace.events
    later = (events[n] for n in range(touch.position, len(events)))
    end = next((e.time_s for e in later if e.task is task and not e.begins), case.trace.end_s)
    return f"from {case.pet(begin, task.phase)} to {case.pet(end, task.phase)}"


Gaps = Mapping[tuple[int, str], Sequence[tuple[int, int, str]]]
"""(phase, inhibit) to the (from, to, why) over which it does not hold."""


def verdict(case: Case, touch: Touch, gaps: Gaps) -> str:
    """Return what the inhibits stated for a touch are worth, in words; empty where none is."""
    inhibits = over(case, touch)
    if not inhibits:
        return ""
    unknown = [one.id for one in inhibits if one.expression is None]
    parts = [f"{', '.join(unknown)} cannot be judged"] if unknown else []
    if len(unknown) == len(inhibits):
        return parts[0]
    can = possible(premise(inhibits))
    if can is False:
        parts.append("cannot hold" if len(inhibits) == 1 else "cannot hold together")
    elif left_alive(case, touch):
        parts.append(f"not enough {lasting(case, touch)}")
    elif can is None or undecided(case, touch):
        parts.append("not judged: too many alternatives")
    for one in inhibits:
        for begin, end, _why in gaps[one.phase, one.id]:
            parts.append(
                f"{one.id} does not hold from {case.pet(begin, one.phase)} to "
                f"{case.pet(end, one.phase)}"
            )
    return "; ".join(parts) or "enough"


def _names(case: Case, feeds: list[int] | tuple[int, ...]) -> str:
    return ", ".join(f"{case.wiring.feeds[f].id} ({case.wiring.feeds[f].volts:g} V)" for f in feeds)


def _halves(case: Case, touch: Touch) -> str:
    return " / ".join(case.id(half) for half in touch.halves)


def _way_out(case: Case, touch: Touch, feeds: list[int], lead: str = "inhibit") -> str:
    text, beyond = proposal(case.wiring, touch, feeds)
    parts = [f"{lead}: {text}"] if text else []
    if beyond:
        parts.append(f"no switch of the baseline stops {', '.join(beyond)}")
    return "; ".join(parts)


def _no_inhibit(case: Case) -> Iterator[Finding]:
    seen: set[tuple[int, str, tuple[int, ...]]] = set()
    for touch in case.survey.touches:
        stake = at_stake(touch, volts_limit(case))
        key = (touch.task.phase, touch.task.step_id, stake)
        if not stake or set(stake) & set(touch.live) or over(case, touch) or key in seen:
            continue
        seen.add(key)
        yield Finding(
            "no-inhibit",
            WARNING,
            touch.task.address,
            f"nothing is stated that keeps {_halves(case, touch)} dead: "
            f"{_names(case, stake)} could reach the contacts",
            expected="an inhibit over every mate and demate that a feed could reach",
            difference="they are dead now, but nothing says that they must stay so",
            way_out=_way_out(case, touch, list(stake)),
            step=touch.task.step_id,
            items=tuple(case.id(h) for h in touch.halves),
        )


def _not_enough(case: Case) -> Iterator[Finding]:
    seen: set[tuple[str, ...]] = set()
    for touch in case.survey.touches:
        inhibits = [one for one in over(case, touch) if one.expression is not None]
        if not inhibits:
            continue
        alive = left_alive(case, touch)
        ids = tuple(one.id for one in inhibits)
        key = (str(touch.task.phase), touch.task.step_id, *ids, *(str(f) for f in alive))
        if not alive or key in seen:
            continue
        seen.add(key)
        yield Finding(
            "inhibit-not-enough",
            ERROR,
            inhibits[0].address.child("requires"),
            f"inhibit {' with '.join(ids)} holds and {_names(case, alive)} could still reach "
            f"{_halves(case, touch)}",
            expected="an inhibit that makes the contacts dead in every state it allows",
            difference=f"{' and '.join(one.inhibit.requires for one in inhibits)}: not enough "
            f"{lasting(case, touch)}, while the {touch.task.verb.replace('_', ' ')} lasts",
            way_out=_way_out(case, touch, alive, "add to it"),
            step=touch.task.step_id,
            items=(*ids, *(case.id(h) for h in touch.halves)),
            source=LLIS_0579,
        )


def _few(case: Case) -> Iterator[Finding]:
    limit = case.limits.inhibits
    if limit is None:
        return
    seen: set[tuple[int, str, int]] = set()
    for touch in case.survey.touches:
        for feed in at_stake(touch, volts_limit(case)):
            count = barriers(touch, case.wiring, feed)
            key = (touch.task.phase, touch.task.step_id, feed)
            if count >= limit.value or key in seen:
                continue
            seen.add(key)
            row = case.wiring.feeds[feed]
            yield Finding(
                "few-inhibits",
                ERROR,
                touch.task.address,
                f"{count} independent switch{'es' * (count != 1)} off between feed {row.id} "
                f"({row.volts:g} V) and {_halves(case, touch)}",
                expected=f"at least {limit.value} ({limit.source})",
                difference=f"{limit.value - count} too few; switches commanded through one "
                "service count once",
                way_out="switch off "
                + (", ".join(case.id(s) for s in row.switches if s not in touch.off) or "more")
                + ", or have the limit waived by name",
                step=touch.task.step_id,
                items=tuple(case.id(h) for h in touch.halves),
                source=limit.source,
            )


def _power_on(case: Case) -> Iterator[Finding]:
    for event in case.survey.power_ons:
        halves = ", ".join(case.id(h) for h in event.halves)
        workers = " and ".join(case.id(w) for w in event.workers)
        be, come = ("are", "come") if len(event.workers) > 1 else ("is", "comes")
        yield Finding(
            "power-on-at-worker",
            ERROR,
            event.task.address,
            f"{workers} {come} to where a switch-on has left bare contacts live: {halves}"
            if event.arrived
            else f"switch on makes bare contacts live where {workers} {be}: {halves}",
            expected="no bare half live where a worker is",
            difference=f"from {_names(case, event.feeds)}",
            way_out="mate or cap it first, or have the worker withdraw",
            step=event.task.step_id,
            items=(*(case.id(h) for h in event.halves), *(case.id(w) for w in event.workers)),
            source="agency EVA procedure of 2013, warnings page: stay at least 2 ft from powered, "
            "floating connectors; your programme decides",
        )


_DEAD_WORK = """
steps:
- {by: gus, do: [switch_off: K1, block: K1, verify: {K1: blocked}]}
- {after: s1, do: [demate: P1, mate: {P1: J1}]}
- {by: gus, after: s2, do: [unblock: K1, switch_on: K1, verify: light]}
"""
_STATED = _DEAD_WORK + "procedure: {inhibits: {id: dead, requires: REQ, owner: gus, until: s3}}\n"
_TWO = """
baseline:
  places: {bench: {units: {SRC: {switches: [K1, K2]}}, switches: {K1: , K2: }}}
  limits: {inhibits: {value: COUNT, source: example rule}}
  now: {on: [K1, K2]}
"""

RULES = (
    Rule(
        "no-inhibit",
        "A mate or demate that power could reach has no inhibit",
        WARNING,
        INHIBIT_PAD,
        "Dead by chance is not dead by plan: a feed whose switch somebody may close could reach "
        "the contacts, through loads too.",
        "State the inhibit proposed, with its owner and its release.",
        _no_inhibit,
        fires=_DEAD_WORK,
        silent=_STATED.replace("REQ", "K1 blocked"),
    ),
    Rule(
        "inhibit-not-enough",
        "The stated inhibit leaves the contacts within reach of power",
        ERROR,
        LLIS_0579,
        "Among the states the inhibit allows there is one in which the contacts are live: "
        "another feed, a battery, an alternative that kills nothing.",
        "Require every switch proposed; a store without a switch must be disconnected first.",
        _not_enough,
        fires=_STATED.replace("REQ", "K1 blocked or joint-locked").replace(
            "procedure: {", "procedure: {statements: {joint-locked: the joint is locked}, "
        ),
        silent=_STATED.replace("REQ", "K1 blocked"),
    ),
    Rule(
        "few-inhibits",
        "Fewer independent inhibits than the programme asks for",
        ERROR,
        "the user's own limit (limits: inhibits), with its source; no default",
        "One switch may fail closed; the programme says how many must stand in series.",
        "Switch off further switches in series. Switches commanded through one service fail "
        "together and count once.",
        _few,
        fires=_TWO.replace("COUNT", "2") + _DEAD_WORK,
        silent=_TWO.replace("COUNT", "1") + _DEAD_WORK,
    ),
    Rule(
        "power-on-at-worker",
        "A switch-on makes bare contacts live beside a worker",
        ERROR,
        "agency EVA procedure of 2013, warnings page (2 ft from powered connectors)",
        "A switch-on is judged like a mate: what it makes live, what is bare, who is there.",
        "Mate or cap the half first, or let the worker withdraw before the switch-on.",
        _power_on,
        fires="steps: [[demate: P1], {by: gus, after: s1, do: [switch_off: K1, switch_on: K1]}]",
        silent="steps: [[demate: P1, fit_cap: {CJ1: J1}],"
        " {by: gus, after: s1, do: [switch_off: K1, switch_on: K1]}]",
    ),
)
