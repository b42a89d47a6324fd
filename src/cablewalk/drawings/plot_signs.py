"""The moments a temperature plot marks, and the time it shows about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from cablewalk.drawings.plot_axis import TimeAxis, kept, label_wide
from cablewalk.reports.heading import PhaseRow
from cablewalk.reports.thermal import ZoneRow

NEAR_MIN: Final = 20.0
"""So many minutes are shown on both sides of a moment that is marked."""
_WIDENED_AT_MOST: Final = 20
"""How often what is shown about a moment grows by a quarter until its label has room."""


class Sign(NamedTuple):
    """A reconnect-by moment, and what is written at it."""

    at_min: float
    told: str
    governs: bool


def signs(row: ZoneRow) -> list[Sign]:
    """Return every reconnect-by moment of a zone."""
    several = len(row.losses) > 1
    return [
        Sign(at, f"{loss.service} by {word} {pet.pet}" if several else f"by {word} {pet.pet}", own)
        for loss in row.losses
        for at, pet, word, own in (
            (loss.given_by_min, loss.given_by_pet, "clock", loss.governs == "given clock"),
            (loss.estimated_by_min, loss.estimated_by_pet, "estimate", loss.governs == "estimate"),
        )
        if at is not None and pet is not None
    ]


def time_axis(row: ZoneRow, phases: Sequence[PhaseRow], left: float, right: float) -> TimeAxis:
    """Return the axis of time: as much about each sign as its label takes, if that can be."""
    near: dict[float, float] = {}
    axis = TimeAxis(_spans(row, phases, near), left, right)
    for _ in range(_WIDENED_AT_MOST):
        pieces = ((sign, axis.piece(sign.at_min)) for sign in signs(row))
        narrow = [
            sign.at_min
            for sign, piece in pieces
            if piece is not None and piece[1] - piece[0] < label_wide(sign.told, 10)
        ]
        if not narrow or not axis.cuts:
            break
        near |= {at: 1.25 * near.get(at, NEAR_MIN) for at in narrow}
        axis = TimeAxis(_spans(row, phases, near), left, right)
    return axis


def _spans(
    row: ZoneRow, phases: Sequence[PhaseRow], near: Mapping[float, float]
) -> list[tuple[float, float]]:
    """Return the times that are shown: the phases, and about every moment that is marked.

    ``near``: moments about which more is shown than :data:`NEAR_MIN`, with how much.
    """
    first, last = row.curve[0].at_min, row.curve[-1].at_min
    wanted = [(phase.start_min, phase.end_min) for phase in phases]
    for loss in row.losses:
        back = loss.from_min + loss.dark_min
        marked = [loss.from_min, back, back + (loss.recovery_min or 0), loss.lowest_min]
        marked += [at for at in (loss.given_by_min, loss.estimated_by_min) if at is not None]
        wanted += [(at - near.get(at, NEAR_MIN), at + near.get(at, NEAR_MIN)) for at in marked]
    return kept(wanted, (first, max(last, first + 1)))
