"""The words around a picture: its title, the lines beneath it, and the lines beside."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from cablewalk.drawings.beside import Line, changes_beside, head, services_beside
from cablewalk.drawings.cast import Cast
from cablewalk.drawings.look import LOOKS
from cablewalk.drawings.moments import Moment
from cablewalk.reports import stopping
from cablewalk.timeline.account import Account
from cablewalk.units import clock
from cablewalk.walk.trace import Refused

Told = tuple[str, tuple[Line, ...], list[Line]]
"""A title, the lines beneath it, the lines beside."""
_NAMED: Final = 8
"""More switches than this are counted, not named, in the picture of the start."""
_NAMED_LATER: Final = 3
"""The same for all other pictures, which have less room beside."""


@dataclass(slots=True)
class Captions:
    """Writes the words around the pictures of one replay."""

    account: Account
    cast: Cast
    every: list[Moment]
    last: Moment
    _refused: dict[tuple[int, int], list[Refused]] = field(default_factory=dict)
    """Phase and position of a step to what of it could not be done."""
    _switches: tuple[list[Line], list[Line]] = ([], [])
    """Of the switches that are not drawn: by name where they are few, and their number alone."""
    _unended: set[tuple[int, int]] = field(default_factory=set)
    """Phase and position of each step that was begun and not over when the replay stopped."""

    def __post_init__(self) -> None:
        self._switches = self._undrawn(True), self._undrawn(False)
        trace = self.account.trace
        for refused in trace.refused:
            key = refused.task.phase, refused.task.step
            self._refused.setdefault(key, []).append(refused)
        if trace.stopped:
            ended = {(e.task.phase, e.task.serial) for e in trace.events if not e.begins}
            for moment in self.every:
                tasks = moment.step.tasks if moment.step is not None else ()
                if any((t.phase, t.serial) not in ended for t in tasks):
                    self._unended.add((moment.phase, tasks[0].step))

    def is_troubled(self, moment: Moment) -> bool:
        """Return whether something of a moment's step could not be done."""
        position = moment.step.position if moment.step is not None else -1
        return (moment.phase, position) in self._unended | self._refused.keys()

    @property
    def name(self) -> str:
        """The baseline's title, or its name."""
        baseline = self.account.ground.baseline
        return baseline.title or baseline.baseline

    @property
    def trouble(self) -> str:
        """Where the replay stopped, or how many actions were skipped; empty where all was done."""
        return stopping.stop_words(self.account) or stopping.skip_words(self.account)

    def before(self) -> Told:
        """Return the words of the start."""
        words = [
            Line("As it is now. ✕ marks what will be demated at any time in this work."),
            Line(self._over(), "soft"),
        ]
        if self.trouble:
            words = [Line(f"What is not done is NOT MARKED: {self.trouble}", "loud"), words[0]]
        lines = changes_beside(self.cast, self.every[0], self.last, False)
        lines += self._switches[0]
        return f"Before: {self.name}", tuple(words), lines

    def after(self) -> Told:
        """Return the words of the end, or of where the replay stopped."""
        lines = changes_beside(self.cast, self.every[0], self.last, True)
        lines += self._switches[1]
        words = [
            Line(
                "As it will be left. ✚ marks what was mated in this work, ↺ what was off and is "
                "back as before; cables put on are heavy, cables taken off have a broken border."
            ),
            Line(self._over(), "soft"),
        ]
        title, refused = f"After: {self.name}", self.account.trace.refused
        if self.account.trace.stopped:
            title = f"NOT THE END - where the replay stopped: {self.name}"
            rest = Line("As it stands there; what comes after it is not known.", "soft")
            words = [Line(self.trouble, "loud"), rest]
            lines = [head("THE REPLAY STOPPED"), *self._why(refused[-1:]), *lines]
        elif self.trouble:
            title = f"After, with actions skipped: {self.name}"
            words = [Line(self.trouble, "loud"), words[0]]
            lines = [head("NOT DONE, SKIPPED"), *self._why(refused), *lines]
        return title, tuple(words), lines

    def step(self, number: int) -> Told:
        """Return the words of one moment that has a step."""
        moment = self.every[number]
        step, trace = moment.step, self.account.trace
        assert step is not None, "the start has no step"
        timed = trace.phases[moment.phase]
        pet = " to ".join(
            clock(each[step.position] - timed.zero_s)
            for each in (timed.step_start_s, timed.step_end_s)
        )
        procedure = timed.plan.procedure.procedure
        title = f"Step {step.id}  ·  {procedure}  ·  PET {pet}"
        said = f"\N{LEFT DOUBLE QUOTATION MARK}{step.document.say}\N{RIGHT DOUBLE QUOTATION MARK}"
        who = ", ".join(step.workers)
        first = Line(f"{who}: {said}" if step.document.say else who)
        where = f"{self.account.ground.baseline.baseline}, step {number} of {len(self.every) - 1}. "
        rest = Line(
            f"{where}All is drawn as it stands when the step is over; ✕ and ✚ mark cables taken "
            "off and put on by then.",
            "soft",
        )
        lines = services_beside(self.account, moment) + self._switches[1]
        missing = self._refused.get((moment.phase, step.position), [])
        if (moment.phase, step.position) in self._unended:
            title = f"STOPPED in {title[0].lower()}{title[1:]}"
            rest = Line(f"NOT OVER, drawn as it stood there: {self.trouble}", "loud")
            lines = [head("THE REPLAY STOPPED"), *self._why(trace.refused[-1:]), *lines]
        elif missing:
            count = f"{len(missing)} ACTION{'S' * (len(missing) > 1)} NOT DONE"
            title = f"{title}  ·  {count}"
            why = stopping.why_not(self.account, missing[0])
            more = f", and {len(missing) - 1} more" if len(missing) > 1 else ""
            rest = Line(f"{count}, skipped: {why}{more}", "loud")
            lines = [head("NOT DONE IN THIS STEP"), *self._why(missing), *lines]
        return title, (first, rest), lines

    def both(self) -> Told:
        """Return the words of before and after side by side; nothing stands beside."""
        names = [p.procedure for p in self.account.procedures]
        words = Line(
            f"Only what {', '.join(names)} change{'s' * (len(names) == 1)}. ✕ is demated, ✚ is "
            "mated, ↺ back as before; beneath each cable: what it carries, and its ends that are "
            "on no panel."
        )
        title = f"Before and after: {self.name}"
        if self.account.trace.stopped:
            title = f"Before, and where the replay stopped: {self.name}"
        return title, (Line(self.trouble, "loud") if self.trouble else words,), []

    def _undrawn(self, named: bool) -> list[Line]:
        """Return how many switches the work leaves alone and no picture draws; few by name."""
        wiring, config = self.cast.wiring, self.every[0].config
        drawn = {item for items in self.cast.chips.values() for item in items}
        rest = [n for n in wiring.ids("switch") if n not in drawn]
        if not rest:
            return []
        more = "more " if any(wiring.items[n].kind == "switch" for n in drawn) else ""
        count = f"{len(rest)} {more}switch{'es' * (len(rest) > 1)}, untouched"
        if len(rest) > (_NAMED if named else _NAMED_LATER):
            return [Line(count, "soft")]
        states: dict[str, list[str]] = {}
        for n in rest:
            mark = LOOKS[config.state_name(n).replace("_", "-")].mark
            states.setdefault(mark, []).append(wiring.items[n].id)
        told = "; ".join(f"{' '.join(names)} {mark}" for mark, names in states.items())
        return [Line(f"{count}, not drawn: {told}", "soft")]

    def _over(self) -> str:
        titles = [p.title or p.procedure for p in self.account.procedures]
        base = self.account.ground.baseline.baseline
        return f"{base}; {'; '.join(titles)}" if titles else base

    def _why(self, missing: list[Refused]) -> list[Line]:
        """Return what could not be done, a line each."""
        return [
            Line(
                f"step {stopping.step_name(self.account, r)}: {stopping.why_not(self.account, r)}",
                "loud",
                indent=1,
            )
            for r in missing
        ]
