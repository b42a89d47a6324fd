"""The start of ends: halves, caps, legs and segments."""

from __future__ import annotations

from cablewalk.files.wording import spoken
from cablewalk.findings import Address
from cablewalk.replay.fit import cap_fits, cap_misfits, misfits, partners
from cablewalk.replay.now_reader import Reader
from cablewalk.replay.wiring import NONE

_LEG_LINKS = {
    "packed": ("bag",),
    "in_hand": ("person",),
    "loose": ("place",),
    "restrained": ("place",),
    "routed": ("place",),
    "stowed": ("place", "bag"),
    "pulled_aside": ("place",),
}


def pairs(reader: Reader) -> None:
    """Join the halves that are mated, seated or part-engaged."""
    for key in ("mated", "unverified", "part_engaged"):
        for name, other in getattr(reader.now, key).items():
            a = reader.find(name, ("half",), (key, name))
            b = reader.find(other, ("half",), (key, name))
            if NONE in (a, b) or a == b:
                if a == b != NONE:
                    reader.error(
                        "bad-value",
                        (key, name),
                        f"{name} cannot mate with itself",
                        expected=f"the half {name} is mated with",
                        way_out=_fitting(reader, a) or "name the other half, or take this out",
                    )
                continue
            first = reader.claim(a, key, (key, name))
            if not (reader.claim(b, key, (key, name)) and first):
                continue
            why = list(misfits(reader.wiring, a, b))
            if why:
                reader.error(
                    "cannot-mate",
                    (key, name),
                    f"{name} is said to be mated with {other}",
                    expected="two halves that fit",
                    difference=" and ".join(why),
                    way_out=_fitting(reader, a) or f"take {name} out of '{key}'",
                )
                continue
            reader.set(a, key, b)
            reader.set(b, key, a)
    for name, count in reader.now.cycles.items():
        item = reader.find(name, ("half",), ("cycles", name))
        if item != NONE:
            reader.config.count[item] = count
    for _ in reader.each("bare", ("half",)):
        pass


def _fitting(reader: Reader, half: int) -> str:
    """Return which halves one could be mated with, or an empty text where there is none."""
    items = reader.wiring.items
    ids = [items[n].id for n in partners(reader.config, half, parking=False)]
    return f"{items[half].id} fits {' or '.join(ids)}" if ids else ""


def caps(reader: Reader) -> None:
    """Place every cap; one nobody mentions is on its bare half, or hangs on its tether."""
    wiring, now = reader.wiring, reader.now
    for name, on in now.fitted.items():
        cap = reader.find(name, ("cap",), ("fitted", name))
        half = reader.find(on, ("half",), ("fitted", name))
        if NONE in (cap, half) or not reader.claim(cap, "fitted", ("fitted", name)):
            continue
        if reader.claim(half, f"capped by {name}", ("fitted", name)):
            if not cap_fits(wiring, cap, half):
                others = [h for h in wiring.ids("half") if cap_fits(wiring, cap, h)]
                ids = " or ".join(wiring.items[h].id for h in others[:4])
                reader.error(
                    "cannot-fit",
                    ("fitted", name),
                    f"{name} does not fit {on}",
                    expected="a half the cap fits",
                    difference=" and ".join(cap_misfits(wiring, cap, half)),
                    way_out=f"{name} fits {ids}" if ids else f"take {name} out of 'fitted'",
                )
                continue
            _cap_on(reader, cap, half)
    for key, kinds in (
        ("tethered", ("half", "place")),
        ("held", ("person",)),
        ("packed", ("bag",)),
    ):
        for name, where in getattr(now, key).items():
            cap = wiring.item("cap", name)
            if cap == NONE:
                if key == "held":
                    _hold_cover(reader, name, where)
                elif key != "packed":  # a packed leg or harness is placed with the legs
                    reader.find(name, ("cap",), (key, name))
                continue
            target = wiring.cap_on.get(cap, NONE)
            if where is not None:
                target = reader.find(where, kinds, (key, name))
            if target != NONE and reader.claim(cap, key, (key, name)):
                reader.set(cap, key, target)
    for cap, _path in reader.each("lost", ("cap",)):
        reader.set(cap, "lost")
    for cap in wiring.ids("cap"):
        if cap in reader.said:
            continue
        half = wiring.cap_on.get(cap, NONE)
        if half != NONE and half not in reader.said:
            _cap_on(reader, cap, half)
        elif half != NONE and wiring.cap_tethered[cap]:
            reader.set(cap, "tethered", half)
        else:
            entry = wiring.items[cap]
            reader.findings.error(
                "cap-nowhere",
                Address(0, entry.path),
                f"nothing says where the loose cap {entry.id} is",
                expected="fitted, tethered, held, packed or lost under 'now'",
                difference=f"its half {wiring.items[half].id} is taken, and it has no tether"
                if half != NONE
                else "it belongs to no half on which it could be",
                way_out=f"add for instance 'held: {{{entry.id}: PERSON}}' under 'now'",
            )


