"""What is said beside an action as it is recorded: options as typed, and their times."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import click

from cablewalk.cli.asrun_common import Fail, clean, moment, now_utc_s, phase_begun, writer
from cablewalk.cli.console import say

if TYPE_CHECKING:
    from cablewalk.logbook.drafts import Said
    from cablewalk.walk.asrun_entry import Entry
    from cablewalk.walk.asrun_state import Tracked

AHEAD_NOTED_S: Final = 5 * 60
AHEAD_REFUSED_S: Final = 12 * 3600
"""Seconds ahead of this computer's clock: a slip of the pen rather than a clock that is wrong.
Common practice, no source."""
OUTSIDE_REFUSED_S: Final = 48 * 3600
"""Seconds outside the phase at which the clock is not taken for its time. Common practice, no
source."""
BEFORE_NOTED_S: Final = 12 * 3600
"""Seconds before a phase begins at which an entry of it is noted. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Telling:
    """The options of :func:`record_options`, as they were typed."""

    reason: str
    pet: str | None
    utc: str | None
    began: str | None
    took: float | None
    who: tuple[str, ...]
    witness: str
    inspection: str
    lock: bool | None
    cap: bool | None
    by: str | None
    seen: int | None
    noted: set[str] = field(default_factory=set)
    """What was noted already: a draft is made anew where others were quicker."""

    def note(self, text: str) -> None:
        """Note something beside the record, once."""
        if text not in self.noted:
            self.noted.add(text)
            say(f"note: {text}", err=True)

    @property
    def has_time(self) -> bool:
        """Whether it was said when."""
        return self.pet is not None or self.utc is not None

    def said(self, tracked: Tracked, otherwise_s: int | None = None) -> Said:
        """Return what was said, its times worked out.

        Where nobody said when, it is ``otherwise_s`` (UTC seconds), or now by this computer's
        clock.
        """
        from cablewalk.logbook.drafts import Said

        end = moment(tracked, self.pet, self.utc)
        if not self.has_time and otherwise_s is not None:
            end = otherwise_s
        if self.began is not None and self.took is not None:
            raise click.UsageError("give --began or --took, not both")
        if self.has_time or (otherwise_s is None and not _far_off(tracked, end)):
            _not_to_come(self, tracked, end)
            _not_long_before(self, tracked, end)
        began = None
        if self.began is not None:
            began = moment(tracked, self.began, None)
        elif self.took is not None:
            if not 0 <= self.took <= 100_000:
                raise Fail("--took is a number of minutes")
            began = end - round(self.took * 60)
        if began is not None and began > end:
            raise Fail("it cannot have begun after it was over")
        return Said(
            end, now_utc_s(), clean(writer(self.by)), began, clean(self.reason), self.who,
            clean(self.witness), clean(self.inspection), self.lock, self.cap,
        )  # fmt: skip

    def dated(self, tracked: Tracked, drafts: list[Entry]) -> list[Entry]:
        """Return the entries, once it is clear that they have a time; else that is a sentence."""
        off = _far_off(tracked, now_utc_s())
        if off and not self.has_time:
            raise Fail(
                f"nobody said when: {off}. Say it with --pet or --utc; 'cablewalk asrun now' tells "
                "when the phase began"
            )
        return drafts

    def last_if_far_off(self, tracked: Tracked) -> int | None:
        """Return when the last action was over, UTC seconds, as the time of what moves no clock.

        None where somebody said when, or this computer's clock is near the phase; else it is noted.
        """
        off = _far_off(tracked, now_utc_s())
        if self.has_time or not off:
            return None
        from cablewalk.units import clock

        last_s = tracked.trace.end_s
        pet = clock(last_s - phase_begun(tracked).zero_s)
        self.note(f"nobody said when, and {off}: PET {pet} is taken, the last action's")
        return tracked.zero_utc_s + last_s


def _far_off(tracked: Tracked, time_s: int) -> str:
    """Return how far a time of this computer's clock lies off the phase, if that is days."""
    phase = phase_begun(tracked)
    before = tracked.zero_utc_s + phase.start_s - time_s
    after = time_s - tracked.zero_utc_s - max(phase.timed.end_s, tracked.trace.end_s)
    if max(before, after) <= OUTSIDE_REFUSED_S:
        return ""
    where = "before the phase begins" if before > 0 else "after the phase"
    return f"by this computer's clock it is {max(before, after) / 3600:,.0f} hours {where}"


def _not_to_come(telling: Telling, tracked: Tracked, end_s: int) -> None:
    """Refuse, or note, a time that lies ahead of this computer's clock.

    Not in a rehearsal: there the phase itself begins in time to come.
    """
    ahead = end_s - now_utc_s()
    start_s = tracked.zero_utc_s + phase_begun(tracked).start_s
    if ahead <= AHEAD_NOTED_S or start_s > now_utc_s():
        return
    hours = f"{ahead // 3600}:{ahead % 3600 // 60:02d}"
    if ahead > AHEAD_REFUSED_S:
        raise Fail(
            f"that lies {hours} hours ahead of this computer's clock: look at --pet or --utc, "
            "and at the time the phase began ('cablewalk asrun now')"
        )
    telling.note(f"that lies {hours} hours ahead of this computer's clock")


def _not_long_before(telling: Telling, tracked: Tracked, end_s: int) -> None:
    """Note a time that lies long before the phase can have begun."""
    before = tracked.zero_utc_s + phase_begun(tracked).start_s - end_s
    if before > BEFORE_NOTED_S:
        hours = f"{before // 3600}:{before % 3600 // 60:02d}"
        telling.note(
            f"that lies {hours} hours before this phase begins: look at --pet or --utc, and "
            "at the time the phase began ('cablewalk asrun now')"
        )
