"""Derating: the current a wire may carry in a bundle, by named profiles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Profile:
    """One published rule: current of a single wire, and what takes from it.

    ``single_a``: gauge to ampere. ``insulation``: insulation's temperature class in °C to factor.
    """

    name: str
    source: str
    validity: str
    single_a: dict[int, float]
    insulation: dict[int, float]

    def bundle_factor(self, wires: int) -> float:
        """Return the factor for so many wires in a bundle.

        1 for a single wire, (29 - N)/28 from 2 to 15, 0.5 above. Source: as the profile.

        Raises:
            ValueError: fewer than one wire.
        """
        if wires < 1:
            raise ValueError("a bundle has at least one wire")
        if wires > 15:
            return 0.5
        return (29 - wires) / 28

    def allowed_a(self, gauge_awg: int, wires: int, insulation_c: int) -> float:
        """Return the current one wire of a bundle may carry, ampere.

        Raises:
            ValueError: the profile has no value for the gauge or for the insulation; the
                message says which it has.
        """
        if gauge_awg not in self.single_a:
            known = " ".join(str(g) for g in sorted(self.single_a))
            raise ValueError(f"{self.name} has no value for gauge {gauge_awg}; it has {known}")
        if insulation_c not in self.insulation:
            known = " ".join(str(c) for c in sorted(self.insulation))
            raise ValueError(
                f"{self.name} has no factor for insulation of {insulation_c} °C; it has {known}"
            )
        return self.single_a[gauge_awg] * self.bundle_factor(wires) * self.insulation[insulation_c]


MIL_STD_975M: Final = Profile(
    "mil-std-975m",
    "MIL-STD-975M (5 Aug 1994), Appendix A 3.16; cancelled 1998, kept as a published table",
    "round single conductors, 70 °C, hard vacuum",
    {
        30: 1.3,
        28: 1.8,
        26: 2.5,
        24: 3.3,
        22: 4.5,
        20: 6.5,
        18: 9.2,
        16: 13.0,
        14: 19.0,
        12: 25.0,
        10: 33.0,
        8: 44.0,
        6: 60.0,
        4: 81.0,
        2: 108.0,
        0: 147.0,
    },
    {200: 1.0, 150: 0.80, 135: 0.70, 105: 0.50},
)
"""Gauge 00 (169 A) is left out: documents write gauges as 0 to 40."""

PROFILES: Final = {MIL_STD_975M.name: MIL_STD_975M}
"""The profiles there are. Agencies' rules differ (ISO/TR 25087:2025 compares six): which one
applies is the choice of the user's programme."""
