"""Dresses cut to their cells, picture after picture: only what is new is looked at."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, field
from typing import Final

from cablewalk.drawings.legend import marks_of
from cablewalk.drawings.plate import Dress, Key, Plate, Since, Turn, turn_between, turned
from cablewalk.drawings.sheet import fitted

_NOTHING: Final = Turn({}, ())


@dataclass(slots=True)
class Fitting:
    """Fits one dress after another to a plate: first the map, then the words around it.

    What wears the very object it wore in the picture before is not fitted again, and comes out
    as the very object it was.
    """

    plate: Plate
    _map: Dress = field(default_factory=dict)
    _frame: Dress = field(default_factory=dict)
    _legend: Dress = field(default_factory=dict)
    _fit: Dress = field(default_factory=dict)
    _marks: dict[str, int] = field(default_factory=dict)
    """Name of an entry of the legend to how many things of the map it explains."""
    _pending: Turn = field(default_factory=lambda: _NOTHING)

    def turn(self, dress: Dress, step: Since | None = None) -> Container[str]:
        """Go on to another map; return the names of the legend's entries that explain it.

        Args:
            dress: what is worn.
            step: how it came about, where that is known.
        """
        before, marks = self._map, self._marks
        turn = step[1] if step and step[0] is before else turn_between(before, dress)
        for key in (*turn.gone, *turn.new):
            if key in before:
                for mark in marks_of(key[0], before[key].looks):
                    marks[mark] -= 1
                    if not marks[mark]:
                        del marks[mark]
        for key, wear in turn.new.items():
            for mark in marks_of(key[0], wear.looks):
                marks[mark] = marks.get(mark, 0) + 1
        self._map, self._pending = dress, _both(self._pending, turn)
        return marks

    def fit(self, frame: Dress, legend: Dress) -> tuple[Dress, Since]:
        """Return the map with the words around it, cut to their cells, and how it came about.

        The three share no key. What is returned is not to be altered, nor a legend given before.
        """
        turn = _both(self._pending, turn_between(self._frame, frame))
        if legend is not self._legend:
            turn = _both(turn, turn_between(self._legend, legend))
            self._legend = legend
        turn = Turn(fitted(self.plate, turn.new), turn.gone)
        self._frame, self._pending = frame, _NOTHING
        since = self._fit, turn
        self._fit = turned(*since)
        return self._fit, since


def _both(first: Turn, second: Turn) -> Turn:
    """Return one turn for two."""
    if first is _NOTHING:
        return second
    new = first.new | second.new
    gone: dict[Key, None] = dict.fromkeys((*first.gone, *second.gone))
    for key in second.gone:
        new.pop(key, None)
    return Turn(new, tuple(key for key in gone if key not in new))
