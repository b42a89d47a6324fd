"""A moment of a replay, with how everything stands at it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from pydantic import Field

from cablewalk.reports.base import Part, Pet, pet_at
from cablewalk.timeline.account import Account
from cablewalk.units import minutes
from cablewalk.walk.courses import Course, courses
from cablewalk.walk.scene import Scene, Spot, scene_at


class MomentRow(Part):
    """A moment that a table shows."""

    words: str = Field(description="Which moment it is, in words.")
    step: str | None = Field(description="Id of the step it comes after; null: start or end.")
    phase: str | None = Field(description="Id of that step's procedure, or null.")
    at_min: float = Field(description="When.")
    at_pet: Pet = Field(description="That moment in phase elapsed time.")


@dataclass(frozen=True)
class Moment:
    """How everything stands at one moment; ``position``: how many events have happened by then."""

    account: Account
    scene: Scene
    position: int
    row: MomentRow

    @cached_property
    def courses(self) -> list[Course]:
        """Every conductor of every string that is made."""
        return courses(self.scene)

    def disturbed(self, string: int) -> bool:
        """Return whether a string was disturbed and not verified since."""
        return bool(self.scene.config.disturbed[string])

    def place(self, item: int) -> int:
        """Return the place where an item is, or NONE where that is not known."""
        return self.scene.config.place_of(item)


def start_moment(account: Account) -> Moment:
    """Return the moment before the first step."""
    trace = account.trace
    at_s = trace.phases[0].start_s
    row = MomentRow(
        words="at the start",
        step=None,
        phase=None,
        at_min=minutes(at_s),
        at_pet=pet_at(trace, at_s, 0),
    )
    return Moment(account, scene_at(account.ground.baseline, trace, None), 0, row)


def end_moment(account: Account) -> Moment:
    """Return the moment when all is over, or where the replay stopped."""
    trace = account.trace
    assert trace.end is not None, "a replay with at least one phase has an end"
    row = MomentRow(
        words="where the replay stopped" if trace.stopped else "at the end",
        step=None,
        phase=None,
        at_min=minutes(trace.end_s),
        at_pet=pet_at(trace, trace.end_s, len(trace.phases) - 1),
    )
    scene = Scene(account.ground.baseline, trace.end.copy(), trace.end_views)
    return Moment(account, scene, len(trace.events), row)


def moment_after(account: Account, spot: Spot) -> Moment:
    """Return the moment when a step is over; work of others may be under way at it."""
    procedure = account.procedures[spot.phase].procedure
    several = len(account.procedures) > 1
    row = MomentRow(
        words=f"after step {spot.step}{f' of {procedure}' if several else ''}",
        step=spot.step,
        phase=procedure,
        at_min=minutes(spot.time_s),
        at_pet=pet_at(account.trace, spot.time_s, spot.phase),
    )
    scene = scene_at(account.ground.baseline, account.trace, spot)
    return Moment(account, scene, spot.position, row)
