"""What a difference is sorted into, and the facts about one thing that differ."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STATEFUL
from cablewalk.reports.base import Part

Section = Literal[
    "removed",
    "added",
    "moved",
    "re-routed",
    "newly capped",
    "newly uncapped",
    "stowed",
    "set otherwise",
    "disturbed",
]

SECTIONS: Final[dict[Section, str]] = {
    "removed": "Joined, laid or in its place before, and not after.",
    "added": "Joined, laid or in its place after, and not before.",
    "moved": "Mated, kept or held elsewhere than before, or by another.",
    "re-routed": "The same ends as before, over other connectors, paths or ties.",
    "newly capped": "A protective cap is newly on this half.",
    "newly uncapped": "A protective cap is newly off this half.",
    "stowed": "Newly put away for later, at a place or in a bag.",
    "set otherwise": "Where it was, in another state: a lock, a switch, a cover.",
    "disturbed": "As before, but opened, handled or doubted in between; the retest owed is named.",
}
"""Section of a difference to what it means, in the order in which they stand."""

Fact = Literal[
    "state", "mated to", "cap state", "cap where", "leg state", "where", "along", "ties", "fastened"
]


class FactRow(Part):
    """One fact about one thing that is not as before."""

    item: str = Field(description="Id of the half (for its leg too), segment, cap or other thing.")
    fact: Fact = Field(description="Which fact.")
    before: str = Field(description="What it was: a state, or ids with blanks between; may be ''.")
    after: str = Field(description="What it is.")


class ChangeRow(Part):
    """One thing that is not as before, or was disturbed."""

    section: Section = Field(
        description="What it is sorted into, as in the text: "
        + " ".join(f"{name}: {meaning}" for name, meaning in SECTIONS.items())
    )
    place: str = Field(description="Id of the place; empty: not known.")
    kind: str = Field(
        description="half, leg, segment, cap, bag, cover, switch, unit or panel; string for a way "
        "of providing a service."
    )
    item: str = Field(description="Its id.")
    label: str = Field(
        description="Its label as marked; where it has none, that of its harness, panel or unit."
    )
    was: str = Field(description="How it stood, in words.")
    now: str = Field(description="How it stands, in words.")
    strings: tuple[str, ...] = Field(
        description="Strings that run over it: before where it is removed, before or after where "
        "it was disturbed, else after."
    )
    retest: tuple[str, ...] = Field(
        description="Services with strings over it that were disturbed and not verified since, "
        "up or not."
    )
    facts: tuple[FactRow, ...] = Field(
        description="All that differs. What follows from it is left out: that of a fixed half's "
        "mate stands at the half mated with it, and its own row has none."
    )


Facts = dict[tuple[int, Fact], str]
"""(item, fact) to its value in words; the facts of a leg stand under the leg."""


def facts_of(config: Configuration) -> Facts:
    """Return every fact that a difference compares.

    Of a half the state is no fact of its own where a cap or the lack of a mate tells it.
    """
    wiring = config.wiring
    found: Facts = {}

    def name(item: int) -> str:
        return "" if item == NONE else wiring.items[item].id

    for n, item in enumerate(wiring.items):
        state = config.state_name(n) if item.kind in STATEFUL else ""
        link = config.link[n]
        if item.kind == "half":
            mated = link != NONE and wiring.items[link].kind == "half"
            if item.role == "free":
                found[n, "mated to"] = name(link) if mated else ""
                found[n, "state"] = state if mated else ""
        elif item.kind == "leg":
            found[n, "leg state"], found[n, "where"] = state, name(link)
        elif item.kind == "cap":
            found[n, "cap state"], found[n, "cap where"] = state, name(link)
        elif item.kind == "segment":
            found[n, "along"] = " ".join(name(path) for path in config.along[n])
            found[n, "ties"] = " ".join(name(point) for point in config.ties[n])
        elif item.kind in ("unit", "panel", "cover", "switch", "bag"):
            found[n, "state"], found[n, "where"] = state, name(link)
            if item.kind == "cover":
                found[n, "fastened"] = str(config.count[n])
    return found
