"""A mate that does not fit: the refusal says what the half could be mated with."""

from __future__ import annotations

import pytest
from rule_examples import checked, having

PLACES = """
baseline:
  interfaces: {p3: 3}
  places:
    bench:
      halves: {JW: p3 socket, JB: p2 socket, JP: {interface: p2, gender: socket, parking: true}}
    far: {halves: {JF: p2 socket}}
    near: {halves: {JN: p2 socket}}
    apart: {halves: {JA: p2 socket}}
    mid: {halves: {JM: p2 socket}}
  paths:
    one: {between: bench near, length_m: 2}
    two: {between: near far, length_m: 7}
    three: {between: bench mid, length_m: 3}
  caps: {CB: JB}
  now: {people: {ada: bench}}
"""


def _way_out(steps: str, base: str = PLACES) -> str:
    (finding,) = having(checked(f"{base}steps: [[{steps}]]"), "refused")
    assert "do not fit" in finding.found
    return finding.way_out


@pytest.mark.parametrize("verb", ["mate", "engage", "seat"])
def test_the_nearest_four_that_fit_are_named_with_how_they_stand(verb: str) -> None:
    assert _way_out(f"{verb}: {{P1: JW}}") == (
        "P1 fits J1 (bench, mated), JB (bench, capped), JN (near, bare), JM (mid, bare)"
    )


def test_the_far_one_comes_before_the_one_no_path_leads_to() -> None:
    base = PLACES.replace("JN: p2", "JN: p3").replace("JM: p2", "JM: p3")
    assert _way_out("mate: {P1: JW}", base).endswith("JF (far, bare), JA (apart, bare)")


def test_a_parking_half_is_offered_only_to_park() -> None:
    base = PLACES.replace(
        "JW: p3 socket", "JW: p3 socket, JX: {interface: p3, gender: socket, parking: true}"
    )
    assert _way_out("park: {P1: JX}", base) == "P1 fits JP (bench, bare)"


def test_where_nothing_fits_that_is_said() -> None:
    base = PLACES.replace("p2 socket", "p3 socket").replace(
        "places:", "harnesses: {W8: {legs: {P8: p4 pin, Q8: p4 socket}}}\n  places:", 1
    )
    base = base.replace("{p3: 3}", "{p3: 3, p4: 4}").replace(
        "{people:", "{routed: {W8: bench}, bare: [P8, Q8], people:"
    )
    assert _way_out("mate: {P8: JW}", base) == "no half of the baseline fits P8"
    parked = base.replace("JP: {interface: p2", "JP: {interface: p3")
    assert _way_out("park: {P8: JP}", parked) == ("no parking half of the baseline fits P8")
