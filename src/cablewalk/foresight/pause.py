"""Pauses: how long work may stand still, and then go on as planned, before a clock runs out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from cablewalk.timeline.account import Account
from cablewalk.timeline.clocks import Reading
from cablewalk.timeline.limits import Judged, judge_likely
from cablewalk.timeline.spells import Spell, start_s
from cablewalk.walk.trace import Event


class Room(NamedTuple):
    """Room for a pause: seconds, negative where a clock is overrun without any; and what ends it.

    ``ends`` is the id of a service, or ``consumables``, ``turn-back`` or ``decision ID``.
    """

    seconds: int
    ends: str


@dataclass
class Pauses:
    """A replay as planned, asked what of it has come about after so many of its events.

    Events at one time have an order, so moments are told by how many events have happened.
    """

    account: Account
    order: dict[int, int] = field(init=False)
    """Identity of an event to its position; the trace holds the events."""
    limits: list[Judged] = field(init=False)

    def __post_init__(self) -> None:
        self.order = {id(event): n for n, event in enumerate(self.account.trace.events)}
        self.limits = judge_likely(self.account)

    def time_s(self, position: int) -> int:
        """Return when the last of so many events happened; at the start for none."""
        trace = self.account.trace
        return trace.events[position - 1].time_s if position else start_s(trace)

    def lasts(self, spell: Spell, position: int) -> bool:
        """Return whether a service is down, and not reconnected yet."""
        again = spell.restored_by
        return self._over(spell.lost_by, position) and not (again and self._over(again, position))

    def recovers(self, spell: Spell, position: int) -> bool:
        """Return whether a service is reconnected, and does not count as back yet."""
        again = spell.restored_by
        if again is None or spell.to_s is None or not self._over(again, position):
            return False
        return self.time_s(position) < spell.to_s

    def runs(self, reading: Reading, position: int) -> bool:
        """Return whether a clock runs, of an outage that lasts."""
        from_s, now_s = reading.runs_from_s, self.time_s(position)
        if from_s is None or from_s != now_s or reading.spell.from_s == from_s:
            return from_s is not None and from_s <= now_s
        strings = self.account.trace.wiring.services[reading.spell.service].strings
        return any(
            not event.joins_broken.isdisjoint(strings)
            for event in self.account.trace.events[:position]
            if event.time_s == now_s
        )

    def room(self, phase: int, position: int) -> Room | None:
        """Return how long work may stand still and then go on as planned, or None.

        None: no clock runs, and no limit of the phase is still to come. Actions take their likely
        minutes before and after. A pause lengthens each outage that lasts as it begins; where
        nothing resets a clock, what the pause uses is missing in the outages after it.

        Args:
            phase: the phase under way.
            position: how many events have happened as work stops.
        """
        found = [*self._clocks(position), *self._limits(phase, position)]
        return min(found, key=lambda row: row.seconds, default=None)

    def _over(self, event: Event | None, position: int) -> bool:
        """Return whether an event has happened; what came before the replay has."""
        return event is None or self.order[id(event)] < position

    def _clocks(self, position: int) -> Iterator[Room]:
        services = self.account.trace.wiring.services
        for n, spell in enumerate(self.account.outages):
            if not self.lasts(spell, position):
                continue
            for reading in self.account.readings[n]:
                if self.runs(reading, position):
                    least = min(r.margin_s for r in self._same_use(reading))
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

    def _limits(self, phase: int, position: int) -> Iterator[Room]:
        for judged in self.limits:
            if judged.phase == phase and not self._met(judged, position):
                name = f"{judged.what} {judged.name}".strip()
                yield Room(judged.limit_s - judged.likely_s, name)

    def _met(self, judged: Judged, position: int) -> bool:
        """Return whether what a limit asks about has come about."""
        trace = self.account.trace
        due_s = judged.likely_s + trace.phases[judged.phase].zero_s
        if judged.what != "turn-back" or due_s != self.time_s(position):
            return due_s <= self.time_s(position)
        here = (e.task for e in trace.events[:position] if e.time_s == due_s)
        return any(t.phase == judged.phase and t.step_id == judged.step for t in here)
