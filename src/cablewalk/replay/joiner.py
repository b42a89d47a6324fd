"""Nodes for contacts and terminals, references resolved to them, and their merging."""

from __future__ import annotations

import re

from cablewalk.documents.base import SHELL
from cablewalk.findings import Path, nearest
from cablewalk.replay.draft import Draft
from cablewalk.replay.wiring import NONE, STRUCTURE, Terminal

_RANGE = re.compile(r"^(\d{1,4})-(\d{1,4})$")


def near_terminal(wanted: str, known: list[str]) -> str:
    """Return the way out for a terminal that is not among those ``known`` as UNIT.TERMINAL."""
    near = nearest(wanted, [name.partition(".")[2] for name in known])
    return near if near.startswith("did you mean") else "name one of these"


class Merger:
    """Union-find over contacts and terminals. Node 0 is structure."""

    def __init__(self) -> None:
        self.parent = [STRUCTURE]

    def node(self) -> int:
        """Return a fresh node."""
        return self.nodes(1)

    def nodes(self, count: int) -> int:
        """Make fresh nodes, numbered one after the other; return the first."""
        first = len(self.parent)
        self.parent.extend(range(first, first + count))
        return first

    def root(self, node: int) -> int:
        """Return the representative of a node's set (the smallest number in it)."""
        parent = self.parent
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    def join(self, a: int, b: int) -> None:
        """Merge two sets."""
        a, b = self.root(a), self.root(b)
        if a != b:
            self.parent[max(a, b)] = min(a, b)


class Joiner:
    """Gives every contact and terminal a node, and resolves references to them."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.merger = Merger()
        self.first: dict[int, int] = {}
        """Half or electrical cap to the node of its first contact; the shell comes last."""
        self.terminal_nodes: list[int] = []

    def contacts(self, item: int) -> None:
        """Make nodes for the contacts and the shell of a half or cap."""
        self.first[item] = self.merger.nodes(len(self.draft.wiring.contact_names[item]) + 1)

    def terminal(self, name: str, owner: int, group: int) -> int:
        """Make a terminal and its node; return the node."""
        wiring = self.draft.wiring
        node = self.merger.node()
        wiring.terminal_by_name[name] = len(wiring.terminals)
        wiring.terminals.append(Terminal(name, owner, NONE, group))
        self.terminal_nodes.append(node)
        return node

    def position(self, item: int, contact: str, path: Path) -> int:
        """Return the position of a named contact, or NONE after a finding."""
        names = self.draft.wiring.contact_names[item]
        if contact == SHELL:
            return len(names)
        if contact in names:
            return names.index(contact)
        half = self.draft.wiring.items[item].id
        self.draft.error(
            "unknown-contact",
            path,
            f"{half} has no contact {contact}",
            expected="a contact of its interface, or shell",
            difference=f"it has {len(names)}, numbered from 1"
            if contact.isdigit() and names[-1] == str(len(names))
            else "",
            way_out=nearest(contact, [*names, SHELL]),
        )
        return NONE

    def ref(self, text: str, path: Path) -> int:
        """Return the node of ``half.contact``, ``unit.terminal`` or ``structure``, or NONE."""
        if text == "structure":
            return STRUCTURE
        wiring = self.draft.wiring
        if text in wiring.terminal_by_name:
            return self.terminal_nodes[wiring.terminal_by_name[text]]
        owner, _, contact = text.partition(".")
        item = self.draft.need(owner, ("half", "unit"), path)
        if item == NONE:
            return NONE
        if item not in self.first:
            known = [t.name for t in wiring.terminals if t.owner == item]
            self.draft.error(
                "unknown-terminal",
                path,
                f"{owner} has no terminal {contact}",
                expected=f"one of {', '.join(known)}" if known else "a unit with terminals",
                way_out=near_terminal(contact, known),
            )
            return NONE
        position = self.position(item, contact, path)
        return NONE if position == NONE else self.first[item] + position

    def refs(self, text: str, path: Path) -> list[int]:
        """Return the nodes of a reference that may hold a range or ``*``."""
        owner, dot, contact = text.partition(".")
        found = _RANGE.match(contact)
        item = self.draft.wiring.by_id.get(owner, NONE)
        if contact == "*" or found:
            if item not in self.first:
                self.draft.need(owner, ("half",), path)
                return [NONE]
            first = self.first[item]
            names = self.draft.wiring.contact_names[item]
            if contact == "*":
                return list(range(first, first + len(names)))
            assert found is not None
            low, high = int(found[1]), int(found[2])
            if not low <= high <= low + len(names):
                self.draft.error(
                    "unknown-contact",
                    path,
                    f"{text}: the range does not fit {owner}",
                    expected=f"contacts of {owner}, from {names[0]} to {names[-1]}",
                    difference=f"{low} is greater than {high}"
                    if low > high
                    else f"the range has {high - low + 1} contacts, and {owner} has {len(names)}",
                    way_out=f"write {owner}.{high}-{low}"
                    if low > high
                    else f"shorten it, or write {owner}.* for all",
                )
                return [NONE]
            spots = [self.position(item, str(n), path) for n in range(low, high + 1)]
            return [NONE if p == NONE else first + p for p in spots]
        if not dot:
            self.draft.error(
                "bad-value",
                path,
                f"{text!r} names no contact",
                expected="half.contact",
                difference="there is no '.' in it",
                way_out=f"write {text}.1, or {text}.* for all its contacts",
            )
            return [NONE]
        return [self.ref(text, path)]

    def join(self, a: int, b: int) -> None:
        """Join two nodes, where both are known."""
        if NONE not in (a, b):
            self.merger.join(a, b)
