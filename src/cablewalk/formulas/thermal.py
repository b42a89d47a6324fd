"""Cool-down of one lumped mass: to a sink by conduction, by radiation, or by both.

C dT/dt = q - G (T - Ts) - s E (T⁴ - Tr⁴), temperatures in kelvin; s the Stefan-Boltzmann constant,
E emissivity times area. Valid while the mass is at one temperature: Biot number below 0.1
(Incropera & DeWitt, chapter 5).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, exp, inf, log
from typing import Final

STEFAN_BOLTZMANN: Final = 5.670374419e-8
"""W/(m² K⁴). Source: CODATA 2018, exact."""

ZERO_C_K: Final = 273.15
"""0 °C in kelvin."""

BIOT_AT_MOST: Final = 0.1
"""Above it a mass is not at one temperature. Source: Incropera & DeWitt, section 5.2."""

NEAR: Final = 1e-9
"""Relative distance from the equilibrium within which it counts as reached."""


@dataclass(frozen=True, slots=True)
class Law:
    """How one mass exchanges heat. SI units, temperatures in kelvin.

    ``conductance`` W/K to ``sink_k``; ``radiating`` is emissivity times area, m², to
    ``space_k``; ``heat`` W is put in. ``capacity`` J/K.
    """

    capacity: float
    conductance: float = 0.0
    sink_k: float = 0.0
    radiating: float = 0.0
    space_k: float = 0.0
    heat: float = 0.0

    def rate(self, temperature_k: float) -> float:
        """Return dT/dt at a temperature, K/s."""
        lost = self.conductance * (temperature_k - self.sink_k)
        if self.radiating:
            lost += STEFAN_BOLTZMANN * self.radiating * (temperature_k**4 - self.space_k**4)
        return (self.heat - lost) / self.capacity

    def equilibrium_k(self) -> float:
        """Return the temperature it tends to; infinite where nothing takes the heat away."""
        if not self.radiating:
            if not self.conductance:
                return inf if self.heat > 0 else -inf if self.heat < 0 else 0.0
            return self.sink_k + self.heat / self.conductance
        radiative = STEFAN_BOLTZMANN * self.radiating
        if not self.conductance:
            return float(max(0.0, self.space_k**4 + self.heat / radiative) ** 0.25)
        low, high = 0.0, max(self.sink_k, self.space_k) + max(0.0, self.heat) / self.conductance
        for _ in range(200):
            middle = (low + high) / 2
            if self.rate(middle) > 0:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def seconds_to(self, from_k: float, to_k: float) -> float:
        """Return the seconds from one temperature to another; infinite where never reached.

        Closed form without radiation and with radiation alone (Bejan & Kraus, *Heat Transfer
        Handbook*, eq. 3.283, with the equilibrium for the sink); with both, the integral of
        dT / rate, by Gauss-Legendre panels to about 1e-9 of it.
        """
        if from_k == to_k:
            return 0.0
        goal = self.equilibrium_k()
        if not self.conductance and not self.radiating:
            rate = self.rate(from_k)
            return (to_k - from_k) / rate if (to_k - from_k) * rate > 0 else inf
        left = abs(from_k - goal) * NEAR
        if (from_k - goal) * (to_k - goal) <= 0 or abs(to_k - goal) >= abs(from_k - goal):
            return inf
        if abs(to_k - goal) <= left:
            return inf
        if not self.radiating:
            return linear_s(from_k, to_k, goal, self.capacity / self.conductance)
        if not self.conductance:
            return radiation_s(from_k, to_k, goal, self.capacity, self.radiating)
        return self._integral_s(from_k, to_k, goal)

    def _integral_s(self, from_k: float, to_k: float, goal: float) -> float:
        """Integrate dT/rate in the logarithm of the distance to the goal, where it is smooth."""
        side = 1.0 if from_k > goal else -1.0
        near, far = log(abs(to_k - goal)), log(abs(from_k - goal))
        panels = max(4, int((far - near) * 2) + 1)
        width = (far - near) / panels
        total = 0.0
        for n in range(panels):
            middle = near + (n + 0.5) * width
            for at, weight in _GAUSS:
                distance = side * exp(middle + at * width / 2)
                total += weight * width / 2 * distance / self.rate(goal + distance)
        return -total

    def after_k(self, from_k: float, seconds: float) -> float:
        """Return the temperature after a time.

        Exact without radiation; else by Runge-Kutta of the fourth order in steps of at most a
        fortieth of the shortest time constant of the way (about 1e-6 K).
        """
        if seconds <= 0:
            return from_k
        if not self.radiating:
            if not self.conductance:
                return from_k + self.heat / self.capacity * seconds
            goal = self.equilibrium_k()
            return goal + (from_k - goal) * exp(-seconds * self.conductance / self.capacity)
        goal = self.equilibrium_k()
        hottest = max(from_k, goal)
        slope = self.conductance + 4 * STEFAN_BOLTZMANN * self.radiating * hottest**3
        constant = self.capacity / slope
        if seconds > 60 * constant * (hottest / max(goal, 1.0)) ** 3:
            return goal  # sixty time constants, the slowest on the way: nothing is left of it
        steps = max(1, int(seconds / constant * 40) + 1)
        step = seconds / steps
        temperature = from_k
        for _ in range(steps):
            a = self.rate(temperature)
            b = self.rate(temperature + a * step / 2)
            c = self.rate(temperature + b * step / 2)
            d = self.rate(temperature + c * step)
            temperature += (a + 2 * b + 2 * c + d) * step / 6
        return temperature


_GAUSS: Final = (
    (-0.9061798459386640, 0.2369268850561891),
    (-0.5384693101056831, 0.4786286704993665),
    (0.0, 0.5688888888888889),
    (0.5384693101056831, 0.4786286704993665),
    (0.9061798459386640, 0.2369268850561891),
)
"""Abscissas and weights of five-point Gauss-Legendre quadrature on -1 to 1."""


def linear_s(from_k: float, to_k: float, goal_k: float, constant_s: float) -> float:
    """Return t = tau ln((Ti - Ts)/(T - Ts)), seconds. ``goal_k``: sink plus q/G.

    Source: Incropera & DeWitt, eq. 5.5; valid for a Biot number below 0.1.
    """
    return constant_s * log((from_k - goal_k) / (to_k - goal_k))


def radiation_s(
    from_k: float, to_k: float, sink_k: float, capacity: float, radiating: float
) -> float:
    """Return the seconds from one temperature to another by radiation to a sink alone.

    ln|(Ts+T)/(Ts-T)| - ln|(Ts+Ti)/(Ts-Ti)| + 2[atan(T/Ts) - atan(Ti/Ts)] = 4 s E Ts³ t/(mc).
    Source: Bejan & Kraus, *Heat Transfer Handbook*, eq. 3.283. To a sink of 0 K its limit:
    t = mc/(3 s E) (1/T³ - 1/Ti³).
    """
    if sink_k <= 0:
        return capacity / (3 * STEFAN_BOLTZMANN * radiating) * (to_k**-3 - from_k**-3)
    left = log(abs((sink_k + to_k) / (sink_k - to_k)))
    left -= log(abs((sink_k + from_k) / (sink_k - from_k)))
    left += 2 * (atan(to_k / sink_k) - atan(from_k / sink_k))
    return capacity * left / (4 * STEFAN_BOLTZMANN * radiating * sink_k**3)


def fitted_constant_s(first: float, second: float, sink: float, apart_s: float) -> float:
    """Return the time constant that two samples fit, seconds. Any one temperature scale.

    tau = Δt / ln((T1 - Ts)/(T2 - Ts)): Newton's law of cooling. Source: O'Neil, *Advanced
    Engineering Mathematics* (2010), p. 9. Both samples taken with heaters off.

    Raises:
        ValueError: the samples do not approach the sink.
    """
    if apart_s <= 0:
        raise ValueError("the second sample is later than the first")
    near, far = second - sink, first - sink
    if near * far <= 0 or abs(near) >= abs(far):
        raise ValueError("the samples do not approach the sink: they fit no cool-down")
    return apart_s / log(far / near)


def biot(film_w_per_m2_k: float, length_m: float, conductivity_w_per_m_k: float) -> float:
    """Return the Biot number h L/k. Source: Incropera & DeWitt, section 5.2."""
    return film_w_per_m2_k * length_m / conductivity_w_per_m_k
