"""A zone's temperature in time: heaters with power switch by their thermostats, the rest is law.

Estimates only. *Up* means that power is available, not that the heater is on.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from math import inf

from cablewalk.documents.thermal import Heater, Thermal
from cablewalk.formulas.thermal import ZERO_C_K, Law, fitted_constant_s

PIECES_AT_MOST = 50_000
"""A thermostat that cycles more often than this in a replay is too fast to follow."""


class TooFastError(Exception):
    """The thermostat cycles too fast to follow."""


@dataclass(frozen=True, slots=True)
class Model:
    """A zone made ready for computing. ``law`` is without heat; kelvin and seconds.

    ``holds``: without heat capacity nothing tells how fast it warms, so power is taken to hold
    the temperature, not to raise it (the reading that warns).
    """

    law: Law
    heaters: dict[str, Heater]
    holds: bool
    fitted_s: float | None = None
    """The time constant that two measured samples gave."""


def lacking(thermal: Thermal) -> list[str]:
    """Return what the documents lack for an estimate."""
    missing = []
    if thermal.measured:
        if thermal.sink_c is None:
            missing.append("sink_c")
    else:
        if thermal.heat_capacity_j_per_k is None:
            missing.append("heat_capacity_j_per_k")
        if thermal.conductance_w_per_k is None and thermal.radiating_m2 is None:
            missing.append("conductance_w_per_k, radiating_m2, or two measured samples")
        if thermal.conductance_w_per_k is not None and thermal.sink_c is None:
            missing.append("sink_c")
        if thermal.radiating_m2 is not None and thermal.space_c is None:
            missing.append("space_c")
    if thermal.start_c is None:
        missing.append("start_c")
    return missing


def model_of(thermal: Thermal) -> Model:
    """Return the model of thermal data that lack nothing.

    Raises:
        ValueError: the measured samples fit no cool-down.
    """
    capacity = thermal.heat_capacity_j_per_k
    sink_k = (thermal.sink_c or 0.0) + ZERO_C_K
    if thermal.measured:
        first, second = thermal.measured
        assert thermal.sink_c is not None
        constant = fitted_constant_s(
            first.measured_c,
            second.measured_c,
            thermal.sink_c,
            (second.at_min - first.at_min) * 60,
        )
        if capacity is None:
            return Model(Law(constant, 1.0, sink_k), thermal.heaters, True, constant)
        return Model(Law(capacity, capacity / constant, sink_k), thermal.heaters, False, constant)
    assert capacity is not None
    law = Law(
        capacity,
        thermal.conductance_w_per_k or 0.0,
        sink_k,
        thermal.radiating_m2 or 0.0,
        (thermal.space_c or 0.0) + ZERO_C_K,
    )
    return Model(law, thermal.heaters, False)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of time under one law; None: the temperature is held."""

    from_s: float
    to_s: float
    from_k: float
    to_k: float
    law: Law | None

    def at(self, time_s: float) -> float:
        """Return the temperature at a time within, kelvin."""
        return (
            self.from_k if self.law is None else self.law.after_k(self.from_k, time_s - self.from_s)
        )


@dataclass(slots=True)
class Track:
    """The temperature from a start on, in pieces; each rises or falls throughout."""

    pieces: list[Piece] = field(default_factory=list)
    on: list[frozenset[str]] = field(default_factory=list)
    """The heaters on in each piece."""

    def index(self, time_s: float) -> int:
        """Return the piece a time lies in; the first or last one outside."""
        found = bisect_right(self.pieces, time_s, key=lambda p: p.from_s) - 1
        return min(max(found, 0), len(self.pieces) - 1)

    def at(self, time_s: float) -> float:
        """Return the temperature at a time, kelvin; the ends' outside."""
        piece = self.pieces[self.index(time_s)]
        return piece.at(min(max(time_s, piece.from_s), piece.to_s))

    def lowest(self, from_s: float, to_s: float) -> tuple[float, float]:
        """Return (kelvin, time) of the lowest temperature within a time."""
        return min(self._ends(from_s, to_s))

    def highest(self, from_s: float, to_s: float) -> tuple[float, float]:
        """Return (kelvin, time) of the highest temperature within a time."""
        return max(self._ends(from_s, to_s))

    def turns_s(self, time_s: float) -> float:
        """Return when it no longer falls, from a time on; that time itself where it does not."""
        for piece in self.pieces[self.index(time_s) :]:
            if piece.to_s > time_s and piece.to_k >= piece.from_k:
                return max(time_s, piece.from_s)
        return max(time_s, self.pieces[-1].to_s)

    def _ends(self, from_s: float, to_s: float) -> Iterable[tuple[float, float]]:
        yield self.at(from_s), from_s
        yield self.at(to_s), to_s
        for piece in self.pieces[self.index(from_s) : self.index(to_s) + 1]:
            if from_s <= piece.to_s <= to_s:
                yield piece.to_k, piece.to_s


