"""Rules of harnesses along their paths: length, bends, ties; and of mate cycles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.checks.case import Case
from cablewalk.checks.rule import Rule
from cablewalk.documents.harness import Harness
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration

ERROR = Severity.ERROR

BENDS = (
    "the user's factor (limits: bend_factor). NASA-STD-8739.4 7.3 has minimum/long term, x outer "
    "diameter: cable 6/10, polyimide-insulated 10/15, coax 6/10, ribbon 3/10; an agency message "
    "of 2007 says no tighter than 10 x. Editions are revised: your programme decides"
)


@dataclass(frozen=True, slots=True)
class Laid:
    """A segment laid along paths, with what its documents say of it.

    As the baseline has it, or as it lies at the end where the work laid or tied it.
    """

    item: int
    length_m: float | None
    diameter_mm: float | None
    paths: tuple[int, ...]
    config: Configuration
    address: Address
    step: str | None
    found: str = ""
    """" in the baseline" for one that lies as the baseline has it."""


def laid(case: Case) -> Iterator[Laid]:
    """Yield the segments along paths: as they lie at the start, and as the work leaves them.

    One that the work ties or lays anew is yielded twice, unless it lies along the same paths:
    then what the work makes of it counts.
    """
    changed = {
        change.item
        for event in case.trace.events
        for change in event.changes
        if change.field in (Field.ALONG, Field.TIES)
    }
    start, end = case.trace.start, case.end
    for item in case.wiring.ids("segment"):
        name, _, segment = case.id(item).partition(".")
        length, diameter = sizes(case.baseline.harnesses[name], segment)
        if start.along[item] and (item not in changed or start.along[item] != end.along[item]):
            spot = ("now", "along", case.id(item))
            there = case.id(item) in case.baseline.now.along
            address = Address(0, spot if there else case.wiring.items[item].path)
            paths = start.along[item]
            yield Laid(item, length, diameter, paths, start, address, None, " in the baseline")
        if item in changed and end.along[item]:
            address, step = case.address_of(item), case.step_of(item)
            yield Laid(item, length, diameter, end.along[item], end, address, step)


def sizes(harness: Harness, segment: str) -> tuple[float | None, float | None]:
    """Return length (m) and outer diameter (mm) of a segment, where the document tells.

    A segment takes the diameter of its harness where it has none; the harness's length is that
    of its one segment only.
    """
    own = harness.segments.get(segment)
    if own is not None:
        return own.length_m, own.diameter_mm or harness.diameter_mm
    leg = harness.legs.get(segment)
    if leg is not None:
        return leg.length_m, leg.diameter_mm or harness.diameter_mm
    return harness.length_m, harness.diameter_mm


def _short(case: Case) -> Iterator[Finding]:
    slack = case.limits.slack_m
    for one in laid(case):
        if one.length_m is None:
            continue
        needed = sum(case.wiring.path_length_m[p] for p in one.paths)
        spare = one.length_m - needed
        if spare >= (slack.value if slack else 0.0):
            continue
        yield Finding(
            "segment-short",
            ERROR,
            one.address,
            f"{case.id(one.item)} is {one.length_m:g} m long, laid along "
            f"{', '.join(case.id(p) for p in one.paths)}{one.found}: {needed:g} m",
            expected=f"at least {needed:g} m"
            + (f" and {slack.value:g} m of slack ({slack.source})" if slack else ""),
            difference=f"{spare:.3g} m spare",
            way_out="another path, or a longer harness",
            step=one.step,
            items=(case.id(one.item), *(case.id(p) for p in one.paths)),
            source=slack.source if slack and spare >= 0 else "",
        )


def _bends(case: Case) -> Iterator[Finding]:
    factor = case.limits.bend_factor
    if factor is None:
        return
    for one in laid(case):
        if one.diameter_mm is None:
            continue
        least = factor.value * one.diameter_mm
        for path in one.paths:
            bend = case.limits.bends_mm.get(case.id(path))
            if bend is None or bend >= least:
                continue
            yield Finding(
                "bend-tight",
                ERROR,
                one.address,
                f"{case.id(one.item)} ({one.diameter_mm:g} mm) follows a bend of {bend:g} mm "
                f"radius on {case.id(path)}{one.found}",
                expected=f"at least {least:g} mm: {factor.value:g} x its diameter "
                f"({factor.source})",
                difference=f"{least - bend:g} mm too tight",
                way_out="another path, or a thinner harness",
                step=one.step,
                items=(case.id(one.item), case.id(path)),
                source=factor.source,
            )


def _tie_spacing(case: Case) -> Iterator[Finding]:
    """Note paths that no placing of the ties they have could satisfy.

    Segments of one harness along one path are one bundle: the ties of any of them hold all.
    """
    limit = case.limits.tie_spacing_m
    if limit is None:
        return
    for one in laid(case):
        for path in one.paths:
            bundle = case.wiring.segments_of[case.wiring.items[one.item].owner]
            ties = {t for s in bundle if path in one.config.along[s] for t in one.config.ties[s]}
            count = sum(case.wiring.point_path[t] == path for t in ties)
            length = case.wiring.path_length_m[path]
            stretch = length / (count + 1)
            if stretch <= limit.value:
                continue
            yield Finding(
                "ties-far-apart",
                Severity.WARNING,
                one.address,
                f"{case.id(one.item)} has {count} tie{'s' * (count != 1)} on the {length:g} m "
                f"of {case.id(path)}{one.found}",
                expected=f"at most {limit.value:g} m without a tie ({limit.source})",
                difference=f"at least {stretch:.3g} m hang free, wherever the ties are",
                way_out=f"tie it at more points of {case.id(path)}",
                step=one.step,
                items=(case.id(one.item), case.id(path)),
                source=limit.source,
            )


def _cycles(case: Case) -> Iterator[Finding]:
    own = case.own_cycle_limits
    general = case.limits.mate_cycles
    for half in case.wiring.ids("half"):
        if half not in case.last_task or case.end.count[half] == case.trace.start.count[half]:
            continue
        limit, source = own.get(half, (None, ""))
        if limit is None and general is not None:
            limit, source = general.value, general.source
        if limit is None or case.end.count[half] <= limit:
            continue
        count = case.end.count[half]
        yield Finding(
            "cycles-over",
            ERROR,
            case.address_of(half),
            f"{case.named(half)} will have been mated {count} times",
            expected=f"at most {limit} ({source})",
            difference=f"{count - limit} over; {count - case.trace.start.count[half]} of them in "
            "this run",
            way_out="use a saver, or replace the half",
            step=case.step_of(half),
            items=(case.id(half),),
            source=source,
        )


_WAY = """
baseline:
  places: {hatch: {}}
  paths: {way: {between: bench hatch, length_m: 4, tie_points: [t1, t2]}}
  harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: LONG, diameter_mm: 10}}
  bags: {kit: {ties: 9}}
  now: {people: {ada: bench}, bags: {kit: bench}, routed: {P1: bench, P2: bench}}
  limits: LIMITS
