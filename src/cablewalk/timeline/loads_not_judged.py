"""What of the loads is not judged, and what is missing for it: one note, without solving anything.

So documents that give electrical data and no draws can be told of at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.wiring import Wiring

KINDS = {
    "feed": "what feeds give",
    "wire": "what wires carry",
    "contact": "what contacts carry",
    "volts": "volts at loads",
    "drop": "the drop on the way to loads",
}
"""Kind of margin to what is judged by it."""

TOLD_AT_MOST = 3
"""Missing things told of a kind; the others are counted."""


def loads_not_judged(
    baseline: Baseline,
    wiring: Wiring,
    strings: Iterable[int],
    kinds: Mapping[str, Iterable[str]] | None = None,
) -> Iterator[Finding]:
    """Yield a note of the units whose draw is not given, and of what else nothing is judged of.

    Args:
        baseline: the documents.
        wiring: the same, compiled.
        strings: those that should be judged.
        kinds: kind of margin of which no string has a limit to what is missing.
    """
    drawn = {
        (
            wiring.terminal_by_name[f"{name}.{draw.hi}"],
            wiring.terminal_by_name[f"{name}.{draw.ret}"],
        )
        for place in baseline.places.values()
        for name, unit in place.units.items()
        for draw in unit.draws.values()
    }
    lacking: dict[int, set[str]] = {}
    for number in strings:
        string = wiring.strings[number]
        if string.load is None:
            continue
        hi, ret = string.load
        if (hi.a_terminal, ret.a_terminal) not in drawn:
            service = wiring.services[string.service].id
            lacking.setdefault(wiring.terminals[hi.a_terminal].owner, set()).add(service)
    units = {wiring.items[owner].id: ", ".join(sorted(lacking[owner])) for owner in sorted(lacking)}
    what, missing = [], []
    if units:
        named = ", ".join(f"{unit} ({services})" for unit, services in units.items())
        what.append(f"what is drawn by {named}")
        missing.append(f"draws of {', '.join(units)}")
    for kind, texts in (kinds or {}).items():
        what.append(KINDS[kind])
        missing.append(_some(sorted(set(texts))))
    if not what:
        return
    yield Finding(
        "load-not-judged",
        Severity.NOTE,
        _address(baseline, list(units)),
        f"not judged: {'; '.join(what)}",
        difference=f"missing: {'; '.join(missing)}",
        way_out="give what is missing, with who says so",
        items=tuple(units),
    )


def _some(texts: list[str]) -> str:
    more = len(texts) - TOLD_AT_MOST
    return ", ".join([*texts[:TOLD_AT_MOST], *([f"and {more} more"] if more > 0 else [])])


def _address(baseline: Baseline, units: list[str]) -> Address:
    """Return where the first of the units stands, or the electrical data."""
    for name, place in baseline.places.items():
        if units and units[0] in place.units:
            return Address(0, ("places", name, "units", units[0]))
    return Address(0, ("electrical",))
