"""Reading a baseline's ``now``: finding items, and seeing that none is placed twice."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.documents.baseline import Baseline
from cablewalk.files.wording import spoken
from cablewalk.findings import Address, Findings, Path, nearest
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STATEFUL, Wiring

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


class Reader:
    """Fills one configuration from one ``now``."""

    def __init__(self, baseline: Baseline, wiring: Wiring, findings: Findings) -> None:
        self.now = baseline.now
        self.harnesses = baseline.harnesses
        self.clocks = {name: service.clocks for name, service in baseline.services.items()}
        self.wiring = wiring
        self.findings = findings
        self.config = Configuration(wiring)
        self.said: dict[int, str] = {}
        """Item to the key of ``now`` that already placed it."""
        self.places: dict[int, Path] = {}
        """Item to where below ``now`` that stands."""
        for n, item in enumerate(wiring.items):
            machine = STATEFUL.get(item.kind)
            if machine is not None:
                compiled = COMPILED[machine]
                self.config.state[n] = compiled.state_index[_USUAL[item.kind]]

    def error(self, rule: str, path: Path, found: str, **parts: str) -> None:
        """Add an error finding at a path below ``now``."""
        self.findings.error(rule, Address(0, ("now", *path)), found, **parts)

    def find(self, name: str, kinds: tuple[str, ...], path: Path) -> int:
        """Return the item, or NONE after a finding."""
        for kind in kinds:
            item = self.wiring.item(kind, name)
            if item != NONE:
                return item
        known = [self.wiring.items[n].id for n in self.wiring.ids(*kinds)]
        wanted = " or ".join(kinds)
        other = self.wiring.by_id.get(name, NONE)
        self.error(
            "unknown-id",
            path,
            f"there is no {wanted} {name}"
            if other == NONE
            else f"there is no {wanted} {name}: {name} is a {self.wiring.items[other].kind}",
            expected=f"the id of a {wanted}",
            way_out=nearest(name, known, most=3),
        )
        return NONE

    def claim(self, item: int, key: str, path: Path) -> bool:
        """Note that ``key`` places this item; a second key that does is a finding."""
        before = self.said.get(item)
        if before is not None:
            self.error(
                "in-two-places",
                path,
                f"{self.wiring.items[item].id} is said to be {key} here and {before} before",
                expected="one state for each item",
                difference=f"the first stands at {spoken(('now', *self.places[item]))}"
                if item in self.places
                else "",
                way_out="remove one of the two",
            )
            return False
        self.said[item] = key
        self.places[item] = path
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