steps: [[route: {W1.main: way}, tie: {W1.main: t1}]]
"""


def way_example(limits: str, length: str = "5") -> str:
    """Return the example of a harness laid along a path and tied, with these limits."""
    return _WAY.replace("LIMITS", limits).replace("LONG", length)


_RULE = "source: example rule"
_CYCLES = (
    "baseline: {limits: {mate_cycles: {value: MAX, source: example rule}}}\n"
    "steps: [[demate: P1, mate: {P1: J1}]]"
)

RULES = (
    Rule(
        "segment-short",
        "A segment is too short for the paths it is laid along",
        ERROR,
        "the harness drawing's length; slack is the user's own limit (limits: slack_m)",
        "A cable that does not reach, or reaches without slack, pulls on its connectors.",
        "Lay it another way, or give it the slack.",
        _short,
        fires=way_example(f"{{slack_m: {{value: 0.5, {_RULE}}}}}", "4.2"),
        silent=way_example(f"{{slack_m: {{value: 0.5, {_RULE}}}}}"),
    ),
    Rule(
        "bend-tight",
        "A harness follows a bend tighter than the limit",
        ERROR,
        BENDS,
        "Tight bends break strands and shields, and push insulation thin.",
        "Lay it another way. The radius of a path's tightest bend stands in limits: bends_mm.",
        _bends,
        fires=way_example(f"{{bend_factor: {{value: 10, {_RULE}}}, bends_mm: {{way: 90}}}}"),
        silent=way_example(f"{{bend_factor: {{value: 10, {_RULE}}}, bends_mm: {{way: 100}}}}"),
    ),
    Rule(
        "ties-far-apart",
        "A segment hangs free over more than the limit",
        Severity.WARNING,
        "the user's own limit (limits: tie_spacing_m), with its source; no default",
        "A cable that hangs free chafes, and catches feet and tethers.",
        "Tie it at more points; places of ties between are not judged.",
        _tie_spacing,
        fires=way_example(f"{{tie_spacing_m: {{value: 1.5, {_RULE}}}}}"),
        silent=way_example(f"{{tie_spacing_m: {{value: 2, {_RULE}}}}}"),
    ),
    Rule(
        "cycles-over",
        "A half is mated more often than its limit",
        ERROR,
        "the half's own cycles_limit with cycles_source, else the user's limits: mate_cycles",
        "Worn contacts do not hold.",
        "Use a connector saver, or replace the half. Parking counts, on both halves.",
        _cycles,
        fires=_CYCLES.replace("MAX", "0"),
        silent=_CYCLES.replace("MAX", "1"),
    ),
)
