"""The order of the work: what moves, goes dark, comes back, is first up or retired, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cablewalk.book.moves import Move
from cablewalk.book.turns import Turn
from cablewalk.reports.heading import PhaseRow
from cablewalk.reports.outage import OutageRow
from cablewalk.units import clock_up, seconds


@dataclass(slots=True)
class Beat:
    """What one step does to connectors, or to services at one moment: a line of the order."""

    at_min: float
    step: str
    pet: str
    """When; of several moves, when the first is done."""
    kind: str
    """``moves``, ``dark``, ``back``, ``first up`` or ``retired``."""
    words: list[str] = field(default_factory=list)
    until: str = ""
    """Of several moves: when the last is done, if not in the same minute."""


def beats_of(
    moves: Sequence[Move],
    outages: Sequence[OutageRow],
    turns: Sequence[Turn],
    phase: PhaseRow,
) -> list[Beat]:
    """Return in order of time what a phase does, each change of a service at its own minute.

    The moves of a step stand in one line, with the time from the first to the last, unless a
    service that the same step takes or gives back changes between them.
    """
    told: list[Beat] = []
    for move in moves:
        if move.phase == phase.number - 1 and not move.is_echo:
            told.append(Beat(move.at_min, move.step, move.pet, "moves", [move.words]))
    for row in outages:
        if row.lost_by_step and row.from_pet.phase_number == phase.number:
            told.append(
                Beat(row.from_min, row.lost_by_step, row.from_pet.pet, "dark", [row.service])
            )
        if row.to_min is None or row.to_pet is None or row.retired or not row.restored_by_step:
            continue
        if row.to_pet.phase_number == phase.number:
            pet = back_pet(row.to_min, phase)
            told.append(Beat(row.to_min, row.restored_by_step, pet, "back", [row.service]))
    for turn in turns:
        if turn.kind in ("first up", "retired") and turn.phase_number == phase.number:
            told.append(Beat(turn.at_min, turn.step, turn.pet, turn.kind, [turn.service]))
    found: list[Beat] = []
    last: dict[str, Beat] = {}
    for beat in sorted(told, key=lambda each: each.at_min):
        open_beat = last.get(beat.step)
        same = open_beat is not None and open_beat.kind == beat.kind
        if open_beat is not None and same and beat.kind == "moves":
            open_beat.words += beat.words
            open_beat.until = beat.pet if beat.pet != open_beat.pet else ""
        elif open_beat is not None and same and open_beat.pet == beat.pet:
            open_beat.words += beat.words
        else:
            found.append(beat)
            last[beat.step] = beat
    return found


def back_pet(to_min: float, phase: PhaseRow) -> str:
    """Return when a service is back, rounded up: nobody may be told that it is back too early."""
    return clock_up(seconds(to_min) - seconds(phase.zero_min))
