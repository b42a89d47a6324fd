"""Current derating and contacts against published tables (seen in stored copies)."""

from __future__ import annotations

import pytest

from cablewalk.formulas.contact import SERIES_III, resistance_ohm
from cablewalk.formulas.derating import MIL_STD_975M

NO_ROUNDING = 1e-12


@pytest.mark.parametrize(
    ("wires", "factor"), [(1, 1.0), (2, 27 / 28), (8, 21 / 28), (15, 0.5), (16, 0.5), (60, 0.5)]
)
def test_bundle_factor(wires: int, factor: float) -> None:
    """MIL-STD-975M, App. A 3.16: (29 - N)/28 for 2-15, 0.5 above 15."""
    assert MIL_STD_975M.bundle_factor(wires) == pytest.approx(factor, rel=NO_ROUNDING)


@pytest.mark.parametrize(
    ("gauge", "alone"), [(30, 1.3), (24, 3.3), (20, 6.5), (16, 13.0), (12, 25.0), (4, 81.0)]
)
def test_single_wire(gauge: int, alone: float) -> None:
    """MIL-STD-975M, App. A 3.16."""
    assert MIL_STD_975M.allowed_a(gauge, 1, 200) == alone


@pytest.mark.parametrize(("insulation", "factor"), [(200, 1.0), (150, 0.8), (135, 0.7), (105, 0.5)])
def test_insulation_factor(insulation: int, factor: float) -> None:
    allowed = MIL_STD_975M.allowed_a(20, 1, insulation)
    assert allowed == pytest.approx(6.5 * factor, rel=NO_ROUNDING)


def test_other_rules_give_other_figures() -> None:
    """EEE-INST-002 (seen): 12 AWG 25 A alone, 11.5 A in a bundle; NTRS 19990113164 (seen):
    20 AWG 3.7 A in a bundle of 15 or more. 975M gives 12.5 and 3.25: why a profile is named.
    """
    assert MIL_STD_975M.allowed_a(12, 1, 200) == 25.0
    assert MIL_STD_975M.allowed_a(12, 16, 200) == 12.5
    assert MIL_STD_975M.allowed_a(20, 16, 200) == 3.25


@pytest.mark.parametrize(("gauge", "insulation"), [(21, 200), (20, 180)])
def test_no_value_is_an_error_not_a_guess(gauge: int, insulation: int) -> None:
    with pytest.raises(ValueError, match="it has"):
        MIL_STD_975M.allowed_a(gauge, 1, insulation)


def test_no_wire_is_no_bundle() -> None:
    with pytest.raises(ValueError, match="at least one"):
        MIL_STD_975M.bundle_factor(0)


@pytest.mark.parametrize(
    ("size", "milliohm"), [("22D", 14.6), ("20", 7.3), ("16", 3.8), ("12", 1.8)]
)
def test_contact_resistance(size: str, milliohm: float) -> None:
    """Manufacturer's series III catalogue: drop at test current; milliohm to one decimal."""
    assert resistance_ohm(*SERIES_III[size]) * 1000 == pytest.approx(milliohm, abs=0.05)
