"""Islands: contacts and terminals joined for good, merged once."""

from __future__ import annotations

from cablewalk.documents.hardware import Cap, Half
from cablewalk.documents.harness import Harness
from cablewalk.findings import Path, nearest
from cablewalk.replay.draft import Draft
from cablewalk.replay.joiner import Joiner
from cablewalk.replay.wiring import NONE, STRUCTURE, Wiring


def join_islands(draft: Draft) -> None:
    """Number the islands of a draft and fill its wiring's joints, sites and terminals."""
    joiner = Joiner(draft)
    _unit_terminals(joiner)
    for item in draft.halves:
        joiner.contacts(item)
    for item in draft.wiring.leg_of:
        joiner.contacts(item)
    for item, half in draft.halves.items():
        _join_fixed(joiner, item, half)
    for item, harness in draft.harnesses.items():
        _join_harness(joiner, item, harness)
    for name, cap in draft.baseline.caps.items():
        index = draft.wiring.item("cap", name)
        if index != NONE and cap.electrical and index in draft.wiring.contact_names:
            _join_cap(joiner, index, name, cap)
    _number(joiner)


def _unit_terminals(joiner: Joiner) -> None:
    wiring = joiner.draft.wiring
    for place in joiner.draft.baseline.places.values():
        for name, unit in place.units.items():
            owner = wiring.item("unit", name)
            if owner == NONE:
                continue
            groups = {t: n for n, group in enumerate(unit.isolated) for t in group}
            base = len(wiring.group_members)
            wiring.group_members.extend(() for _ in range(max(1, len(unit.isolated))))
            for terminal in unit.terminals:
                joiner.terminal(f"{name}.{terminal}", owner, base + groups.get(terminal, 0))
            for feed in unit.feeds.values():
                if feed.grounded:
                    joiner.join(joiner.ref(f"{name}.{feed.ret}", ()), STRUCTURE)


def _join_fixed(joiner: Joiner, item: int, half: Half) -> None:
    wiring = joiner.draft.wiring
    path = wiring.items[item].path
    first = joiner.first[item]
    owner = wiring.items[item].owner
    if half.parking:
        if half.wired or half.through:
            joiner.draft.error(
                "parking-half-wired",
                path,
                f"{wiring.items[item].id} is a parking half and yet is wired",
                expected="a parking half joins nothing",
                difference=_wiring_of(half),
                way_out="take its wiring out, or 'parking' where it is wired",
            )
        return
    if owner != NONE and _bonded(joiner.draft, owner):
        joiner.join(first + len(wiring.contact_names[item]), STRUCTURE)
    if isinstance(half.wired, dict):
        for contact, ref in half.wired.items():
            position = joiner.position(item, contact, (*path, "wired", contact))
            if position != NONE:
                joiner.join(first + position, joiner.ref(ref, (*path, "wired", contact)))
    else:
        names = wiring.contact_names[item]
        if len(half.wired) > len(names):
            joiner.draft.error(
                "too-many-wires",
                (*path, "wired"),
                f"{wiring.items[item].id} is wired to {len(half.wired)} terminals",
                expected=f"at most its {len(names)} contacts",
                difference=f"{len(half.wired) - len(names)} too many: "
                + " ".join(half.wired[len(names) :]),
                way_out=f"take out what is too many, or check its interface {half.interface}",
            )
        for n, ref in enumerate(half.wired[: len(names)]):
            if ref != "-":
                joiner.join(first + n, joiner.ref(ref, (*path, "wired", n)))
    if half.through is not None:
        other = joiner.draft.need(half.through, ("half",), (*path, "through"))
        if other != NONE and other in joiner.first:
            for n, name in enumerate(wiring.contact_names[item]):
                if name in wiring.contact_names[other]:
                    spot = wiring.contact_names[other].index(name)
                    joiner.join(first + n, joiner.first[other] + spot)


def _wiring_of(half: Half) -> str:
    """Return what a half is wired to, and through."""
    refs = half.wired.values() if isinstance(half.wired, dict) else half.wired
    parts = [f"it is wired to {' '.join(refs)}"] if refs else []
    if half.through:
        parts.append(f"it goes through to {half.through}")
    return " and ".join(parts)


def _whose(wiring: Wiring, name: str) -> str:
    """Return what an id that is no end of a harness names instead."""
    item = wiring.by_id.get(name, NONE)
    if item == NONE:
        return f"nothing has the id {name}"
    owner = wiring.items[item].owner
    if item in wiring.leg_of:
        owner = wiring.items[wiring.leg_of[item]].owner
    of = f" of {wiring.items[owner].id}" if owner != NONE else ""
    return f"{name} is a {wiring.items[item].kind}{of}"


