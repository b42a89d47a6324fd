"""Pauses: how long work may stand still, and then go on as planned, before a clock runs out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.foresight.cut import Cut
from cablewalk.foresight.moments import Moment
from cablewalk.replay.configuration import ALIVE
from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import Reading
from cablewalk.timeline.limits import Judged, judge_likely
from cablewalk.timeline.spells import Spell
from cablewalk.walk.trace import Event, Trace, View


class Room(NamedTuple):
    """Room for a pause: seconds, negative where something is overrun without any; what ends it.

    ``ends`` is the id of a service, or ``consumables``, ``turn-back`` or ``decision ID``.
    """

    seconds: int
    ends: str


@dataclass
class Pauses:
    """A replay as planned, asked how long it may stand still at a moment.

    Actions take their likely minutes before and after. A pause lengthens each outage that lasts as
    it begins; where nothing resets a clock, what the pause uses is missing in the outages after it.
    Slack before a fixed time, which would take up some of a pause, is not counted.
    """

    account: Account
    limits: list[Judged] = field(init=False)
    due: list[int | None] = field(init=False)
    """For each limit the position of the event by which it is met."""
    shifts: dict[int, list[tuple[int, Event, View]]] = field(init=False)
    """Service to the position of each event that alters it, and how it stands after."""
    planned: dict[tuple[int, int], int] = field(init=False)
    """(service, when it went down) to the position of that outage in the account."""

    def __post_init__(self) -> None:
        self.limits = judge_likely(self.account)
        self.due = [_due(self.account.trace, judged) for judged in self.limits]
        self.shifts = {}
        for n, event in enumerate(self.account.trace.events):
            for shift in event.shifts:
                self.shifts.setdefault(shift.service, []).append((n, event, shift.after))
        self.planned = {(s.service, s.from_s): n for n, s in enumerate(self.account.outages)}

    def ends(self, spell: Spell, position: int) -> tuple[Event | None, bool]:
        """Return the event by which the plan ends an outage after a moment; whether it retires it.

        That it is lost again before it counts as back is another matter.
        """
        if spell.said:
            n = self.planned.get((spell.service, spell.from_s))
            ended = None if n is None else self.account.outages[n]
            return (ended.restored_by, ended.retired) if ended else (None, False)
        for at, event, view in self.shifts.get(spell.service, ()):
            if at >= position and (view.life != ALIVE or view.state is not State.DOWN):
                return event, view.life != ALIVE
        return None, False

    def rooms(self, cut: Cut) -> list[Room]:
        """Return what ends a pause at a moment, the soonest first; empty: nothing that is judged.

        Where the plan does not bring a service back, that is its deadline.
        """
        found = [*self._clocks(cut), *self._limits(cut.moment)]
        return sorted(found, key=lambda room: room.seconds)

    def _clocks(self, cut: Cut) -> Iterator[Room]:
        services = self.account.trace.wiring.services
        for spell, readings in cut.down:
            running = [r for r in readings if r.reconnect_by_s is not None]
            if not running:
                continue
            later = self.planned.get((spell.service, spell.from_s))
            if later is None or self.account.outages[later].to_s is None:
                least = min(r.reconnect_by_s or 0 for r in running) - cut.moment.time_s
            else:
                known = {r.number: r for r in self.account.readings[later]}
                least = min(
                    r.margin_s for own in running for r in self._same_use(known[own.number])
                )
            yield Room(least, services[spell.service].id)

    def _same_use(self, reading: Reading) -> Iterator[Reading]:
        """Yield a reading of a clock, and those after it that count what it used."""
        yield reading
        total_s = reading.total_s
        later = (
            other
            for n, spell in enumerate(self.account.outages)
            if spell.service == reading.spell.service and spell.from_s > reading.spell.from_s
            for other in self.account.readings[n]
            if other.number == reading.number
        )
        for other in later:
            if other.used_before_s != total_s:
                return  # it was reset
            yield other
            total_s = other.total_s

    def _limits(self, moment: Moment) -> Iterator[Room]:
        for judged, due in zip(self.limits, self.due, strict=True):
            zero_s = self.account.trace.phases[judged.phase].zero_s
            met = (
                judged.likely_s + zero_s <= moment.time_s if due is None else due < moment.position
            )
            if judged.phase == moment.phase and not met:
                name = f"{judged.what} {judged.name}".strip()
                yield Room(judged.limit_s - judged.likely_s, name)


def _due(trace: Trace, judged: Judged) -> int | None:
    """Return the position of the event by which a limit is met; None: it asks about none."""
    of = [
        n
        for n, event in enumerate(trace.events)
        if event.task.phase == judged.phase and judged.step in ("", event.task.step_id)
    ]
    if not of:
        return None
    return of[0] if judged.what == "turn-back" else of[-1]
