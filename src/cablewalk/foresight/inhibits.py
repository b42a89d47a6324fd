"""Inhibits at a moment: which must hold, and whether they do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.checks.case import Case
from cablewalk.checks.interval import Watch
from cablewalk.checks.stated import Stated
from cablewalk.documents.inhibits import Inhibit
from cablewalk.foresight.moments import Moment
from cablewalk.walk.trace import Event


@dataclass(frozen=True, slots=True)
class Held:
    """An inhibit that must hold. ``fails``: why it does not; empty: it holds."""

    inhibit: Inhibit
    fails: str


class Inhibits:
    """The inhibits of a plan, followed event by event."""

    def __init__(self, case: Case) -> None:
        events = case.trace.events
        self.begins: dict[tuple[int, str], int] = {}
        self.ends: dict[tuple[int, str], int] = {}
        self.over: dict[int, int] = {}
        """Phase to the position at which all of its events have happened."""
        for n, event in enumerate(events):
            key = event.task.phase, event.task.step_id
            self.begins.setdefault(key, n)
            self.ends[key] = n
            self.over[event.task.phase] = n + 1
        self.watches = [
            (one, Watch(case, one, one.expression)) for one in case.stated if one.expression
        ]

    def take(self, event: Event) -> None:
        """Follow one more event."""
        for _, watch in self.watches:
            watch.take(event)

    def held(self, moment: Moment) -> Iterator[Held]:
        """Yield each inhibit that must hold once the events before a moment are taken."""
        for one, watch in self.watches:
            if one.phase == moment.phase and self._binds(one, moment.position):
                yield Held(one.inhibit, watch.fails())

    def _binds(self, one: Stated, position: int) -> bool:
        """Return whether an inhibit must hold: from when it is set until its release begins.

        Without a step that sets it: from just before the first action that it protects. Without
        one that releases it: until the phase is over.
        """
        start = self.ends.get((one.phase, one.inhibit.set_by or ""))
        if start is None:
            if not one.touches:
                return False
            start = one.start
        release = self.begins.get((one.phase, one.inhibit.until or ""))
        over = self.over.get(one.phase, 0)
        return start < position and (position < over if release is None else position <= release)
