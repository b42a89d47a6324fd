"""Wire: diameter by gauge, and resistance by gauge, length and temperature."""

from __future__ import annotations

from math import pi
from typing import Final

OHM_M_20_C: Final = 1.7241e-8
"""Resistivity of annealed copper at 20 °C, ohm metre.

Source: International Annealed Copper Standard, NBS Circular 31; value from memory."""

PER_K_20_C: Final = 0.00393
"""Temperature coefficient of annealed copper at 20 °C, per kelvin.

Source: NBS Circular 31; value from memory."""

SOLID_SOURCE: Final = "solid annealed copper by ASTM B258 and NBS Circular 31"
"""How a report names :func:`solid_ohm_per_m`."""

GAUGES: Final = range(0, 41)
"""Gauges the formula is used for here. ASTM B258 goes on to 0000 and 56."""

HOT_C: Final = 300.0
COLD_C: Final = -100.0
"""Conductor temperatures, °C, between which the linear coefficient is taken to hold.

Common practice, no source: below, resistance departs from the straight line."""


def diameter_mm(gauge_awg: int) -> float:
    """Return the diameter of a solid conductor of a gauge, millimetres.

    d = 0.127 mm x 92^((36 - n)/39). Source: ASTM B258, from memory, universally published.

    Raises:
        ValueError: the gauge is outside 0 to 40.
    """
    if gauge_awg not in GAUGES:
        raise ValueError(f"gauge {gauge_awg} is outside 0 to 40")
    return float(0.127 * 92 ** ((36 - gauge_awg) / 39))


def solid_ohm_per_m(gauge_awg: int) -> float:
    """Return the resistance of solid annealed copper at 20 °C, ohm per metre.

    Valid for direct current and solid conductors. A stranded one of the same gauge has more
    (a published seven-strand table: about 4 % more), plating and twisting alter it further: the
    maker's value, where the user has it, goes before this one.
    """
    radius_m = diameter_mm(gauge_awg) / 2000
    return OHM_M_20_C / (pi * radius_m**2)


def at_temperature(ohm_20_c: float, conductor_c: float) -> float:
    """Return a copper resistance at another temperature, from that at 20 °C.

    R = R20 (1 + alpha (T - 20 °C)). Source: NBS Circular 31, alpha from memory.

    Raises:
        ValueError: the temperature is outside -100 to 300 °C, where the line does not hold.
    """
    if not COLD_C <= conductor_c <= HOT_C:
        raise ValueError(
            f"{conductor_c:g} °C is outside {COLD_C:g} to {HOT_C:g} °C, where resistance is linear"
        )
    return ohm_20_c * (1 + PER_K_20_C * (conductor_c - 20))
