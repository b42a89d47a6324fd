"""The clock of a published case: a telescope's power unit swapped outside, 2002.

Source: press reports and the agency's status report 11 of that flight (seen); margin computed.
Limit 10 h from power-off; power off 09:37, on 14:02 GMT: 265 min used, 335 left.
"""

from __future__ import annotations

import pytest
from small import LAMP, baseline, procedure

from cablewalk.timeline.account import account
from cablewalk.timeline.clocks import Reading
from cablewalk.timeline.spells import Spell

ALLOWED_MIN = 600
USED_MIN = 265
LEFT_MIN = 335

CLOCK = """
services: {light: {clock: {allowed_min: 600, starts: power_off, source: published flight limit}}}
"""


SWITCHING_MIN = 3
"""What the switch-off takes here; the power is gone as it begins, the first demate comes after."""


def readings(starts: str, demated: bool) -> tuple[Spell, Reading]:
    between = "{demate: P1}, {mate: {P1: J1}}, " if demated else ""
    wait = USED_MIN - SWITCHING_MIN
    steps = f"[[{{switch_off: SW1}}, {between}{{wait: {wait}}}, {{switch_on: SW1}}]]"
    minutes = {"switch_off": str(SWITCHING_MIN), "switch_on": "0", "demate": "0", "mate": "0"}
    clock = CLOCK.replace("power_off", starts)
    result = account(baseline(LAMP, clock), [procedure(steps, start_pet="9:37", minutes=minutes)])
    (spell,) = result.outages
    (reading,) = result.readings[0]
    return spell, reading


@pytest.mark.parametrize("demated", [True, False])
def test_the_clock_starts_at_power_off(demated: bool) -> None:
    """Thirty-six connectors came off and on in between; the clock ran from the switch-off."""
    spell, reading = readings("power_off", demated)
    assert spell.from_s == (9 * 60 + 37) * 60
    assert spell.to_s == (14 * 60 + 2) * 60
    assert reading.total_s == USED_MIN * 60
    assert reading.margin_s == LEFT_MIN * 60
    assert reading.reconnect_by_s == (9 * 60 + 37 + ALLOWED_MIN) * 60


def test_a_clock_from_the_first_demate_would_be_too_kind() -> None:
    """The same swap by such a clock: the minutes of the switch-off are not counted."""
    _, reading = readings("demate", demated=True)
    assert reading.total_s == (USED_MIN - SWITCHING_MIN) * 60
    assert reading.margin_s == (LEFT_MIN + SWITCHING_MIN) * 60
