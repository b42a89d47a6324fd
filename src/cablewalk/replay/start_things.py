"""The start of things: switches, covers, units, people and bags."""

from __future__ import annotations

from cablewalk.findings import Address, nearest
from cablewalk.replay.now_reader import Reader
from cablewalk.replay.wiring import NONE


def switches(reader: Reader) -> None:
    """Set the switches; one nobody mentions is unknown, and that is a finding."""
    for key in ("on", "off", "blocked", "tripped"):
        for item, _path in reader.each(key, ("switch",)):
            reader.set(item, key)
    for item in reader.wiring.ids("switch"):
        if item not in reader.said:
            entry = reader.wiring.items[item]
            reader.findings.warning(
                "switch-unknown",
                Address(0, entry.path),
                f"nothing says whether switch {entry.id} is on or off",
                expected="its state under 'now'",
                difference="taken as unknown: not on for power, not off for safety",
                way_out=f"add {entry.id} to on, off or blocked",
            )


def hardware(reader: Reader) -> None:
    """Set covers, units and panels."""
    wiring = reader.wiring
    for item, count in wiring.fasteners.items():
        reader.config.count[item] = count
    for name, left in reader.now.part_fastened.items():
        item = reader.find(name, ("cover",), ("part_fastened", name))
        if item == NONE or not reader.claim(item, "part_fastened", ("part_fastened", name)):
            continue
        total = wiring.fasteners[item]
        if not 0 < left < total:
            reader.error(
                "bad-value",
                ("part_fastened", name),
                f"{left} of {total} fasteners is not a part of them",
                expected=f"1 to {total - 1}" if total > 1 else "more fasteners than one",
                difference=f"{left - total} more than {name} has"
                if left > total
                else "these are all"
                if left
                else "this is none",
                way_out=f"name {name} under 'released' or 'open'"
                if left == 0
                else f"take {name} out where all are fastened, or correct the count",
            )
            continue
        reader.set(item, "part_fastened")
        reader.config.count[item] = left
    for key in ("released", "open"):
        for item, _path in reader.each(key, ("cover",)):
            reader.set(item, key)
            reader.config.count[item] = 0
    for item, _path in reader.each("absent", ("unit", "panel")):
        reader.set(item, "absent")
    for name, where in reader.now.removed.items():
        item = reader.find(name, ("cover", "unit", "panel"), ("removed", name))
        if item == NONE or not reader.claim(item, "removed", ("removed", name)):
            continue
        link = NONE
        if where is not None:
            link = reader.find(where, ("place", "bag", "person"), ("removed", name))
        reader.set(item, "removed", link)
        if wiring.items[item].kind == "cover":
            reader.config.count[item] = 0


def _many_places(reader: Reader) -> str:
    """Return why nobody's place is taken for granted."""
    count = len(reader.wiring.ids("place"))
    return (
        f"with one place that would be it, and there are {count}" if count else "no place is told"
    )


def places(reader: Reader, only: bool) -> None:
    """Place people and bags; with one place only, that is where they are."""
    wiring = reader.wiring
    single = wiring.ids("place")[0] if only else NONE
    for name, where in reader.now.people.items():
        item = reader.find(name, ("person",), ("people", name))
        target = reader.find(where, ("place", "person"), ("people", name))
        if item == NONE or target == NONE:
            continue
        if wiring.items[target].kind == "person" and (
            wiring.items[target].role != "vehicle" or wiring.items[item].role == "vehicle"
        ):
            known = [
                wiring.items[n].id
                for n in wiring.ids("place", "person")
                if wiring.items[n].kind == "place" or wiring.items[n].role == "vehicle"
            ]
            reader.error(
                "bad-value",
                ("people", name),
                f"{where} is no place and no vehicle for {name}",
                expected="a place, or for a person a vehicle that is ridden",
                difference=f"{where} is a person ({wiring.items[target].role})",
                way_out=nearest(where, [k for k in known if k not in (where, name)]),
            )
            continue
        reader.said[item] = "people"
        reader.config.link[item] = target
    for item in wiring.ids("person"):
        if item in reader.said:
            continue
        if wiring.items[item].role not in ("outside", "vehicle"):
            continue
        reader.config.link[item] = single
        if single == NONE:
            reader.error(
                "person-nowhere",
                ("people",),
                f"nothing says where {wiring.items[item].id} is",
                expected="a place for every outside worker and vehicle",
                difference=_many_places(reader),
                way_out=f"add 'people: {{{wiring.items[item].id}: PLACE}}' under 'now'",
            )
    for name, where in reader.now.bags.items():
        item = reader.find(name, ("bag",), ("bags", name))
        target = reader.find(where, ("place", "person"), ("bags", name))
        if item != NONE and target != NONE:
            reader.said[item] = "bags"
            carried = wiring.items[target].kind == "person"
            reader.set(item, "carried" if carried else "at_place", target)
    for item in wiring.ids("bag"):
        if item not in reader.said:
            reader.config.link[item] = single
            if single == NONE:
                reader.error(
                    "bag-nowhere",
                    ("bags",),
                    f"nothing says where bag {wiring.items[item].id} is",
                    expected="a place or a person for every bag",
                    difference=_many_places(reader),
                    way_out=f"add 'bags: {{{wiring.items[item].id}: PLACE}}' under 'now'",
                )
