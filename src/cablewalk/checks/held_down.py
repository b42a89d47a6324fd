"""What holds a service down at the end: the actions whose troubles are there still."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from cablewalk.checks.case import Case
from cablewalk.continuity.services import Continuity, State
from cablewalk.replay.change import Field
from cablewalk.replay.wiring import NONE


class Hold(NamedTuple):
    """An action that made a trouble which lasts to the end, and what it is."""

    position: int
    """Of the event, among those of the trace."""
    text: str


class _Since:
    """Since which action each trouble of each string has been there without a break."""

    def __init__(self, case: Case) -> None:
        self.wiring = case.wiring
        config = case.trace.start.copy()
        self.continuity = Continuity(config)
        self.of: dict[int, dict[str, int]] = {
            s: {t.text: NONE for t in verdict.troubles}
            for s, verdict in enumerate(self.continuity.verdicts)
        }
        self.events = case.trace.events
        self.thrown: dict[int, int] = {}
        """Switch to the position of the last event that put it otherwise."""
        self.parted: dict[int, int] = {}
        """Half to the position of the last event that began to part it."""
        self.route = {s: v.islands for s, v in enumerate(self.continuity.verdicts)}
        """String to the islands it ran over when it last stood."""
        for position, event in enumerate(self.events):
            config.apply(event.changes)
            for change in event.changes:
                if change.field is Field.STATE and self.wiring.items[change.item].kind == "switch":
                    self.thrown[change.item] = position
            if event.begins and event.task.verb == "demate":
                self.parted |= dict.fromkeys(event.mates, position)
            self.continuity.update(event.changes)
            for s, (_, new) in self.continuity.rejudged.items():
                before = self.of[s]
                self.of[s] = {t.text: before.get(t.text, position) for t in new.troubles}
                if not new.join_troubles:
                    self.route[s] = new.islands

    def holds(self, service: int) -> dict[Hold, None]:
        """Return what holds a service down, through the services it needs too."""
        found: dict[Hold, None] = {}
        row = self.wiring.services[service]
        for s in row.strings:
            for text, position in self.of[s].items():
                if position != NONE:
                    found[Hold(self._open(s, position), text)] = None
            for position, text in self._off(s):
                if all(self.events[at].task is not self.events[position].task for at, _ in found):
                    found[Hold(position, text)] = None
        for need in row.needs:
            if self.continuity.states[need] is State.DOWN:
                name = self.wiring.services[need].id
                for hold in self.holds(need):
                    found[Hold(hold.position, f"{name}: {hold.text}")] = None
        return found

    def _open(self, string: int, position: int) -> int:
        """Return the last demate that still parts the way a string had, for the one given.

        A gap reads the same whichever join of the way is open: the one that opened it first may be
        closed again while another is open.
        """
        config, wiring = self.continuity.config, self.wiring
        if self.events[position].task.verb != "demate":
            return position
        still = [
            at
            for half, at in self.parted.items()
            if config.link[half] == NONE or wiring.items[config.link[half]].kind == "cap"
            if wiring.items[half].owner != NONE
            and not self.route[string].isdisjoint(wiring.joints[half])
        ]
        return position if position in still or not still else max(still)

    def _off(self, string: int) -> Iterator[tuple[int, str]]:
        """Yield (position, feed) of the work's switch-offs that would keep a string down alone.

        A gap hides them: with no way to the load, what feeds it is not asked.
        """
        feeds = self.wiring.strings[string].feeds
        if any(self.continuity.feed_up[f] for f in feeds):
            return
        config = self.continuity.config
        for feed in feeds:
            row = self.wiring.feeds[feed]
            for switch in row.switches:
                if switch in self.thrown and config.state_name(switch) != "on":
                    yield self.thrown[switch], f"feed {row.id}"


def held_down(case: Case) -> dict[int, list[Hold]]:
    """Return, for each service that is down at the end, what holds it down, the last cause last.

    A trouble that was there at the start is nobody's doing and left out.
    """
    since = _Since(case)
    return {
        n: sorted(since.holds(n))
        for n, state in enumerate(since.continuity.states)
        if state is State.DOWN
    }
