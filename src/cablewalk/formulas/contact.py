"""Contacts: resistance from the millivolt drop at the test current."""

from __future__ import annotations

from typing import Final

SERIES_III: Final[dict[str, tuple[float, float]]] = {
    "22D": (5.0, 73.0),
    "20": (7.5, 55.0),
    "16": (13.0, 49.0),
    "12": (23.0, 42.0),
    "8": (46.0, 26.0),
    "4": (80.0, 23.0),
    "0": (150.0, 21.0),
}
"""Contact size to (test current in A, drop in mV) of crimp contacts, series III.

Source: a manufacturer's MIL-DTL-38999 series III catalogue, seen. A test current is not a rating
for use: the catalogue leaves safety factors to the designer."""

SERIES_III_HERMETIC: Final[dict[str, tuple[float, float]]] = {
    "22D": (3.0, 85.0),
    "20": (5.0, 60.0),
    "16": (10.0, 85.0),
    "12": (17.0, 85.0),
}
"""The same for hermetic halves. Source: the same catalogue, seen."""

CATALOGUES: Final = {
    "series-iii": SERIES_III,
    "series-iii-hermetic": SERIES_III_HERMETIC,
}


CATALOGUE_SOURCES: Final = {
    "series-iii": "highest drop at the test current, a maker's MIL-DTL-38999 series III catalogue",
    "series-iii-hermetic": "highest drop at the test current, a maker's MIL-DTL-38999 series III "
    "catalogue, hermetic",
}
"""Catalogue to how a report names it."""


def resistance_ohm(test_a: float, drop_mv: float) -> float:
    """Return the resistance of a mated pair from its drop at a test current, ohm.

    The highest drop the catalogue allows, so an upper bound for a sound contact; a worn or soiled
    one may have more.

    Raises:
        ValueError: the current is not above zero.
    """
    if test_a <= 0:
        raise ValueError("a test current is above zero")
    return drop_mv / 1000 / test_a
