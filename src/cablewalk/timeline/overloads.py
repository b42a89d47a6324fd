"""Overloads as findings: of strings, and of whatever else is past its limit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cablewalk.findings import Address, Finding, Severity
from cablewalk.power.circuit import Circuit
from cablewalk.power.limits import Key, Limits, Margin
from cablewalk.power.ratings import held
from cablewalk.replay.wiring import Wiring
from cablewalk.walk.trace import Event

RULES = {
    "feed": "feed-overloaded",
    "wire": "wire-overloaded",
    "contact": "contact-overloaded",
    "volts": "volts-low",
    "drop": "drop-large",
}
WORDS = {
    "feed": "drawn from feed",
    "wire": "in a wire of",
    "contact": "through",
    "volts": "at",
    "drop": "lost on the way to",
}
GROWN = 1e-6
"""Share by which an overload must grow to be told once more: rounding of the solution."""


@dataclass(frozen=True, slots=True)
class Carried:
    """What one string carried at one moment, and what it stood against."""

    string: int
    margin: Margin
    surviving: bool
    """A sister string that could do the same was down."""
    event: Event | None
    time_s: int


class Overloads:
    """Remembers what was told, a string and kind, and one by one what is past its limit."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.strings: dict[tuple[int, str], Carried] = {}
        self.items: set[Key] = set()

    def of_strings(self, rows: Iterable[Carried]) -> Iterator[Finding]:
        """Yield what strings newly have past its limit; strings that share it told together.

        An overload is told once more where it grows while the string is what survives.
        """
        groups: dict[tuple[str, str, bool], list[Carried]] = {}
        for row in rows:
            if row.margin.is_past and self._is_news(row):
                self.strings[(row.string, row.margin.kind)] = row
                self.items.update(row.margin.keys)
                groups.setdefault((row.margin.kind, row.margin.on, row.surviving), []).append(row)
        for group in groups.values():
            yield self._of_group(group)

    def _is_news(self, row: Carried) -> bool:
        known = self.strings.get((row.string, row.margin.kind))
        if known is None:
            return True
        used, before = row.margin.used or 0.0, known.margin.used or 0.0
        return row.surviving and not known.surviving and used > before * (1 + GROWN)

    def _of_group(self, group: list[Carried]) -> Finding:
        row = max(group, key=lambda one: one.margin.rank)
        string = self.wiring.strings[row.string]
        services = dict.fromkeys(
            self.wiring.services[self.wiring.strings[one.string].service].id
            for one in (row, *group)
        )
        others = len(group) - 1
        more = f" and {others} other string{'s' if others > 1 else ''}" if others else ""
        alone = ", a sister string being down" if row.surviving else ""
        rest = len({key for one in group for key in one.margin.keys}) - 1
        return _finding(
            f"{next(iter(services))}, string {string.id}{more}: ",
            row.margin,
            row.event,
            Address(0, string.path),
            tuple(services),
            _more(rest) + alone,
        )

    def of_circuit(
        self, limits: Limits, circuit: Circuit, event: Event | None, sure: bool
    ) -> Iterator[Finding]:
        """Yield what is newly past its limit in a circuit and was told of no string.

        Of several of a kind the worst is told, and how many more there are.
        """
        groups: dict[str, list[Margin]] = {}
        for margin in held(limits, circuit):
            if margin.is_past and not self.items.issuperset(margin.keys):
                self.items.update(margin.keys)
                groups.setdefault(margin.kind, []).append(margin)
        for group in groups.values():
            worst = max(group, key=lambda margin: margin.rank)
            yield _finding(
                "",
                worst,
                event,
                Address(0, self.wiring.feeds[circuit.network.feeds[0]].path),
                (worst.on.partition(".")[0],) if worst.kind in ("wire", "volts") else (),
                _more(len(group) - 1) + ("" if sure else " (by a join in doubt)"),
            )


def _more(count: int) -> str:
    return f", and past it at {count} more" if count else ""


def _finding(
    who: str,
    margin: Margin,
    event: Event | None,
    at_start: Address,
    items: tuple[str, ...],
    more: str,
) -> Finding:
    left = margin.left
    assert left is not None, "only what is judged can be past its limit"
    unit = "V" if margin.kind in ("volts", "drop") else "A"
    on = f"{margin.on} ({margin.conductor})" if margin.conductor else margin.on
    return Finding(
        RULES[margin.kind],
        Severity.ERROR,
        event.task.address if event else at_start,
        f"{who}{margin.value:.3g} {unit} {WORDS[margin.kind]} {on}{more}",
        expected=f"{'at least' if margin.kind == 'volts' else 'at most'} {margin.limit:.3g} {unit}",
        difference=f"{-left:.3g} {unit} past it",
        way_out="take load off, or carry it over thicker wire or another feed",
        step=event.task.step_id if event else None,
        items=items,
        source="; ".join([margin.source, *margin.resistances]),
    )
