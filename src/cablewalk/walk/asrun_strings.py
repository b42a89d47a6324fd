"""Strings found down, or up again: one of a redundant service may be dead, and no join tells."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.walk.fold import Fold
from cablewalk.walk.trace import Trace, View


def string_named(wiring: Wiring, name: str) -> int:
    """Return the string ``SERVICE.STRING`` of a service that has several, or NONE."""
    n = wiring.service_by_id.get(name.rpartition(".")[0])
    strings = wiring.services[n].strings if n is not None else ()
    own = (s for s in strings if len(strings) > 1 and wiring.strings[s].id == name)
    return next(own, NONE)


class StringsFold(Fold):
    """A fold in which a string is down as it was found, until it or its service is found up.

    Its service is what the other strings make of it. It owes a test from then on.
    """

    def __init__(
        self, trace: Trace, config: Configuration, keep_going: bool, dead: Iterable[int] = ()
    ) -> None:
        self.said_dead: set[int] = set(dead)
        """Strings found down, whatever their joins say."""
        super().__init__(trace, config, keep_going)

    def _dead_services(self) -> set[int]:
        """Return the services one of whose strings was found down."""
        return {self.config.wiring.strings[s].service for s in self.said_dead}

    def _revive(self, service: int) -> None:
        """Let no string of a service be dead any longer: it was found up."""
        self.said_dead.difference_update(self.config.wiring.services[service].strings)

    def _own_state(self, number: int) -> State:
        """Return how a service stands by its own strings alone."""
        service = self.config.wiring.services[number]
        verdicts = self.continuity.verdicts
        standings = [
            Standing.DOWN if s in self.said_dead else verdicts[s].standing for s in service.strings
        ]
        if standings.count(Standing.UP) < service.need:
            return State.DOWN
        return State.REDUCED if Standing.DOWN in standings else State.UP

    def _unproven(self, number: int) -> list[int]:
        return [s for s in super()._unproven(number) if s not in self.said_dead]

    def _view(self, number: int) -> View:
        view = super()._view(number)
        strings = self.config.wiring.services[number].strings
        if self.said_dead.isdisjoint(strings):
            return view
        dead = [s in self.said_dead for s in strings]
        return view._replace(
            strings=tuple(
                Standing.DOWN if d else standing
                for d, standing in zip(dead, view.strings, strict=True)
            ),
            via=tuple(() if d else paths for d, paths in zip(dead, view.via, strict=True)),
        )
