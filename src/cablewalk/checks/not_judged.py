"""The rule of what could not be judged: no limit, no data, or a search without an end."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.left_things import ties_fitted, uncounted_bags
from cablewalk.checks.lengths import laid, way_example
from cablewalk.checks.logic import possible
from cablewalk.checks.power import over, premise, undecided
from cablewalk.checks.rule import Rule
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.change import Field

NOTE = Severity.NOTE


def _no_limit(case: Case) -> Iterator[Finding]:
    """Say which rules had something to judge and no limit to judge it by."""
    lying = list(laid(case))
    limits = case.limits
    missing = []
    if limits.touch_volts is None and any(t.live for t in case.survey.touches):
        missing.append(("touch_volts", "below how many volts contacts may be touched live"))
    if limits.inhibits is None and any(t.reach for t in case.survey.touches):
        missing.append(("inhibits", "how many independent inhibits a mate or demate needs"))
    if limits.bend_factor is None and any(x.diameter_mm for x in lying):
        missing.append(("bend_factor", "how tight a harness may be bent"))
    if limits.slack_m is None and any(x.length_m for x in lying):
        missing.append(("slack_m", "how much slack a segment needs"))
    if limits.tie_spacing_m is None and lying:
        missing.append(("tie_spacing_m", "how far apart ties may be"))
    own = case.own_cycle_limits
    mated = [
        half
        for half in case.wiring.ids("half")
        if case.end.count[half] > case.trace.start.count[half] and half not in own
    ]
    if limits.mate_cycles is None and mated:
        missing.append(("mate_cycles", "how often a half may be mated"))
    for key, text in missing:
        yield Finding(
            "not-judged",
            NOTE,
            Address(0, ("limits",)),
            f"nothing says {text}",
            expected="the value and its source: there is no default",
            difference="not given, so what it limits was not judged",
            way_out=f"limits: {{{key}: {{value: …, source: …}}}}",
            items=(key,),
        )


def _missing(
    rule: str, what: str, names: Iterable[str], key: str, way_out: str
) -> Iterator[Finding]:
    """Say what a rule lacks of these names, if there are any."""
    items = tuple(dict.fromkeys(names))
    if items:
        yield Finding(
            "not-judged",
            NOTE,
            Address(0, (key,)),
            f"{rule} cannot be judged: nothing says {what} {', '.join(items)}",
            expected="what the rule is judged by",
            difference=f"{len(items)} not judged",
            way_out=way_out,
            items=(rule, *items),
        )


def _no_data(case: Case) -> Iterator[Finding]:
    """Say of which items the document lacks what a given limit is held against."""
    lying, limits = list(laid(case)), case.limits
    if limits.slack_m is not None:
        bare = (case.id(x.item) for x in lying if x.length_m is None)
        yield from _missing(
            "segment-short", "the length of", bare, "harnesses", "length_m of the segment"
        )
    if limits.bend_factor is not None:
        bare = (case.id(x.item) for x in lying if x.diameter_mm is None)
        yield from _missing(
            "bend-tight", "the diameter of", bare, "harnesses", "diameter_mm of the harness"
        )
        paths = (case.id(p) for x in lying for p in x.paths if case.id(p) not in limits.bends_mm)
        yield from _missing(
            "bend-tight", "the tightest bend of", paths, "limits", "limits: {bends_mm: {PATH: …}}"
        )
    yield from _missing(
        "holds-too-much",
        "how much can be held by",
        _holders(case),
        "people",
        "can_hold of the person",
    )
    bags = uncounted_bags(case)
    if len(ties_fitted(case)) > sum(bag.ties for bag in case.baseline.bags.values()):
        yield from _missing(
            "ties-short", "how many ties are in", bags, "bags", "bags: {BAG: {ties: …}}"
        )


def _holders(case: Case) -> Iterator[str]:
    """Yield the people who take something in hand and have no limit."""
    for event in case.trace.events:
        for change in event.changes:
            taker = change.new
            if change.field is Field.LINK and isinstance(taker, int) and taker >= 0:
                kind = case.wiring.items[taker]
                hands = kind.kind == "person" and kind.role in ("outside", "inside")
                if hands and taker not in case.wiring.can_hold:
                    yield case.id(taker)


def _no_end(case: Case) -> Iterator[Finding]:
    """Say which inhibits have so many alternatives that the search gave up."""
    told: set[tuple[str, ...]] = set()
    for touch in case.survey.touches:
        inhibits = [one for one in over(case, touch) if one.expression is not None]
        ids = tuple(one.id for one in inhibits)
        if not ids or ids in told:
            continue
        if possible(premise(inhibits)) is None or undecided(case, touch):
            told.add(ids)
            yield Finding(
                "not-judged",
                NOTE,
                inhibits[0].address.child("requires"),
                f"whether inhibit {' with '.join(ids)} is enough for {touch.task.step_id} was not "
                "found out: it has too many alternatives",
                expected="an expression whose states can be tried",
                difference="the search gave up: it is neither shown enough nor shown wanting",
                way_out="write it with fewer alternatives",
                step=touch.task.step_id,
                items=ids,
            )


def _judge(case: Case) -> Iterator[Finding]:
    yield from _no_limit(case)
    yield from _no_data(case)
    yield from _no_end(case)


_RULE = "source: example rule"

RULES = (
    Rule(
        "not-judged",
        "A limit or what it is held against is not given, so a rule could not judge",
        NOTE,
        "design: safety thresholds have no silent default",
        "A rule that is silent for want of a limit must not look like a rule that found nothing.",
        "Give the value and its source under 'limits' in the baseline, or accept the note.",
        _judge,
        fires=way_example("{}"),
        silent=way_example(
            "{bends_mm: {way: 100}, "
            + ", ".join(
                f"{key}: {{value: 9, {_RULE}}}"
                for key in ("slack_m", "bend_factor", "tie_spacing_m")
            )
            + "}"
        ),
    ),
)
