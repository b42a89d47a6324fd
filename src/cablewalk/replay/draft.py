"""A wiring in the making."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Half, Interface
from cablewalk.documents.harness import Harness
from cablewalk.findings import Address, Path
from cablewalk.replay.names import Names
from cablewalk.replay.wiring import NONE, Item, Wiring


@dataclass(slots=True)
class Draft:
    """A wiring in the making, with the names and findings met so far."""

    baseline: Baseline
    names: Names
    wiring: Wiring = field(default_factory=Wiring)
    halves: dict[int, Half] = field(default_factory=dict)
    """Fixed half items to their documents."""
    harnesses: dict[int, Harness] = field(default_factory=dict)

    def add(
        self,
        kind: str,
        name: str,
        path: Path,
        *,
        label: str = "",
        where: str = "",
        owner: int = NONE,
        role: str = "",
        shared: bool = False,
    ) -> int:
        """Add an item and register its id; a shared id (leg and half) is registered once.

        Returns NONE, after a finding, when the id is taken.
        """
        if not shared and not self.names.add(kind, name, path):
            return NONE
        index = len(self.wiring.items)
        self.wiring.items.append(Item(kind, name, label, where, path, owner, role))
        self.wiring.joints.append(())
        if not shared:
            self.wiring.by_id[name] = index
        return index

    def need(self, name: str, kinds: tuple[str, ...], path: Path) -> int:
        """Return the item of this id, or NONE after a finding."""
        if self.names.check(name, kinds, path):
            return self.wiring.by_id[name]
        return NONE

    def error(self, rule: str, path: Path, found: str, **parts: str) -> None:
        """Add an error finding at a path of the baseline."""
        self.names.findings.error(rule, Address(0, path), found, **parts)


def set_interface(draft: Draft, item: int, interface: str, gender: str, path: Path) -> None:
    """Note what a half or cap can mate with; an unknown interface is a finding."""
    document = draft.baseline.interfaces.get(interface)
    if document is None:
        known = list(draft.baseline.interfaces)
        from_names = Names(draft.names.findings)
        from_names.kinds = dict.fromkeys(known, "interface")
        from_names.check(interface, ("interface",), path)
        document = Interface(contacts=("1",), family=f"?{interface}")
    wiring = draft.wiring
    wiring.contact_names[item] = document.contacts
    wiring.interface_key[item] = interface_key(interface, document)
    wiring.gender[item] = gender


def interface_key(name: str, interface: Interface) -> tuple[str, str, str, str, tuple[str, ...]]:
    """Return what must agree for two halves to mate: family, shell, insert, key, contacts.

    An interface that says nothing of its make is a family of its own.
    """
    family = interface.family
    if not (family or interface.shell or interface.insert):
        family = name
    return family, interface.shell, interface.insert, interface.key, interface.contacts
