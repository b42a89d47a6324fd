"""Taint: which items a skipped action left otherwise than planned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cablewalk.findings import Finding
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.schedule.tasks import Task


class Taint:
    """Items touched by skipped actions, each with the id of the first step skipped."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.since: dict[str, str] = {}

    def named(self, task: Task) -> list[str]:
        """Return the ids an action names, and what belongs with them."""
        argument = task.action.argument
        words: list[str] = []
        if isinstance(argument, str):
            words = [argument]
        elif isinstance(argument, dict):
            for key, value in argument.items():
                words += [key, *(value if isinstance(value, tuple) else str(value).split())]
        found = []
        for word in words:
            name = word.partition(".")[0]
            item = self.wiring.by_id.get(name, NONE)
            if item == NONE or self.wiring.items[item].kind in (
                "place",
                "person",
                "path",
                "tie point",
            ):
                continue
            found.append(name)
            found += self._kin(item)
        return list(dict.fromkeys(found))

    def _kin(self, item: int) -> list[str]:
        """Return the harness of a leg's half, or a harness's legs; and the caps of these."""
        wiring = self.wiring
        leg = wiring.leg_of.get(item, NONE)
        harness = wiring.items[leg].owner if leg != NONE else item
        kin = [harness, *(wiring.half_of.get(x, x) for x in wiring.legs_of.get(harness, ()))]
        halves = [item] if leg != NONE else kin
        kin = [harness] if leg != NONE else kin
        kin += [wiring.cap_of[half] for half in halves if half in wiring.cap_of]
        return [wiring.items[i].id for i in kin if i != item]

    def add(self, names: Iterable[str], step: str) -> None:
        """Note that a skipped step left these items as they were."""
        for name in names:
            self.since.setdefault(name, step)

    def cause(self, names: Iterable[str]) -> str | None:
        """Return the skipped step that explains trouble with these items, or None."""
        return next((self.since[name] for name in names if name in self.since), None)

    def mark(self, finding: Finding) -> Finding:
        """Return the finding with the skipped step it follows from, if any."""
        cause = self.cause(finding.items)
        return finding if cause is None else replace(finding, because_of=cause)
