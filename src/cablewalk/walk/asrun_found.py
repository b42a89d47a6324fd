"""Services and strings an entry says were found: let so, and what the model had told."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import Moment
from cablewalk.schedule.tasks import Plan, Task
from cablewalk.walk.asrun_believe import BelievingFold
from cablewalk.walk.asrun_entry import Key
from cablewalk.walk.asrun_strings import string_named
from cablewalk.walk.trace import Trace
from cablewalk.walk.words import holds


@dataclass(frozen=True, slots=True)
class Override:
    """An entry that says what the model did not have: what was set, and what stood before."""

    key: Key
    before: dict[str, str]
    states: dict[str, str]
    refusal: str
    """Why the model held the action impossible; empty for what was found or verified."""
    expected: str


class FoundFold(BelievingFold):
    """A fold in which what an entry found goes before the model, and is told beside it."""

    def __init__(self, trace: Trace, config: Configuration) -> None:
        super().__init__(trace, config, keep_going=True)
        self.overrides: dict[Key, Override] = {}

    def is_found_down(self, service: int) -> bool:
        """Return whether what was seen has a service down, itself or too many of its strings."""
        row = self.config.wiring.services[service]
        dead = self.said_dead.intersection(row.strings)
        return service in self.said_down or len(row.strings) - len(dead) < row.need

    def _found_services(self, moment: Moment, plan: Plan) -> None:
        """Let the services that were found down, or up again, be so."""
        wiring, key = self.config.wiring, key_of(moment.task)
        found = moment.task.action.found or {}
        for name, words in found.items():
            if (string := string_named(wiring, name)) != NONE:
                self._found_string(moment, plan, string, words)
                continue
            n = wiring.service_by_id.get(name)
            if n is None or name in wiring.by_id:
                continue
            before = self.views[n].words
            state = (words or "").split()[0]
            if state == "unproven":
                self._tell(moment, plan, {n}, n)
            else:
                self.believe(moment, plan, n, down=state == "down")
            stands = self.views[n].words.split()[0]
            so = holds(self.config, self.views, name, state)
            refusal, expected = f"{name} is {self.views[n].words} by its joins", ""
            if not so and (state, stands) == ("reduced", "up"):
                refusal, expected = self._which_string(n)
            self._found_so(key, name, before, state, None if so else (refusal, expected))

    def _which_string(self, service: int) -> tuple[str, str]:
        """Return why a service found reduced is not so in the model, and what would say it."""
        row, strings = self.config.wiring.services[service], self.config.wiring.strings
        said = f"{row.id} is up by its joins"
        if len(row.strings) < 2:
            return f"{said}, and has but one string: it is up or down", f"'found {row.id} down'"
        names = " or ".join(f"'found {strings[s].id} down'" for s in row.strings)
        return f"{said}: which of its strings is down is not said", names

    def _found_string(self, moment: Moment, plan: Plan, string: int, words: str) -> None:
        """Let one string that was found down, or up again, be so."""
        name, key = self.config.wiring.strings[string].id, key_of(moment.task)
        before = self._standing(string)
        state = (words or "").split()[0]
        self.believe_string(moment, plan, string, down=state == "down")
        stands = self._standing(string)
        why_not = f"{name} is {stands} by its joins", self.overrides[key].expected
        self._found_so(key, name, before, state, None if stands == state else why_not)

    def _found_so(
        self, key: Key, name: str, before: str, state: str, why_not: tuple[str, str] | None
    ) -> None:
        """Let an entry say one thing more: how it stood, and what it is since.

        ``why_not``: why it is not what was found, and what was expected; None: it is.
        """
        old = self.overrides[key]
        refusal, expected = why_not or (old.refusal, old.expected)
        self.overrides[key] = replace(
            old,
            before={**old.before, name: before},
            states=old.states if why_not else {**old.states, name: state},
            refusal=refusal,
            expected=expected,
        )

    def _standing(self, string: int) -> str:
        """Return how a string stands, by what was seen and by its joins."""
        row = self.config.wiring.strings[string]
        own = self.config.wiring.services[row.service].strings.index(string)
        return str(self.views[row.service].strings[own])

    def believe_string(self, moment: Moment, plan: Plan, string: int, down: bool) -> None:
        """Let a string be down, or no longer be so, because somebody saw it; it owes a test."""
        service = self.config.wiring.strings[string].service
        was_down = self.is_down(service)
        (self.said_dead.add if down else self.said_dead.discard)(string)
        if was_down and not self.is_down(service):
            self.found_up.append((service, moment.time_s))
        owed = Change(Field.DISTURBED, string, self.config.disturbed[string], 1)
        self._happen(moment, plan, (), (), [*self._owing(self._moved(), None), owed], frozenset())


def key_of(task: Task) -> Key:
    """Return phase and serial of the entry a task stands for."""
    return task.phase, task.serial
