"""Mutations of documents: of their structure, so that most get past the models, and of their text.

All chance comes from the ``random.Random`` that is handed in: the same number makes the same input.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from copy import deepcopy
from typing import Any

from cablewalk.documents.actions import VERBS

from .emit import document
from .seeds import HEAVY, Seed, cases, demos
from .traps import NUMBERS, ON, ONTO, STATED, STATES, TRAPS
from .words import any_text, ids, keywords, kinds

Spot = tuple[Any, Any]
"""A group or list, and the key or position of one entry in it."""


class Mutator:
    """Mutates the documents of one input."""

    def __init__(self, rng: random.Random, documents: list[Any]) -> None:
        self.rng = rng
        self.documents = documents
        self.ids = ids(documents)
        self.kinds = kinds(documents)
        self.kind_of = {name: kind for kind, names in self.kinds.items() for name in names}

    # -- where ------------------------------------------------------------------------

    def spots(self, data: Any) -> list[Spot]:
        """Return every place in a document where a value stands."""
        found: list[Spot] = []
        rest = [data]
        while rest:
            group = rest.pop()
            entries = group.items() if isinstance(group, dict) else enumerate(group)
            for key, value in entries:
                found.append((group, key))
                if isinstance(value, dict | list):
                    rest.append(value)
        return found

    def spot(self) -> Spot | None:
        """Return one place of one document."""
        data = self.rng.choice(self.documents)
        found = self.spots(data) if isinstance(data, dict | list) else []
        return self.rng.choice(found) if found else None

    def name(self, kind: str | None = None) -> str:
        """Return an id of the documents: mostly of a kind, where one is told and there is any."""
        if kind in self.kinds and self.rng.random() < 0.9:
            return self.rng.choice(self.kinds[kind])
        return self.rng.choice(self.ids) if self.ids else "X"

    def lists(self, *names: str) -> list[list[Any]]:
        """Return the lists of steps (``steps``) or actions (``do``) of the procedures."""
        found = []
        for data in self.documents[1:]:
            for group, key in self.spots(data) if isinstance(data, dict | list) else ():
                if key in names and isinstance(group[key], list):
                    found.append(group[key])
        return found

    # -- what gets past the models ----------------------------------------------------

    def swap_id(self) -> None:
        """Replace an id by another, mostly of its kind, where it is told of or defined."""
        for _ in range(20):
            spot = self.spot()
            if spot is None:
                return
            group, key = spot
            if isinstance(key, str) and key not in keywords() and self.rng.random() < 0.3:
                _rename(group, key, self.name(self.kind_of.get(key)))
                return
            words = group[key].split() if isinstance(group[key], str) else []
            known = [n for n, w in enumerate(words) if w.partition(".")[0] in self.kind_of]
            if known:
                at = self.rng.choice(known)
                head, dot, tail = words[at].partition(".")
                words[at] = self.name(self.kind_of[head]) + dot + tail
                group[key] = " ".join(words)
                return

    def add_action(self) -> None:
        """Put an action of any verb on any items into a step."""
        lists = self.lists("do")
        if lists:
            actions = self.rng.choice(lists)
            actions.insert(self.rng.randint(0, len(actions)), self.action())

    def action(self) -> dict[str, Any]:
        """Return an action of any verb, mostly on items of a kind it acts on."""
        rng = self.rng
        kind = rng.choice([k for k in ON if k in self.kinds] or list(ON))
        verb = rng.choice(ON[kind]) if rng.random() < 0.95 else rng.choice(VERBS)
        argument: Any = self.name(kind)
        if verb in ("verify", "expect", "found") and not (verb == "verify" and kind == "services"):
            other = f" {self.name()}" if rng.random() < 0.5 else ""
            argument = {argument: rng.choice(STATES) + other}
        elif verb == "wait":
            argument = rng.choice(NUMBERS)
        elif verb in ("tie", "cut_tie", "route"):
            tail = rng.choice(("main", self.name("legs")))
            argument = {f"{self.name('harnesses')}.{tail}": self.name("paths")}
        elif verb in ONTO:
            argument = {argument: self.name(ONTO[verb])}
        elif verb in ("release", "fasten"):
            argument = {argument: rng.choice((None, "1", "2"))}
        made: dict[str, Any] = {verb: argument}
        if rng.random() < 0.3 or verb == "found":
            made["reason"] = "so it was"
        if rng.random() < 0.1:
            made["by"] = self.name("people")
        if rng.random() < 0.1:
            made["minutes"] = rng.choice(NUMBERS[:8])
        return made

    def shuffle(self) -> None:
        """Take the steps of a procedure, or the actions of a step, in another order."""
        lists = self.lists("steps", "do")
        if lists:
            self.rng.shuffle(self.rng.choice(lists))

    def drop(self) -> None:
        """Take one entry out: an action or step as often as anything else."""
        lists = self.lists("steps", "do")
        if lists and self.rng.random() < 0.5:
            chosen = self.rng.choice(lists)
            if chosen:
                del chosen[self.rng.randrange(len(chosen))]
            return
        spot = self.spot()
        if spot is not None and spot[1] not in ("cablewalk", "baseline", "procedure", "places"):
            del spot[0][spot[1]]

    def repeat(self) -> None:
        """Let one entry stand twice."""
        spot = self.spot()
        if spot is None:
            return
        group, key = spot
        if isinstance(group, list):
            group.insert(key, deepcopy(group[key]))
        elif key not in keywords():
            group[f"{self.name()}{self.rng.randrange(10)}"] = deepcopy(group[key])

    def graft(self) -> None:
        """Put what stands in one place into another."""
        spot, other = self.spot(), self.spot()
        if spot is not None and other is not None:
            spot[0][spot[1]] = deepcopy(other[0][other[1]])

    def alter_now(self) -> None:
        """Say that something stands otherwise now."""
        data = self.documents[0]
        now = data.setdefault("now", {}) if isinstance(data, dict) else None
        if not isinstance(now, dict):
            return
        state = self.rng.choice(tuple(STATED))
        kind, onto = STATED[state]
        if onto is None:
            now[state] = [self.name(kind)]
            return
        spots = now.setdefault(state, {})
        if isinstance(spots, dict):
            spots[self.name(kind)] = onto if onto.isdigit() else self.name(onto)

    # -- what the models should refuse ------------------------------------------------

    def trap(self) -> None:
        """Replace a text, or a key, by one that has hurt others."""
        spot = self.spot()
        if spot is None:
            return
        value = self.rng.choice((*TRAPS, any_text(self.rng)))
        group, key = spot
        if isinstance(group, dict) and self.rng.random() < 0.3:
            _rename(group, key, value)
        else:
            group[key] = value

    def number(self) -> None:
        """Replace a value, preferably a number, by an odd number."""
        for tries in range(12):
            spot = self.spot()
            if spot is None:
                return
            if str(spot[0][spot[1]])[:1].isdigit() or tries == 11:
                spot[0][spot[1]] = self.rng.choice(NUMBERS)
                return

    def retype(self) -> None:
        """Give a value another form."""
        spot = self.spot()
        if spot is None:
            return
        group, key = spot
        value = group[key]
        if isinstance(value, dict):
            group[key] = self.rng.choice((list(value), list(value.values()), " ".join(value), None))
        elif isinstance(value, list):
            group[key] = self.rng.choice(({str(n): v for n, v in enumerate(value)}, "x", None))
        else:
            group[key] = self.rng.choice(([value], {str(value): None}, {"x": value}, None, [], {}))

    def nest(self) -> None:
        """Put a value under many levels."""
        spot = self.spot()
        if spot is None:
            return
        value = spot[0][spot[1]]
        for _ in range(self.rng.choice((1, 2, 30, 60))):
            value = [value] if self.rng.random() < 0.5 else {"x": value}
        spot[0][spot[1]] = value

    def lengthen(self) -> None:
        """Let a text or a list be long."""
        spot = self.spot()
        if spot is None:
            return
        group, key = spot
        times = self.rng.choice((3, 30, 300))
        if isinstance(group[key], str):
            group[key] = f"{group[key]} " * times
        elif isinstance(group[key], list):
            group[key] = group[key] * min(times, 30)


SOFT: tuple[Callable[[Mutator], None], ...] = (
    Mutator.swap_id, Mutator.swap_id, Mutator.add_action, Mutator.add_action, Mutator.shuffle,
    Mutator.drop, Mutator.repeat, Mutator.alter_now,
)  # fmt: skip
HARD: tuple[Callable[[Mutator], None], ...] = (
    *SOFT, Mutator.graft, Mutator.trap, Mutator.trap, Mutator.number, Mutator.retype, Mutator.nest,
    Mutator.lengthen,
)  # fmt: skip


def _rename(group: dict[Any, Any], old: Any, new: Any) -> None:
    """Give an entry another key, in the same place."""
    entries = [(new if key == old else key, value) for key, value in group.items()]
    group.clear()
    group.update(entries)


def _spoil(rng: random.Random, raw: bytes) -> bytes:
    """Return a text with bytes of it changed, lost, doubled or put elsewhere."""
    data = bytearray(raw)
    for _ in range(rng.choice((1, 1, 2, 5, 40))):
        at, size = rng.randint(0, len(data)), rng.choice((1, 1, 3, 20, 200))
        kind = rng.randrange(6)
        if kind == 0:
            del data[at : at + size]
        elif kind == 1:
            data[at:at] = data[at : at + size]
        elif kind == 2:
            data[at : at + 1] = bytes([rng.randrange(256)])
        elif kind == 3:
            data[at:at] = rng.choice(TRAPS).encode()
        elif kind == 4:
            data[at:at] = rng.choice((b"[", b"{", b"- ", b"? ", b"\n", b"  ", b": ", b"&x ")) * size
        else:
            other = rng.randint(0, len(data))
            data[at:at] = data[other : other + size]
    return bytes(data[: 1 << 20])


def mutated(seed: int, number: int) -> tuple[str, list[bytes]]:
    """Return input ``number`` of a run: the name of what it was made from, and its documents."""
    rng = random.Random(f"{seed}:{number}")
    heavy = [demo for demo in demos() if demo is not demos()[1]]
    origin: Seed = rng.choice(heavy if rng.random() < HEAVY else cases())
    documents: list[Any] = deepcopy(list(origin.documents))
    kind = rng.random()
    if origin in heavy and len(documents) > 2 and rng.random() < 0.7:
        documents = [documents[0], rng.choice(documents[1:])]
    mutator = Mutator(rng, documents)
    if kind < 0.9:
        chosen = SOFT if kind < 0.55 else HARD
        for _ in range(min(12, 1 + int(rng.expovariate(0.4)))):
            rng.choice(chosen)(mutator)
    if rng.random() < 0.02:
        documents.reverse()
    raw = [document(data) for data in documents]
    if kind >= 0.9:
        at = rng.randrange(len(raw))
        raw[at] = _spoil(rng, raw[at])
    return origin.name, raw
