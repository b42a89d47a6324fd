"""Wire resistance against published tables. Sources seen in stored copies, as marked."""

from __future__ import annotations

import pytest

from cablewalk.formulas.wire import at_temperature, diameter_mm, solid_ohm_per_m

FOOT_M = 0.3048

OHM_PER_100_FT = {
    12: 0.15880,
    14: 0.25250,
    16: 0.40160,
    18: 0.63850,
    20: 1.01500,
    22: 1.61400,
    24: 2.56700,
    26: 4.08100,
    28: 6.49000,
    30: 10.32000,
}
"""Solid copper at 20 °C: wire resistance table of a cable-test manufacturer (seen)."""
PRINTED = 6e-4
"""The table rounds to four figures, and diameters are rounded to a tenth of a mil before."""

OHM_PER_1000_FT = {14: 2.573, 16: 4.091, 18: 6.505, 20: 10.34, 22: 16.45, 24: 26.15}
"""Annealed copper, a second published table (seen), on a warmer basis, about 1.9 % above."""

MILLIOHM_PER_FT = {10: 1.028, 12: 1.650, 14: 2.624, 16: 4.172, 18: 6.636, 20: 10.54}
"""Seven-strand at 20 °C: equipment handbook, table 38 (seen)."""


@pytest.mark.parametrize("gauge", OHM_PER_100_FT)
def test_solid_copper_table(gauge: int) -> None:
    table = OHM_PER_100_FT[gauge] / (100 * FOOT_M)
    assert solid_ohm_per_m(gauge) == pytest.approx(table, rel=PRINTED)


@pytest.mark.parametrize("gauge", OHM_PER_1000_FT)
def test_warmer_table(gauge: int) -> None:
    """1.9 % above is what the coefficient gives at about 25 °C: a check of at_temperature."""
    table = OHM_PER_1000_FT[gauge] / (1000 * FOOT_M)
    assert at_temperature(solid_ohm_per_m(gauge), 25) == pytest.approx(table, rel=0.002)


@pytest.mark.parametrize("gauge", MILLIOHM_PER_FT)
def test_stranded_has_about_four_per_cent_more(gauge: int) -> None:
    table = MILLIOHM_PER_FT[gauge] / 1000 / FOOT_M
    assert table / solid_ohm_per_m(gauge) == pytest.approx(1.039, abs=0.01)


def test_diameter_by_definition() -> None:
    """ASTM B258, from memory: gauge 36 is 0.127 mm (5 mil), gauge 0 is 8.252 mm."""
    assert diameter_mm(36) == 0.127
    assert diameter_mm(0) == pytest.approx(8.252, abs=0.001)


@pytest.mark.parametrize("gauge", [-1, 41])
def test_gauge_outside(gauge: int) -> None:
    with pytest.raises(ValueError, match="outside"):
        diameter_mm(gauge)


@pytest.mark.parametrize("conductor_c", [-150, 400])
def test_temperature_outside(conductor_c: float) -> None:
    with pytest.raises(ValueError, match="linear"):
        at_temperature(1.0, conductor_c)