def _hold_cover(reader: Reader, name: str, person: str | None) -> None:
    """Place a removed cover in the hands of a person."""
    cover = reader.find(name, ("cap", "cover"), ("held", name))
    if cover != NONE and person is not None:
        target = reader.find(person, ("person",), ("held", name))
        if target != NONE and reader.claim(cover, "held", ("held", name)):
            reader.set(cover, "removed", target)
            reader.config.count[cover] = 0


def _cap_on(reader: Reader, cap: int, half: int) -> None:
    reader.set(cap, "fitted", half)
    reader.set(half, "capped", cap)


def legs(reader: Reader) -> None:
    """Place every leg."""
    wiring = reader.wiring
    for key, kinds in _LEG_LINKS.items():
        for name, where in getattr(reader.now, key).items():
            if key == "packed" and wiring.item("cap", name) != NONE:
                continue
            target = reader.find(where, kinds, (key, name))
            harness = wiring.item("harness", name)
            leg = wiring.item("leg", name)
            if harness == NONE and leg == NONE:
                reader.find(name, ("leg", "harness"), (key, name))
                continue
            for each in wiring.legs_of[harness] if harness != NONE else (leg,):
                if target != NONE and reader.claim(each, key, (key, name)):
                    reader.set(each, key, target)
    places = wiring.ids("place")
    single = places[0] if len(places) == 1 else NONE
    for leg in wiring.ids("leg"):
        if leg in reader.said:
            _check_packed(reader, leg)
            continue
        _usual_leg(reader, leg, single)


def _usual_leg(reader: Reader, leg: int, single: int) -> None:
    """Place a leg nobody mentioned: with its mate, its unit, or (a warning) loose."""
    wiring = reader.wiring
    half = wiring.half_of.get(leg, NONE)
    if half == NONE:
        harness = wiring.items[wiring.items[leg].owner]
        reader.set(leg, "routed", _hard_wired_place(reader, leg, harness.id))
        return
    mate = reader.config.link[half]
    if mate != NONE and wiring.items[mate].kind == "half":
        place = _with_mate(reader, mate, single)
        reader.set(leg, "routed", place)
        if place != NONE:
            return
    else:
        reader.set(leg, "loose", single)
    entry = wiring.items[leg]
    reader.findings.warning(
        "leg-unplaced",
        Address(0, entry.path),
        f"nothing says where the leg {entry.id} is",
        expected="packed, in_hand, loose, restrained, routed, stowed or pulled_aside",
        difference="taken as at the only place" if single != NONE else "taken as out of reach",
        way_out=f"name {entry.id} under 'now'",
    )


def _with_mate(reader: Reader, mate: int, single: int) -> int:
    """Return where a leg mated with this half is: at the fixed half, or with the other leg."""
    if reader.wiring.items[mate].owner != NONE:
        return reader.config.place_of(mate)
    other = reader.wiring.leg_of[mate]
    place = reader.config.place_of(reader.config.link[other]) if other in reader.said else NONE
    return place if place != NONE else single


def _hard_wired_place(reader: Reader, leg: int, harness: str) -> int:
    document = reader.harnesses[harness].legs[reader.wiring.items[leg].id]
    unit = reader.wiring.item("unit", document.hard_wired or "")
    return reader.wiring.items[unit].owner if unit != NONE else NONE


def _check_packed(reader: Reader, leg: int) -> None:
    half = reader.wiring.half_of.get(leg, NONE)
    if reader.said[leg] == "packed" and half != NONE:
        mate = reader.config.link[half]
        if mate != NONE and reader.wiring.items[mate].kind == "half":
            reader.error(
                "in-two-places",
                reader.places[leg],
                f"{reader.wiring.items[leg].id} is packed in a bag and yet mated",
                expected="a packed leg is not mated",
                difference=f"it is mated with {reader.wiring.items[mate].id} at "
                f"{spoken(('now', *reader.places[half]))}",
                way_out="take one of the two out",
            )


def segments(reader: Reader) -> None:
    """Lay and tie the segments."""
    for key, kind in (("along", "path"), ("ties", "tie point")):
        for name, entries in getattr(reader.now, key).items():
            segment = reader.find(name, ("segment",), (key, name))
            found = tuple(reader.find(e, (kind,), (key, name)) for e in entries)
            if segment != NONE and NONE not in found:
                table = reader.config.along if key == "along" else reader.config.ties
                table[segment] = found if key == "along" else tuple(sorted(set(found)))
