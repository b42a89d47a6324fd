"""The starting configuration: what a baseline's ``now`` says, read into states and links."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Address, Findings, Path
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED, Configuration
from cablewalk.replay.fit import cap_fits, misfit
from cablewalk.replay.names import nearest
from cablewalk.replay.wiring import NONE, STATEFUL, Wiring


def start_configuration(baseline: Baseline, wiring: Wiring, findings: Findings) -> Configuration:
    """Return the configuration a baseline describes; contradictions are added to ``findings``."""
    reader = _Reader(baseline, wiring, findings)
    reader.switches()
    reader.hardware()
    reader.places(only=len(baseline.places) == 1)
    reader.pairs()
    reader.caps()
    reader.legs()
    reader.segments()
    reader.services()
    return reader.config


class _Reader:
    """Fills one configuration from one ``now``."""

    def __init__(self, baseline: Baseline, wiring: Wiring, findings: Findings) -> None:
        self.now = baseline.now
        self.harnesses = baseline.harnesses
        self.wiring = wiring
        self.findings = findings
        self.config = Configuration(wiring)
        self.said: dict[int, str] = {}
        """Item to the key of ``now`` that already placed it."""
        for n, item in enumerate(wiring.items):
            machine = STATEFUL.get(item.kind)
            if machine is not None:
                compiled = COMPILED[machine]
                self.config.state[n] = compiled.state_index[_USUAL[item.kind]]

    def error(self, rule: str, path: Path, found: str, **parts: str) -> None:
        self.findings.error(rule, Address(0, ("now", *path)), found, **parts)

    def find(self, name: str, kinds: tuple[str, ...], path: Path) -> int:
        """Return the item, or NONE after a finding."""
        for kind in kinds:
            item = self.wiring.item(kind, name)
            if item != NONE:
                return item
        known = [self.wiring.items[n].id for n in self.wiring.ids(*kinds)]
        self.error(
            "unknown-id",
            path,
            f"there is no {' or '.join(kinds)} {name}",
            expected=f"the id of a {' or '.join(kinds)}",
            way_out=nearest(name, known),
        )
        return NONE

    def claim(self, item: int, key: str, path: Path) -> bool:
        """Note that ``key`` places this item; a second key that does is a finding."""
        before = self.said.get(item)
        if before is not None:
            self.error(
                "in-two-places",
                path,
                f"{self.wiring.items[item].id} is said to be {key} here and {before} elsewhere",
                expected="one state for each item",
                way_out="remove one of the two",
            )
            return False
        self.said[item] = key
        return True

    def set(self, item: int, state: str, link: int = NONE) -> None:
        """Set state and link of an item."""
        compiled = COMPILED[STATEFUL[self.wiring.items[item].kind]]
        self.config.state[item] = compiled.state_index[state]
        self.config.link[item] = link

    def each(self, key: str, kinds: tuple[str, ...]) -> Iterable[tuple[int, Path]]:
        """Walk a list of ids under ``key``, each item placed once."""
        for n, name in enumerate(getattr(self.now, key)):
            item = self.find(name, kinds, (key, n))
            if item != NONE and self.claim(item, key, (key, n)):
                yield item, (key, n)

    # -- switches, covers, units ------------------------------------------------------

    def switches(self) -> None:
        for key in ("on", "off", "blocked", "tripped"):
            for item, _path in self.each(key, ("switch",)):
                self.set(item, key)
        for item in self.wiring.ids("switch"):
            if item not in self.said:
                entry = self.wiring.items[item]
                self.findings.warning(
                    "switch-unknown",
                    Address(0, entry.path),
                    f"nothing says whether switch {entry.id} is on or off",
                    expected="its state under 'now'",
                    difference="taken as unknown: not on for power, not off for safety",
                    way_out=f"add {entry.id} to on, off or blocked",
                )

    def hardware(self) -> None:
        wiring = self.wiring
        for item, count in wiring.fasteners.items():
            self.config.count[item] = count
        for name, left in self.now.part_fastened.items():
            item = self.find(name, ("cover",), ("part_fastened", name))
            if item == NONE or not self.claim(item, "part_fastened", ("part_fastened", name)):
                continue
            total = wiring.fasteners[item]
            if not 0 < left < total:
                self.error(
                    "bad-value",
                    ("part_fastened", name),
                    f"{left} of {total} fasteners is not a part of them",
                    expected=f"1 to {total - 1}",
                )
                continue
            self.set(item, "part_fastened")
            self.config.count[item] = left
        for key in ("released", "open"):
            for item, _path in self.each(key, ("cover",)):
                self.set(item, key)
                self.config.count[item] = 0
        for item, _path in self.each("absent", ("unit", "panel")):
            self.set(item, "absent")
        for name, where in self.now.removed.items():
            item = self.find(name, ("cover", "unit", "panel"), ("removed", name))
            if item == NONE or not self.claim(item, "removed", ("removed", name)):
                continue
            link = NONE
            if where is not None:
                link = self.find(where, ("place", "bag", "person"), ("removed", name))
            self.set(item, "removed", link)
            if wiring.items[item].kind == "cover":
                self.config.count[item] = 0

    # -- where people and bags are ----------------------------------------------------

    def places(self, only: bool) -> None:
        wiring = self.wiring
        single = wiring.ids("place")[0] if only else NONE
        for name, where in self.now.people.items():
            item = self.find(name, ("person",), ("people", name))
            target = self.find(where, ("place", "person"), ("people", name))
            if item == NONE or target == NONE:
                continue
            if wiring.items[target].kind == "person" and (
                wiring.items[target].role != "vehicle" or wiring.items[item].role == "vehicle"
            ):
                self.error("bad-value", ("people", name), f"{where} is no place and no vehicle")
                continue
            self.said[item] = "people"
            self.config.link[item] = target
        for item in wiring.ids("person"):
            if item in self.said:
                continue
            self.config.link[item] = single
            if wiring.items[item].role in ("outside", "vehicle") and single == NONE:
                self.error(
                    "person-nowhere",
                    ("people",),
                    f"nothing says where {wiring.items[item].id} is",
                    expected="a place for every outside worker and vehicle",
                    way_out=f"add 'people: {{{wiring.items[item].id}: PLACE}}' under 'now'",
                )
        for name, where in self.now.bags.items():
            item = self.find(name, ("bag",), ("bags", name))
            target = self.find(where, ("place", "person"), ("bags", name))
            if item != NONE and target != NONE:
                self.said[item] = "bags"
                carried = wiring.items[target].kind == "person"
                self.set(item, "carried" if carried else "at_place", target)
        for item in wiring.ids("bag"):
            if item not in self.said:
                self.config.link[item] = single
                if single == NONE:
                    self.error(
                        "bag-nowhere",
                        ("bags",),
                        f"nothing says where bag {wiring.items[item].id} is",
                        expected="a place or a person for every bag",
                    )

    # -- halves and caps --------------------------------------------------------------

    def pairs(self) -> None:
        for key in ("mated", "unverified", "part_engaged"):
            for name, other in getattr(self.now, key).items():
                a = self.find(name, ("half",), (key, name))
                b = self.find(other, ("half",), (key, name))
                if NONE in (a, b) or a == b:
                    if a == b != NONE:
                        self.error("bad-value", (key, name), f"{name} cannot mate with itself")
                    continue
                first = self.claim(a, key, (key, name))
                if not (self.claim(b, key, (key, name)) and first):
                    continue
                why = misfit(self.wiring, a, b)
                if why:
                    self.error(
                        "cannot-mate",
                        (key, name),
                        f"{name} is said to be mated with {other}, but {why}",
                        expected="two halves that fit",
                    )
                    continue
                self.set(a, key, b)
                self.set(b, key, a)
        for name, count in self.now.cycles.items():
            item = self.find(name, ("half",), ("cycles", name))
            if item != NONE:
                self.config.count[item] = count
        for _ in self.each("bare", ("half",)):
            pass

    def caps(self) -> None:
        wiring, now = self.wiring, self.now
        for name, on in now.fitted.items():
            cap = self.find(name, ("cap",), ("fitted", name))
            half = self.find(on, ("half",), ("fitted", name))
            if NONE in (cap, half) or not self.claim(cap, "fitted", ("fitted", name)):
                continue
            if self.claim(half, f"capped by {name}", ("fitted", name)):
                if not cap_fits(wiring, cap, half):
                    self.error("cannot-fit", ("fitted", name), f"{name} does not fit {on}")
                    continue
                self._cap_on(cap, half)
        for key, kinds in (
            ("tethered", ("half", "place")),
            ("held", ("person",)),
            ("packed", ("bag",)),
        ):
            for name, where in getattr(now, key).items():
                cap = wiring.item("cap", name)
                if cap == NONE:
                    continue
                target = wiring.cap_on.get(cap, NONE)
                if where is not None:
                    target = self.find(where, kinds, (key, name))
                if target != NONE and self.claim(cap, key, (key, name)):
                    self.set(cap, key, target)
        for cap, _path in self.each("lost", ("cap",)):
            self.set(cap, "lost")
        for cap in wiring.ids("cap"):
            if cap in self.said:
                continue
            half = wiring.cap_on.get(cap, NONE)
            if half != NONE and half not in self.said:
                self._cap_on(cap, half)
            elif half != NONE and wiring.cap_tethered[cap]:
                self.set(cap, "tethered", half)
            else:
                entry = wiring.items[cap]
                self.findings.error(
                    "cap-nowhere",
                    Address(0, entry.path),
                    f"nothing says where the loose cap {entry.id} is",
                    expected="fitted, tethered, held, packed or lost under 'now'",
                )

    def _cap_on(self, cap: int, half: int) -> None:
        self.set(cap, "fitted", half)
        self.set(half, "capped", cap)

    # -- legs -------------------------------------------------------------------------

    def legs(self) -> None:
        wiring = self.wiring
        for key, kinds in _LEG_LINKS.items():
            for name, where in getattr(self.now, key).items():
                if key == "packed" and wiring.item("cap", name) != NONE:
                    continue
                target = self.find(where, kinds, (key, name))
                harness = wiring.item("harness", name)
                leg = wiring.item("leg", name)
                if harness == NONE and leg == NONE:
                    self.find(name, ("leg", "harness"), (key, name))
                    continue
                for each in wiring.legs_of[harness] if harness != NONE else (leg,):
                    if target != NONE and self.claim(each, key, (key, name)):
                        self.set(each, key, target)
        for name, where in self.now.held.items():
            if wiring.item("cap", name) == NONE:
                self.find(name, ("cap",), ("held", name))
        places = wiring.ids("place")
        single = places[0] if len(places) == 1 else NONE
        for leg in wiring.ids("leg"):
            if leg in self.said:
                self._check_packed(leg)
                continue
            self._usual_leg(leg, single)

    def _usual_leg(self, leg: int, single: int) -> None:
        """Place a leg nobody mentioned: with its mate, its unit, or (a warning) loose."""
        wiring = self.wiring
        half = wiring.half_of.get(leg, NONE)
        if half == NONE:
            harness = wiring.items[wiring.items[leg].owner]
            self.set(leg, "routed", self._hard_wired_place(leg, harness.id))
            return
        mate = self.config.link[half]
        if mate != NONE and wiring.items[mate].kind == "half":
            place = self.config.place_of(half) if wiring.items[mate].owner != NONE else single
            self.set(leg, "routed", place)
            return
        self.set(leg, "loose", single)
        entry = wiring.items[leg]
        self.findings.warning(
            "leg-unplaced",
            Address(0, entry.path),
            f"nothing says where the leg {entry.id} is",
            expected="packed, in_hand, loose, restrained, routed, stowed or pulled_aside",
            difference="taken as loose"
            + (" at the only place" if single != NONE else ", out of reach"),
        )

    def _hard_wired_place(self, leg: int, harness: str) -> int:
        document = self.harnesses[harness].legs[self.wiring.items[leg].id]
        unit = self.wiring.item("unit", document.hard_wired or "")
        return self.wiring.items[unit].owner if unit != NONE else NONE

    def _check_packed(self, leg: int) -> None:
        half = self.wiring.half_of.get(leg, NONE)
        if self.said[leg] == "packed" and half != NONE:
            mate = self.config.link[half]
            if mate != NONE and self.wiring.items[mate].kind == "half":
                self.error(
                    "in-two-places",
                    ("packed",),
                    f"{self.wiring.items[leg].id} is packed in a bag and yet mated",
                    expected="a packed leg is not mated",
                )

    def segments(self) -> None:
        for key, kind in (("along", "path"), ("ties", "tie point")):
            for name, entries in getattr(self.now, key).items():
                segment = self.find(name, ("segment",), (key, name))
                found = tuple(self.find(e, (kind,), (key, name)) for e in entries)
                if segment != NONE and NONE not in found:
                    table = self.config.along if key == "along" else self.config.ties
                    table[segment] = found if key == "along" else tuple(sorted(set(found)))

    # -- services ---------------------------------------------------------------------

    def services(self) -> None:
        wiring, now = self.wiring, self.now
        for n, service in enumerate(wiring.services):
            self.config.life[n] = AWAITED if service.begins_established else ALIVE
        for key, life in (("established", ALIVE), ("retired", RETIRED)):
            for n, name in enumerate(getattr(now, key)):
                if self._service(name, (key, n)) != NONE:
                    self.config.life[wiring.service_by_id[name]] = life
        for key in ("dark_min", "used_min"):
            for name in getattr(now, key):
                self._service(name, (key, name))
        for name, strings in now.unproven.items():
            service = self._service(name, ("unproven", name))
            if service == NONE:
                continue
            own = {wiring.strings[s].id: s for s in wiring.services[service].strings}
            for key in strings or tuple(own):
                string = own.get(key, own.get(f"{name}.{key}", NONE))
                if string == NONE:
                    self.error(
                        "unknown-id",
                        ("unproven", name),
                        f"{name} has no string {key}",
                        expected=f"one of {', '.join(own)}",
                    )
                else:
                    self.config.disturbed[string] = 1

    def _service(self, name: str, path: Path) -> int:
        service = self.wiring.service_by_id.get(name, NONE)
        if service == NONE:
            self.error(
                "unknown-id",
                path,
                f"there is no service {name}",
                way_out=nearest(name, list(self.wiring.service_by_id)),
            )
        return service


_USUAL = {
    "half": "bare",
    "leg": "loose",
    "cap": "tethered",
    "cover": "fastened",
    "switch": "unknown",
    "unit": "installed",
    "panel": "installed",
    "bag": "at_place",
    "person": "idle",
}

_LEG_LINKS = {
    "packed": ("bag",),
    "in_hand": ("person",),
    "loose": ("place",),
    "restrained": ("place",),
    "routed": ("place",),
    "stowed": ("place", "bag"),
    "pulled_aside": ("place",),
}
