"""Whether an inhibit held over its interval, and whether its end state was verified."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.checks.case import Case
from cablewalk.checks.logic import Known, truth
from cablewalk.checks.stated import Stated
from cablewalk.documents.inhibits import Expression, facts
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.walk.trace import Event


@dataclass(slots=True)
class Watched:
    """How an inhibit stood over its interval."""

    gaps: list[tuple[int, int, str]] = field(default_factory=list)
    """(from, to, why): mission seconds over which it did not hold."""
    unverified: tuple[str, ...] = ()
    """Facts that held but that its owner had not verified by the first action protected."""


class Watch:
    """An inhibit followed event by event: what is known of what it requires."""

    def __init__(self, case: Case, one: Stated, expression: Expression) -> None:
        self.case = case
        self.one = one
        self.expression = expression
        self.config = case.trace.start.copy()
        procedure = case.trace.phases[one.phase].plan.procedure
        self.owner = procedure.roles.get(one.inhibit.owner, one.inhibit.owner)
        self.vouched: dict[str, bool] = {}
        self.verified: dict[str, str] = {}
        self.switches = {case.wiring.by_id[f.name]: f.name for f in facts(expression) if f.state}

    def run(self) -> Watched:
        """Return how it stood over its interval, of a watch that has followed nothing yet."""
        found = Watched()
        one, events = self.one, self.case.trace.events
        zero = self.case.trace.phases[one.phase].start_s
        gap: tuple[int, str] | None = None
        first = one.touches[0].position if one.touches else NONE
        for position in range(-1, one.stop):
            if position >= 0:
                self.take(events[position])
            if position < one.start:
                continue
            time_s = max(zero, events[position].time_s) if position >= 0 else zero
            known = self._known(self.config)
            if truth(self.expression, known) is True:
                if gap is not None and time_s > gap[0]:
                    found.gaps.append((gap[0], time_s, gap[1]))
                gap = None
            elif gap is None:
                gap = (time_s, self._why(known))
            if position == first - 1 and truth(self.expression, known) is True:
                found.unverified = self._unverified(known)
        if gap is not None:
            over = events[one.stop].time_s if one.stop < len(events) else self.case.trace.end_s
            if over > gap[0]:
                found.gaps.append((gap[0], over, gap[1]))
        return found

    def fails(self) -> str:
        """Return why it does not hold after the events taken; empty where it does."""
        known = self._known(self.config)
        return "" if truth(self.expression, known) is True else self._why(known)

    def take(self, event: Event) -> None:
        """Follow one more event; each is given once, in order."""
        self.config.apply(event.changes)
        for change in event.changes:
            if change.field is Field.STATE and change.item in self.switches:
                self.verified.pop(self.switches[change.item], None)
        states = event.task.action.verify
        if event.begins or not isinstance(states, dict):
            return
        for name, words in states.items():
            if event.task.phase == self.one.phase and words in ("true", "false"):
                self.vouched[name] = words == "true"
            if self.owner in event.task.workers:
                self.verified[name] = words

    def _known(self, config: Configuration) -> dict[str, str | bool]:
        """Return what is known; a switch that is unknown or being moved is left out."""
        known: dict[str, str | bool] = dict(self.vouched)
        for switch, name in self.switches.items():
            state = config.state_name(switch)
            if state == "unknown" or config.moving(switch):
                continue
            # While it is being blocked or unblocked a switch is off, and no more than that.
            known[name] = state if config.claim[switch] == NONE else "off"
        return known

    def _why(self, known: Known) -> str:
        parts = []
        for fact in facts(self.expression):
            if truth(fact, known) is True:
                continue
            value = known.get(fact.name)
            if fact.state:
                parts.append(f"{fact.name} is {value or 'not known'}")
            else:
                parts.append(f"{fact.name} is {'withdrawn' if value is False else 'not verified'}")
        return ", ".join(dict.fromkeys(parts)) or "what it forbids is so"

    def _unverified(self, known: Known) -> tuple[str, ...]:
        """Return the facts still to verify; none where what is verified suffices by itself."""
        seen = {
            name: value
            for name, value in known.items()
            if isinstance(value, bool) or self.verified.get(name) in (value, "off")
        }
        if truth(self.expression, seen) is True:
            return ()
        missing = [f for f in facts(self.expression) if truth(f, known) and not truth(f, seen)]
        return tuple(map(str, missing))


def watch(case: Case, one: Stated) -> Watched:
    """Return how an inhibit stood, judged after every event of its interval."""
    if one.expression is None or not one.touches:
        return Watched()
    return Watch(case, one, one.expression).run()
