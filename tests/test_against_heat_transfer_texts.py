"""Cool-down against worked examples of textbooks.

Marks: *seen* = data and answer read in a stored copy; *from memory* = recalled.
"""

from __future__ import annotations

from math import inf, pi

import pytest

from cablewalk.formulas.thermal import (
    BIOT_AT_MOST,
    STEFAN_BOLTZMANN,
    ZERO_C_K,
    Law,
    biot,
    fitted_constant_s,
    linear_s,
    radiation_s,
)

PRINTED = 0.005
"""Answers are printed to three figures: half a unit of the third, relative."""
DOUBLE = 1e-9
"""Two ways of working out the same closed form in double precision, relative."""


def test_incropera_example_5_1() -> None:
    """Incropera & DeWitt, Example 5.1 (seen): D 7.06e-4 m, 5.16 s; Biot 2.35e-3."""
    film, conductivity, heat, density, constant_s = 400.0, 20.0, 400.0, 8500.0, 1.0
    diameter = 6 * film * constant_s / (density * heat)  # tau = rho V c/(h A), V/A = D/6
    assert diameter == pytest.approx(7.06e-4, rel=PRINTED)
    assert linear_s(25, 199, 200, constant_s) == pytest.approx(5.16, rel=PRINTED)
    assert biot(film, diameter / 6, conductivity) == pytest.approx(2.35e-3, rel=PRINTED)


def test_cengel_example_4_1() -> None:
    """Çengel, Example 4-1 (seen): b 0.463235 1/s; 10 s to 99 % (9.9413 s recomputed)."""
    diameter, density, heat, film = 0.001, 8500.0, 320.0, 210.0
    rate = film / (density * heat * diameter / 6)
    assert rate == pytest.approx(0.463235, rel=1e-5)
    seconds = linear_s(1.0, 0.01, 0.0, 1 / rate)
    assert seconds == pytest.approx(9.9413, rel=1e-5)
    assert seconds == pytest.approx(10, rel=0.01)  # as printed: 10 s


def test_cengel_example_4_2_is_arithmetic_only() -> None:
    """Çengel, Example 4-2 (data seen, answer from memory): 43,860 s; Biot 0.89: not valid."""
    film, length, radius = 8.0, 1.7, 0.15
    density, heat, conductivity = 996.0, 4178.0, 0.617
    size = pi * radius**2 * length / (2 * pi * radius * length + 2 * pi * radius**2)
    constant = density * heat * size / film
    assert linear_s(37, 25, 20, constant) == pytest.approx(43_860, rel=0.001)
    assert linear_s(37, 25, 20, constant) == pytest.approx(43_871, rel=2e-5)
    assert biot(film, size, conductivity) == pytest.approx(0.89, rel=PRINTED)
    assert biot(film, size, conductivity) > BIOT_AT_MOST


def test_oneil_page_9() -> None:
    """O'Neil, *Advanced Engineering Mathematics* (2010), p. 9 (seen): about -53.8 min."""
    constant_s = fitted_constant_s(94.4, 89.2, 68.0, 80 * 60)
    assert -linear_s(98.6, 94.4, 68.0, constant_s) / 60 == pytest.approx(-53.8, abs=0.05)
    assert -linear_s(98.6, 94.4, 68.0, constant_s) / 60 == pytest.approx(-53.842, abs=0.0005)


H5 = {"from_k": 293.15, "to_k": 253.15, "capacity": 45_000.0, "radiating": 0.1}


def test_bejan_kraus_3_283() -> None:
    """Bejan & Kraus, *Heat Transfer Handbook*, eq. 3.283 (formula seen): 95,996.2303 s here."""
    assert STEFAN_BOLTZMANN == 5.670374419e-8
    assert radiation_s(sink_k=213.15, **H5) == pytest.approx(95_996.2303, abs=5e-4)


