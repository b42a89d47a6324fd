"""The subject of a question: the contact, item, feed or service that a text names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cablewalk.findings import nearest
from cablewalk.replay.wiring import NONE, Wiring

ITEM_KINDS: Final = frozenset(
    {"half", "leg", "harness", "segment", "switch", "cover", "unit", "panel", "cap"}
)
"""Kinds of item one can ask about."""

ASKABLE: Final = (
    "a contact (J1.3), a terminal (UNIT.hi), a half or leg, harness, segment (W1.main), cap, "
    "cover, panel, unit, feed, switch, service or string (heat.a)"
)


@dataclass(frozen=True, slots=True)
class Subject:
    """What is asked about.

    Attributes:
        text: the id as asked.
        kind: ``contact``, ``terminal``, ``feed``, ``service``, ``string``, or an item's kind.
        item: the item; for a contact its half or cap, for a terminal or feed its unit.
        number: contact position, or terminal, feed, service or string number; else NONE.
    """

    text: str
    kind: str
    item: int = NONE
    number: int = NONE


def find_subject(wiring: Wiring, text: str) -> Subject | str:
    """Return what a text names, or a sentence that tells why it names nothing to ask about."""
    item = wiring.by_id.get(text, NONE)
    if item != NONE:
        kind = wiring.items[item].kind
        if kind in ITEM_KINDS:
            return Subject(text, kind, item)
        article = "an" if kind[0] in "aeiou" else "a"
        return f"{text!r} is {article} {kind}; one can ask about {ASKABLE}"
    if text in wiring.service_by_id:
        return Subject(text, "service", NONE, wiring.service_by_id[text])
    if text in wiring.feed_by_id:
        number = wiring.feed_by_id[text]
        return Subject(text, "feed", wiring.feeds[number].unit, number)
    for number, string in enumerate(wiring.strings):
        if string.id == text:
            return Subject(text, "string", NONE, number)
    if text in wiring.terminal_by_name:
        number = wiring.terminal_by_name[text]
        return Subject(text, "terminal", wiring.terminals[number].owner, number)
    return _contact(wiring, text)


def _contact(wiring: Wiring, text: str) -> Subject | str:
    """Return the contact a text names, or the sentence for what is unknown."""
    owner, dot, name = text.partition(".")
    item = wiring.by_id.get(owner, NONE)
    names = [*wiring.contact_names.get(item, ()), "shell"] if item in wiring.contact_names else []
    if dot and name in names:
        return Subject(text, "contact", item, names.index(name))
    if dot and names:
        return _unknown(f"{owner} has no contact {name!r}", name, names)
    if dot and item != NONE:
        own = [t.name.partition(".")[2] for t in wiring.terminals if t.owner == item]
        own += [wiring.items[s].id.partition(".")[2] for s in wiring.segments_of.get(item, ())]
        what = "segment" if wiring.items[item].kind == "harness" else "terminal"
        return _unknown(f"{owner} has no {what} {name!r}", name, own)
    known = [i for i, n in wiring.by_id.items() if wiring.items[n].kind in ITEM_KINDS]
    known += [*wiring.service_by_id, *wiring.feed_by_id, *(s.id for s in wiring.strings)]
    known += wiring.terminal_by_name
    return _unknown(f"nothing here is called {text!r}", text, list(dict.fromkeys(known)))


def _unknown(sentence: str, wanted: str, known: list[str]) -> str:
    hint = nearest(wanted, known)
    return f"{sentence}; {hint}" if hint else sentence


def island_of(wiring: Wiring, subject: Subject) -> int:
    """Return the island of a contact or terminal; NONE for a contact that joins nothing."""
    if subject.kind == "terminal":
        return wiring.terminals[subject.number].island
    joints = wiring.joints[subject.item]
    return joints[subject.number] if joints else NONE
