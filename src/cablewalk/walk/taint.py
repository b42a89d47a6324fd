"""Taint: which items a skipped action left otherwise than planned."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from cablewalk.continuity.services import Continuity, State
from cablewalk.findings import Finding
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import View

_LOOKS = frozenset({"inspect", "verify", "expect", "go_call", "wait"})
"""Verbs that change nothing: skipping one has no consequence for any item."""
_SPOTS = frozenset({"place", "person", "path", "tie point"})
_LIVE = frozenset({"live-contact", "live-exposed"})


class Taint:
    """Items touched by skipped actions, each with the id of the first step skipped."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.since: dict[str, str] = {}

    def named(self, task: Task) -> list[str]:
        """Return the ids an action names, and what belongs with them."""
        found = []
        for name in self._direct(task):
            found += [name, *self._kin(self.wiring.by_id[name])]
        return list(dict.fromkeys(found))

    def _direct(self, task: Task) -> list[str]:
        """Return the ids of the things an action names."""
        argument = task.action.argument
        words: list[str] = []
        if isinstance(argument, str):
            words = [argument]
        elif isinstance(argument, dict):
            for key, value in argument.items():
                words += [key, *(value if isinstance(value, tuple) else str(value).split())]
        names = [word.partition(".")[0] for word in words]
        items = self.wiring.items
        return [
            name
            for name in dict.fromkeys(names)
            if name in self.wiring.by_id and items[self.wiring.by_id[name]].kind not in _SPOTS
        ]

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

    def changed(self, task: Task) -> list[str]:
        """Return the ids whose state a skipped action leaves otherwise than planned."""
        if task.verb in _LOOKS:
            return []
        if task.verb == "walk":
            return list(task.workers)
        found = []
        for name in self._direct(task):
            item = self.wiring.by_id[name]
            found.append(name)
            found += [self.wiring.items[leg].id for leg in self.wiring.legs_of.get(item, ())]
        return list(dict.fromkeys(found))

    def add(self, names: Iterable[str], step: str) -> None:
        """Note that a skipped step left these items as they were."""
        for name in names:
            self.since.setdefault(name, step)

    def cause(self, names: Iterable[str]) -> str | None:
        """Return the skipped step that explains trouble with these items, or None."""
        return next((self.since[name] for name in names if name in self.since), None)

    def mark(
        self,
        finding: Finding,
        also: Iterable[str] = (),
        view: Callable[[int], View] | None = None,
    ) -> Finding:
        """Return the finding with the skipped step it follows from, if any.

        A contact is live for want of the switches in ``also``, not for what was done to it. What
        is wrong with a service while one it needs is down follows from what keeps that one down;
        ``view`` tells how a service stands; without it, that is not looked at.
        """
        names = also
        if finding.rule not in _LIVE:
            needed = self.needed_down(finding.items, view) if view is not None else ()
            names = (*finding.items, *also, *needed)
        cause = self.cause(names)
        return finding if cause is None else replace(finding, because_of=cause)

    def needed_down(self, names: Iterable[str], view: Callable[[int], View]) -> list[str]:
        """Return the ids of services that are down and that services of these names need."""
        wiring = self.wiring
        found: dict[int, None] = {}
        todo = [wiring.service_by_id[name] for name in names if name in wiring.service_by_id]
        while todo and self.since:
            needs = wiring.services[todo.pop()].needs
            fresh = [n for n in needs if n not in found and view(n).state is State.DOWN]
            found.update(dict.fromkeys(fresh))
            todo.extend(fresh)
        return [wiring.services[n].id for n in found]


def left_apart(continuity: Continuity, task: Task) -> list[str]:
    """Return the services whose strings a refused mate or switching would have altered."""
    wiring = continuity.config.wiring
    argument = task.action.argument
    near: set[int] = set()
    if task.verb in ("mate", "seat", "engage", "park"):
        a, b = (wiring.joints[wiring.by_id[name]] for name in next(iter(argument.items())))
        near = continuity.strings_near(a) & continuity.strings_near(b)
    elif task.verb in ("switch_off", "switch_on"):
        near = _behind(wiring, wiring.by_id[argument])
    return [wiring.services[n].id for n in sorted({wiring.strings[s].service for s in near})]


def _behind(wiring: Wiring, switch: int) -> set[int]:
    """Return the strings that list a feed behind this switch, or are selected by it."""
    feeds = {n for n, feed in enumerate(wiring.feeds) if switch in feed.switches}
    return {
        n
        for n, string in enumerate(wiring.strings)
        if string.selected_by == switch or not feeds.isdisjoint(string.feeds)
    }