def test_radiation_closed_form_against_integration() -> None:
    law = Law(capacity=45_000.0, radiating=0.1, space_k=213.15)
    seconds = law.seconds_to(293.15, 253.15)
    assert seconds == pytest.approx(95_996.2303, abs=5e-4)
    assert law.after_k(293.15, seconds) == pytest.approx(253.15, abs=1e-6)


def test_own_linear_case() -> None:
    """50 kg x 900 J/kgK, 2 W/K, 20 → -20 °C, sink -60 °C: tau 6.25 h; 4.3322 h (own case)."""
    law = Law(50 * 900.0, conductance=2.0, sink_k=ZERO_C_K - 60)
    assert 50 * 900 / 2 / 3600 == 6.25
    hours = law.seconds_to(ZERO_C_K + 20, ZERO_C_K - 20) / 3600
    assert hours == pytest.approx(4.3322, abs=5e-5)
    assert law.after_k(ZERO_C_K + 20, hours * 3600) == pytest.approx(ZERO_C_K - 20, rel=DOUBLE)


@pytest.mark.parametrize("heat", [0.0, 10.0, 40.0])
def test_conduction_and_radiation_together_agree_with_integration(heat: float) -> None:
    law = Law(45_000.0, 0.5, 223.15, 0.1, 203.15, heat)
    goal = law.equilibrium_k()
    assert law.rate(goal) == pytest.approx(0, abs=1e-12)
    target = goal + (293.15 - goal) / 3
    seconds = law.seconds_to(293.15, target)
    assert law.after_k(293.15, seconds) == pytest.approx(target, abs=1e-6)


def test_both_together_tend_to_each_alone() -> None:
    """With almost no conduction the integral is the radiation's closed form, and the reverse."""
    faint = 1e-9
    alone = Law(45_000.0, radiating=0.1, space_k=213.15).seconds_to(293.15, 253.15)
    both = Law(45_000.0, faint, 213.15, 0.1, 213.15).seconds_to(293.15, 253.15)
    assert both == pytest.approx(alone, rel=1e-7)
    linear = Law(45_000.0, 2.0, 213.15).seconds_to(293.15, 253.15)
    nearly = Law(45_000.0, 2.0, 213.15, faint, 213.15).seconds_to(293.15, 253.15)
    assert nearly == pytest.approx(linear, rel=1e-7)


def test_heat_raises_the_radiation_equilibrium() -> None:
    law = Law(45_000.0, radiating=0.1, space_k=213.15, heat=30.0)
    goal = (213.15**4 + 30 / (STEFAN_BOLTZMANN * 0.1)) ** 0.25
    assert law.equilibrium_k() == pytest.approx(goal, rel=DOUBLE)
    assert law.seconds_to(293.15, goal - 1) == inf
    warm = law.seconds_to(280.0, 290.0)
    assert (warm == inf) == (goal < 290)
    assert law.after_k(280.0, law.seconds_to(280.0, (280 + goal) / 2)) == pytest.approx(
        (280 + goal) / 2, abs=1e-6
    )


def test_radiation_to_nothing() -> None:
    law = Law(45_000.0, radiating=0.1)
    seconds = law.seconds_to(293.15, 253.15)
    assert seconds == pytest.approx(
        45_000 / (3 * STEFAN_BOLTZMANN * 0.1) * (253.15**-3 - 293.15**-3), rel=DOUBLE
    )
    assert law.after_k(293.15, seconds) == pytest.approx(253.15, abs=1e-6)


def test_insulated_mass() -> None:
    assert Law(1000.0, heat=5.0).seconds_to(280, 290) == 2000
    assert Law(1000.0, heat=5.0).seconds_to(280, 270) == inf
    assert Law(1000.0).seconds_to(280, 270) == inf


@pytest.mark.parametrize(
    ("first", "second", "apart"), [(90, 95, 60), (90, 60, 60), (60, 50, 60), (90, 80, 0)]
)
def test_samples_that_fit_no_cool_down(first: float, second: float, apart: float) -> None:
    with pytest.raises(ValueError, match="sample"):
        fitted_constant_s(first, second, 68, apart)
