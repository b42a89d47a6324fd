"""From the baseline document to wiring: the items, and what belongs to what."""

from __future__ import annotations

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Half
from cablewalk.documents.harness import Harness
from cablewalk.findings import Findings, Path
from cablewalk.replay.compile_parts import add_caps_and_bags, add_covers
from cablewalk.replay.draft import Draft, set_interface
from cablewalk.replay.islands import join_islands
from cablewalk.replay.lines import compile_services
from cablewalk.replay.names import Names
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring

MAX_CONTACTS = 500_000
"""More contacts than this are refused: the largest configuration measured has a fifth."""


def compile_wiring(baseline: Baseline, findings: Findings) -> Wiring:
    """Return the wiring of a baseline; everything wrong in it is added to ``findings``.

    With findings of severity error the wiring holds what could be understood and must not
    be replayed.
    """
    draft = Draft(baseline, Names(findings))
    _add_places(draft)
    _add_people(draft)
    _add_harnesses(draft)
    add_caps_and_bags(draft)
    add_covers(draft)
    contacts = sum(len(names) for names in draft.wiring.contact_names.values())
    if contacts > MAX_CONTACTS:
        draft.error(
            "too-many-contacts",
            ("interfaces",),
            f"the halves have {contacts:,} contacts between them",
            expected=f"at most {MAX_CONTACTS:,}",
            difference=f"{contacts - MAX_CONTACTS:,} too many",
            way_out="check the counts of the interfaces, or split the hardware over baselines",
        )
        return draft.wiring
    join_islands(draft)
    compile_services(draft)
    _late_references(draft)
    _find_stubs(draft.wiring)
    return draft.wiring


def _find_stubs(wiring: Wiring) -> None:
    named: set[int] = set()
    for string in wiring.strings:
        for line in (*string.lines, *(string.load or ())):
            named.update((line.a, line.b), line.parallel, *line.through)
    wiring.stubs = frozenset(
        island
        for island, sites in enumerate(wiring.sites)
        if len(sites) == 1 and not wiring.island_terminals[island] and island not in named
    ) - {STRUCTURE}


def _add_places(draft: Draft) -> None:
    places = draft.baseline.places
    for name, place in places.items():
        draft.add("place", name, ("places", name), label=place.label, where=place.where)
    for name, path in draft.baseline.paths.items():
        at: Path = ("paths", name)
        item = draft.add("path", name, at)
        ends = [draft.need(end, ("place",), (*at, "between")) for end in path.between]
        if item == NONE:
            continue
        draft.wiring.path_ends[item] = (ends[0], ends[1])
        draft.wiring.path_length_m[item] = path.length_m
        for n, point in enumerate(path.tie_points):
            index = draft.add("tie point", point, (*at, "tie_points", n), owner=item)
            if index != NONE:
                draft.wiring.point_path[index] = item
    for name, place in places.items():
        here = draft.wiring.by_id.get(name, NONE)
        at = ("places", name)
        if place.halves:
            panel = draft.add("panel", name, at, owner=here, shared=True)
            _add_halves(draft, panel, place.halves, (*at, "halves"))
        for key, entry in place.panels.items():
            where = (*at, "panels", key)
            panel = draft.add("panel", key, where, label=entry.label, where=entry.where, owner=here)
            _add_halves(draft, panel, entry.halves, (*where, "halves"))
        for key, unit in place.units.items():
            where = (*at, "units", key)
            index = draft.add(
                "unit", key, where, label=unit.label, where=unit.where, owner=here, role=unit.kind
            )
            _add_halves(draft, index, unit.halves, (*where, "halves"))
        hand = []
        for key, switch in place.switches.items():
            index = draft.add(
                "switch",
                key,
                (*at, "switches", key),
                label=switch.label,
                where=switch.where,
                owner=here,
            )
            if switch.by_hand:
                hand.append(index)
        draft.wiring.by_hand |= frozenset(hand)


def _add_halves(draft: Draft, owner: int, halves: dict[str, Half], path: Path) -> None:
    mounted = []
    for name, half in halves.items():
        index = draft.add(
            "half",
            name,
            (*path, name),
            label=half.label,
            where=half.where,
            owner=owner,
            role="parking" if half.parking else "fixed",
        )
        if index != NONE:
            mounted.append(index)
            draft.halves[index] = half
            set_interface(draft, index, half.interface, half.gender, (*path, name, "interface"))
    if owner != NONE:
        draft.wiring.mounted[owner] = tuple(mounted)


def _add_people(draft: Draft) -> None:
    for name, person in draft.baseline.people.items():
        index = draft.add(
            "person",
            name,
            ("people", name),
            label=person.label,
            where=person.where,
            role=person.kind,
        )
        if index != NONE and person.can_hold is not None:
            draft.wiring.can_hold[index] = person.can_hold


def _add_harnesses(draft: Draft) -> None:
    wiring = draft.wiring
    for name, harness in draft.baseline.harnesses.items():
        at: Path = ("harnesses", name)
        item = draft.add("harness", name, at, label=harness.label, where=harness.where)
        if item == NONE:
            continue
        draft.harnesses[item] = harness
        legs = {}
        for key, leg in harness.legs.items():
            where = (*at, "legs", key)
            if leg.hard_wired is None:
                half = draft.add("half", key, where, label=leg.label, where=leg.where, role="free")
                if half == NONE:
                    continue
                assert leg.interface is not None and leg.gender is not None
                set_interface(draft, half, leg.interface, leg.gender, (*where, "interface"))
                index = draft.add(
                    "leg", key, where, label=leg.label, where=leg.where, owner=item, shared=True
                )
                wiring.leg_of[half] = index
                wiring.half_of[index] = half
            else:
                index = draft.add("leg", key, where, label=leg.label, where=leg.where, owner=item)
                draft.need(leg.hard_wired, ("unit",), (*where, "hard_wired"))
            if index != NONE:
                legs[key] = index
        wiring.legs_of[item] = tuple(legs.values())
        _add_segments(draft, item, name, harness, legs)


def _add_segments(
    draft: Draft, item: int, name: str, harness: Harness, legs: dict[str, int]
) -> None:
    wiring = draft.wiring
    if harness.segments:
        ends = {key: segment.between for key, segment in harness.segments.items()}
    elif len(legs) == 2:
        a, b = legs
        ends = {"main": (a, b)}
    else:
        ends = {key: (key, "breakout") for key in legs}
    made = []
    for key, (a, b) in ends.items():
        index = draft.add(
            "segment", f"{name}.{key}", ("harnesses", name, "segments", key), owner=item
        )
        if index == NONE:
            continue
        made.append(index)
        own = tuple(legs[end] for end in (a, b) if end in legs)
        wiring.segment_legs[index] = own
        for leg in own:
            wiring.segment_of_leg[leg] = index
    wiring.segments_of[item] = tuple(made)


def _late_references(draft: Draft) -> None:
    """Resolve what refers to services: command paths and thermal zones."""
    for place_name, place in draft.baseline.places.items():
        for name, switch in place.switches.items():
            if switch.commanded_through is not None:
                at: Path = ("places", place_name, "switches", name, "commanded_through")
                if draft.names.check(switch.commanded_through, ("service",), at):
                    service = draft.wiring.service_by_id[switch.commanded_through]
                    draft.wiring.command_service[draft.wiring.by_id[name]] = service
        for name, zone in place.zones.items():
            at = ("places", place_name, "zones", name)
            draft.names.add("zone", name, at)
            for n, service_name in enumerate(zone.services):
                draft.names.check(service_name, ("service",), (*at, "services", n))
