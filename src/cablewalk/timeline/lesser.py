"""Lesser spells: a service reduced, or up but unproven; and which strings are left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
from cablewalk.replay.configuration import ALIVE
from cablewalk.timeline.spells import NEVER_S, Spell, histories
from cablewalk.walk.trace import Trace


def lesser_spells(trace: Trace, back_s: Mapping[int, Sequence[tuple[int, int]]]) -> list[Spell]:
    """Return the times each service was reduced, and those it was up but unproven.

    ``back_s``: service to (from, to) of each time in which it was not up yet, recovery included:
    such a time is no time of being reduced or unproven. Mission elapsed seconds.
    """
    found: list[Spell] = []
    for n, moments in enumerate(histories(trace)):
        for kind in ("reduced", "unproven"):
            current: Spell | None = None
            for moment in moments:
                view = moment.view
                alive = view.life == ALIVE
                so = alive and (
                    view.state is State.REDUCED if kind == "reduced" else bool(view.unproven)
                )
                if so and current is None:
                    current = Spell(
                        n,
                        kind,
                        moment.time_s,
                        moment.event,
                        moment.shift.reasons if moment.shift else (),
                    )
                    found.append(current)
                elif not so and current is not None:
                    current.to_s, current.restored_by = moment.time_s, moment.event
                    current = None
    for spell in found:
        for from_s, to_s in back_s.get(spell.service, ()):
            if from_s <= spell.from_s < to_s:
                spell.from_s = to_s
    return [s for s in found if s.from_s < (NEVER_S if s.to_s is None else s.to_s)]


class StringsLeft(NamedTuple):
    """Which strings of a service could carry it from a time on."""

    service: int
    time_s: int
    step: str | None
    phase: int | None
    up: tuple[int, ...]
    available: tuple[int, ...]
    need: int


def strings_left(trace: Trace) -> list[StringsLeft]:
    """Return, for each living service of several strings, every change of the set that is left.

    Swapping one string for another is a change even where their number stays.
    """
    found: list[StringsLeft] = []
    moments = histories(trace)
    for n, service in enumerate(trace.wiring.services):
        if len(service.strings) < 2:
            continue
        last: tuple[Standing, ...] | None = None
        for moment in moments[n]:
            if moment.view.life != ALIVE or moment.view.strings == last:
                continue
            last = moment.view.strings
            pairs = list(zip(service.strings, last, strict=True))
            found.append(
                StringsLeft(
                    n,
                    moment.time_s,
                    moment.event.task.step_id if moment.event else None,
                    moment.event.task.phase if moment.event else None,
                    tuple(s for s, standing in pairs if standing is Standing.UP),
                    tuple(s for s, standing in pairs if standing is Standing.AVAILABLE),
                    service.need,
                )
            )
    return found
