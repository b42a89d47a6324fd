"""Two moments compared: the facts that differ, what was touched in between, what is owed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from cablewalk.replay.change import Field as Column
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.reports.table_change import (
    ChangeRow,
    Fact,
    FactRow,
    Facts,
    Section,
    facts_of,
)
from cablewalk.reports.table_half import owner_of
from cablewalk.reports.table_moment import Moment

T = TypeVar("T")

_FACTS: dict[str, tuple[Fact, ...]] = {
    "half": ("mated to", "state"),
    "leg": ("leg state", "where"),
    "segment": ("along", "ties"),
    "cap": ("cap state", "cap where"),
    "bag": ("state", "where"),
    "unit": ("state", "where"),
    "panel": ("state", "where"),
    "switch": ("state", "where"),
    "cover": ("state", "where", "fastened"),
}


class Difference:
    """Compares two moments of one replay, the first no later than the second."""

    def __init__(self, before: Moment, after: Moment) -> None:
        self.before, self.after = before, after
        self.wiring = before.scene.wiring
        self.was: Facts = facts_of(before.scene.config)
        self.now: Facts = facts_of(after.scene.config)
        self.told: set[int] = set()
        """Segments that stand in the row of their leg."""
        self.rows: list[tuple[tuple[int, int, int], ChangeRow]] = []
        """Each with (place, panel or harness, item), to sort by."""
        self.touched = self._touched()
        self.over = tuple(_over(moment) for moment in (before, after))

    def _touched(self) -> set[int]:
        """Return the halves, caps and legs whose state or link any event in between altered."""
        events = self.after.account.trace.events[self.before.position : self.after.position]
        return {
            change.item
            for event in events
            for change in event.changes
            if change.field in (Column.STATE, Column.LINK)
        }

    def facts(self, item: int) -> tuple[FactRow, ...]:
        """Return what differs about one thing."""
        name = self.wiring.items[item].id
        return tuple(
            FactRow(item=name, fact=fact, before=self.was[item, fact], after=self.now[item, fact])
            for fact in _FACTS[self.wiring.items[item].kind]
            if self.was.get((item, fact)) != self.now.get((item, fact))
        )

    def add(
        self,
        section: Section,
        item: int,
        words: tuple[str, str],
        facts: Iterable[FactRow] = (),
        at: int = NONE,
        over: Iterable[int] = (),
    ) -> None:
        """Add a row. ``at``: the item that tells the place; ``over``: what strings run over."""
        wiring = self.wiring
        entry = wiring.items[item]
        label = entry.label
        if not label and entry.kind in ("half", "leg", "segment"):
            part = wiring.leg_of.get(item, item)
            label = wiring.items[wiring.items[part].owner].label
        moment = self.before if section == "removed" else self.after
        place = moment.place(item if at == NONE else at)
        # Over what was disturbed there runs, for a retest, also what ran before and is down now.
        sides = {"removed": self.over[:1], "disturbed": self.over}.get(section, self.over[1:])
        runs = set().union(*(side.get(n, set()) for side in sides for n in over))
        near = item if at == NONE else at
        rank = (near, item)
        if wiring.items[near].kind in ("half", "leg"):
            rank = (owner_of(moment, near), near)
        self.put(section, place, rank, entry.kind, entry.id, label, words, runs, facts)

    def put(
        self,
        section: Section,
        place: int,
        rank: tuple[int, int],
        kind: str,
        name: str,
        label: str,
        words: tuple[str, str],
        strings: Iterable[int],
        facts: Iterable[FactRow] = (),
    ) -> None:
        """Add a row of anything that has a name."""
        wiring, strings = self.wiring, sorted(strings)
        row = ChangeRow(
            section=section,
            place="" if place == NONE else wiring.items[place].id,
            kind=kind,
            item=name,
            label=label,
            was=words[0],
            now=words[1],
            strings=tuple(wiring.strings[s].id for s in strings),
            retest=self.owed(strings) if section != "removed" else (),
            facts=tuple(facts),
        )
        self.rows.append(((len(wiring.items) if place == NONE else place, *rank), row))

    def both(self, tell: Callable[[Configuration], T]) -> tuple[T, T]:
        """Return what is told of both moments."""
        return tell(self.before.scene.config), tell(self.after.scene.config)

    def owed(self, strings: Iterable[int]) -> tuple[str, ...]:
        """Return the services, alive after, with a string disturbed and not verified since.

        Up or not: the retest of a string that is still switched off is owed all the same.
        """
        wiring, views = self.wiring, self.after.scene.views
        services = {wiring.strings[s].service for s in strings if self.after.disturbed(s)}
        return tuple(wiring.services[n].id for n in sorted(services) if views[n].life == ALIVE)


def _over(moment: Moment) -> dict[int, set[int]]:
    """Return half or cap to the strings over it; those of services not alive are left out."""
    wiring, views = moment.scene.wiring, moment.scene.views
    found: dict[int, set[int]] = {}
    for course in moment.courses:
        if views[wiring.strings[course.string].service].life == ALIVE:
            for item in course.halves:
                found.setdefault(item, set()).add(course.string)
    return found