def _bonded(draft: Draft, owner: int) -> bool:
    item = draft.wiring.items[owner]
    place = draft.baseline.places[str(item.path[1])]
    if item.kind == "unit":
        return place.units[item.id].bonded
    return place.panels[item.id].bonded if item.path[2:3] == ("panels",) else True


def _join_harness(joiner: Joiner, item: int, harness: Harness) -> None:
    wiring = joiner.draft.wiring
    path = wiring.items[item].path
    if harness.runs == "straight":
        halves = [wiring.half_of[leg] for leg in wiring.legs_of[item] if leg in wiring.half_of]
        for half in halves[1:]:
            for n in range(len(wiring.contact_names[half]) + 1):
                joiner.join(joiner.first[halves[0]] + n, joiner.first[half] + n)
        return
    own = {
        wiring.items[wiring.half_of[leg]].id
        for leg in wiring.legs_of[item]
        if leg in wiring.half_of
    }
    own |= {leg.hard_wired for leg in harness.legs.values() if leg.hard_wired}
    for n, run in enumerate(harness.runs):
        at = (*path, "runs", n)
        strange = [text for text in run if text.partition(".")[0] not in own]
        if strange:
            joiner.draft.error(
                "foreign-run",
                at,
                f"the run names {strange[0]}, which is not an end of {wiring.items[item].id}",
                expected=f"contacts of the ends of {wiring.items[item].id}",
                difference=_whose(wiring, strange[0].partition(".")[0]),
                way_out=nearest(strange[0].partition(".")[0], sorted(own)),
            )
            continue
        rows = [joiner.refs(text, at) for text in run]
        if [NONE] in rows:
            continue
        lengths = [len(row) for row in rows]
        if len(set(lengths)) > 1:
            joiner.draft.error(
                "uneven-run",
                at,
                f"the ranges of this run differ in length: {' '.join(run)}",
                expected="the same number of contacts in each",
                difference=", ".join(
                    f"{text} is {length}" for text, length in zip(run, lengths, strict=True)
                ),
                way_out=f"shorten to {min(lengths)} each, and give the rest a run of its own",
            )
            continue
        for nodes in zip(*rows, strict=True):
            for node in nodes[1:]:
                joiner.join(nodes[0], node)


def _join_cap(joiner: Joiner, item: int, name: str, cap: Cap) -> None:
    draft = joiner.draft
    path: Path = ("caps", name)
    joiner.contacts(item)
    base = len(draft.wiring.group_members)
    draft.wiring.group_members.append(())
    nodes = {t: joiner.terminal(f"{name}.{t}", item, base) for t in cap.terminals}
    for n, contacts in enumerate(cap.joins):
        spots = [joiner.position(item, c, (*path, "joins", n)) for c in contacts]
        known = [joiner.first[item] + p for p in spots if p != NONE]
        for node in known[1:]:
            joiner.join(known[0], node)
    for contact, terminal in cap.wired.items():
        spot = joiner.position(item, contact, (*path, "wired", contact))
        if spot != NONE:
            joiner.join(joiner.first[item] + spot, nodes[terminal])


def _number(joiner: Joiner) -> None:
    """Give the sets consecutive numbers, structure first, and fill the wiring's tables."""
    wiring = joiner.draft.wiring
    root = joiner.merger.root
    number = {STRUCTURE: 0}
    for item, first in joiner.first.items():
        size = len(wiring.contact_names[item]) + 1
        nodes = range(first, first + size)
        islands = [number.setdefault(root(node), len(number)) for node in nodes]
        if wiring.items[item].role != "parking":
            wiring.joints[item] = tuple(islands)
    for terminal, node in zip(wiring.terminals, joiner.terminal_nodes, strict=True):
        terminal.island = number.setdefault(root(node), len(number))
    sites: list[list[tuple[int, int]]] = [[] for _ in number]
    for item, islands_of in enumerate(wiring.joints):
        for position, island in enumerate(islands_of):
            sites[island].append((item, position))
    wiring.sites = sites
    held: dict[int, list[int]] = {}
    members: list[list[int]] = [[] for _ in wiring.group_members]
    for n, terminal in enumerate(wiring.terminals):
        held.setdefault(terminal.island, []).append(n)
        members[terminal.group].append(n)
    wiring.island_terminals = [tuple(held.get(island, ())) for island in range(len(number))]
    wiring.group_members = [tuple(row) for row in members]