class Watcher:
    """Switches the heaters of one zone as its temperature goes."""

    def __init__(self, model: Model, start_k: float, powered: frozenset[str]) -> None:
        self.model = model
        self.kelvin = start_k
        self.powered = powered
        self.on: set[str] = set()
        self.switch()

    def switch(self) -> None:
        """Let the thermostats act at the present temperature."""
        for name, heater in self.model.heaters.items():
            low, high = set_points_k(heater)
            if low is None or high is None or self.kelvin <= low:
                self.on.add(name)
            elif self.kelvin >= high:
                self.on.discard(name)

    @property
    def heating(self) -> frozenset[str]:
        """The heaters that are on and have power."""
        return frozenset(self.on & self.powered)

    def law(self) -> Law | None:
        """Return the law that holds now; None while the temperature is held."""
        if self.model.holds and self.powered & self.model.heaters.keys():
            return None
        heat = sum(self.model.heaters[name].power_w for name in self.heating)
        return replace(self.model.law, heat=heat)

    def next_switch(self, law: Law | None) -> tuple[float, float]:
        """Return (seconds, kelvin) until a thermostat acts; infinite where none will."""
        best = (inf, self.kelvin)
        if law is None:
            return best
        falling = law.rate(self.kelvin) < 0
        for name in self.powered & self.model.heaters.keys():
            low, high = set_points_k(self.model.heaters[name])
            if low is None or high is None:
                continue
            goal = low if falling else high
            waits = (name not in self.on) if falling else (name in self.on)
            if waits:
                best = min(best, (law.seconds_to(self.kelvin, goal), goal))
        return best


def set_points_k(heater: Heater) -> tuple[float | None, float | None]:
    """Return the set points of a thermostat in kelvin, or None twice."""
    if heater.on_below_c is None or heater.off_above_c is None:
        return None, None
    return heater.on_below_c + ZERO_C_K, heater.off_above_c + ZERO_C_K


Power = Sequence[tuple[float, frozenset[str]]]
"""(time, services with power from then on), in the order of time."""


def followed(model: Model, start_k: float, power: Power, end_s: float) -> Track:
    """Return the temperature from the first entry of ``power`` to ``end_s``.

    Raises:
        TooFastError: a thermostat cycles too fast.
    """
    track = Track()
    now, powered = power[0]
    watcher = Watcher(model, start_k, powered)
    for n, (_, powered) in enumerate(power):
        until = power[n + 1][0] if n + 1 < len(power) else max(end_s, now)
        watcher.powered = powered
        watcher.switch()
        while now < until or not track.pieces:
            law = watcher.law()
            wait, goal = watcher.next_switch(law)
            ends = min(until, now + wait)
            if now + wait <= until:
                after = goal
            else:
                after = watcher.kelvin if law is None else law.after_k(watcher.kelvin, ends - now)
            track.pieces.append(Piece(now, ends, watcher.kelvin, after, law))
            track.on.append(watcher.heating)
            if len(track.pieces) > PIECES_AT_MOST:
                raise TooFastError
            watcher.kelvin = after
            now = ends
            watcher.switch()
    return track


def seconds_until(
    model: Model, start_k: float, power: Power, target_k: float, falling: bool
) -> float:
    """Return the seconds until a temperature is reached.

    Infinite where it never is: another heater holds it, or it settles short of it.

    Args:
        model: the zone.
        start_k: the temperature at the beginning, kelvin.
        power: (seconds from the beginning, services with power from then on); the first at 0, and
            the last lasts for good.
        target_k: the temperature to reach, kelvin.
        falling: reached at or below the target; else at or above.
    """
    watcher = Watcher(model, start_k, power[0][1])
    passed = 0.0
    for n, (since, powered) in enumerate(power):
        until = power[n + 1][0] if n + 1 < len(power) else inf
        passed = since
        watcher.powered = powered
        watcher.switch()
        for rounds in range(PIECES_AT_MOST):
            if (watcher.kelvin <= target_k) if falling else (watcher.kelvin >= target_k):
                return passed
            law = watcher.law()
            there = inf
            if law is not None and (law.rate(watcher.kelvin) < 0) == falling:
                there = law.seconds_to(watcher.kelvin, target_k)
            wait, goal = watcher.next_switch(law)
            if there <= min(wait, until - passed):
                return passed + there
            if passed + wait >= until:
                if law is not None and until < inf:
                    watcher.kelvin = law.after_k(watcher.kelvin, until - passed)
                break
            before = watcher.heating
            passed += wait
            watcher.kelvin = goal
            watcher.switch()
            if until == inf and rounds > 1 and falling and before < watcher.heating:
                return inf  # the thermostat has gone round once and did not let it fall so far
    return inf
