"""What the work leaves: what holds a service down, and redundancy that is only seemingly lost."""

from __future__ import annotations

import json
from pathlib import Path

from rule_examples import checked, having, ids

from cablewalk.files.place import Source
from cablewalk.reports.sarif import sarif

HELD = """
steps:
- {by: gus, do: [switch_off: K1]}
- {after: s1, do: [demate: P1]}
- {by: gus, after: s2, do: [switch_on: K1]}
"""


def test_down_at_end_names_what_holds_it_down_not_what_first_took_it() -> None:
    (found,) = having(checked(HELD), "down-at-end")
    assert found.step == "s2"
    assert found.difference.startswith("s2 → demate P1 → ")


def test_sarif_points_at_the_same_place(tmp_path: Path) -> None:
    result = checked(HELD)
    names = [Source("b.yaml"), Source("p.yaml")]
    log = json.loads(sarif(result.findings, result.waived, names))
    (row,) = [r for r in log["runs"][0]["results"] if r["ruleId"] == "down-at-end"]
    assert row["message"]["text"].startswith("step s2: light is still down at the end")


def test_down_at_end_tells_every_cause_that_lasts() -> None:
    left_off = HELD.replace("[switch_on: K1]", "[{wait: 1}]")
    (found,) = having(checked(left_off), "down-at-end")
    assert "s1 → switch_off K1" in found.difference
    assert "s2 → demate P1" in found.difference


def test_a_switch_off_after_the_demate_holds_it_too() -> None:
    steps = "steps: [[demate: P1, mate: {P1: J1}], {by: gus, after: s1, do: [switch_off: K1]}]"
    (found,) = having(checked(steps), "down-at-end")
    assert found.step == "s2"
    assert "demate" not in found.difference


VIEW = """
baseline:
  places:
    bench:
      halves: {J6: p2 socket CAM.a CAM.b, J7: p2 pin MON.a MON.b}
      units: {CAM: {kind: load, terminals: a b}, MON: {kind: load, terminals: a b}}
  harnesses: {W3: [R1 p2 pin, R2 p2 socket]}
  services: {view: {kind: video, needs: [light], lines: [CAM.a to MON.a]}}
  now: {mated: {R1: J6, R2: J7}}
procedure: {planned_outages: {view: it needs the light}}
"""


def test_what_a_needed_service_lacks_holds_down_what_needs_it() -> None:
    found = {f.items[0]: f for f in having(checked(VIEW + HELD), "down-at-end")}
    assert found["view"].step == "s2"
    assert "light: " in found["view"].difference


COLD = """
baseline:
  places:
    bench:
      halves: {J3: p2 socket BAT.hi BAT.ret, J4: p2 pin LAMP.h2 LAMP.r2}
      units:
        BAT: {kind: source, volts: 28, switches: K2}
        LAMP: {kind: load, terminals: hi ret h2 r2, isolated: [[hi, ret], [h2, r2]]}
      switches: {K1: , K2: }
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
  services:
    light: {kind: power, need: 1, load: ~, feeds: ~,
            strings: {a: {load: LAMP, feeds: SRC},
                      b: {load: LAMP.h2 LAMP.r2, feeds: BAT, cold: true, selected_by: K2}}}
  now: {on: [K1], off: K2, mated: {P1: J1, P2: J2, Q1: J3, Q2: J4}}
"""


def test_a_cold_string_put_back_to_standby_is_not_lost() -> None:
    steps = "steps: [{by: gus, do: [switch_on: K2, {wait: 2}, switch_off: K2]}]"
    assert "redundancy-lost" not in ids(checked(COLD + steps))


def test_a_hot_string_switched_off_is_lost() -> None:
    steps = "steps: [{by: gus, do: [switch_on: K2, switch_off: K1, {wait: 2}, switch_on: K1]}]"
    (found,) = having(checked(COLD + steps), "redundancy-lost")
    assert "light runs without light.a" in found.found


def test_a_switch_put_back_on_holds_nothing_down() -> None:
    two = (
        "baseline: {places: {bench: {units: {SRC: {switches: [K1, K2]}}, "
        "switches: {K1: , K2: }}}, now: {on: [K1, K2]}}\n"
    )
    steps = (
        "steps:\n- {by: gus, do: [switch_off: K1, switch_on: K1, switch_off: K2]}\n"
        "- {after: s1, do: [demate: P1]}\n"
    )
    (found,) = having(checked(two + steps), "down-at-end")
    assert "switch_off K2" in found.difference
    assert "K1" not in found.difference


def test_a_gap_closed_again_is_not_what_keeps_a_service_down() -> None:
    """The first gap of the way is closed while a second one stays open: that one is named."""
    steps = """
steps:
  - {by: gus, do: [switch_off: K1]}
  - [demate: P1]
  - [demate: P2]
  - [mate: {P1: J1}]
  - {by: gus, do: [switch_on: K1]}
"""
    (found,) = having(checked(steps), "down-at-end")
    assert found.step == "s3"
    assert "demate P2" in found.difference


def test_a_spare_put_back_at_the_second_another_action_ends_is_no_loss() -> None:
    """Two events of one moment: what ended there is not what gave the string up."""
    steps = "steps: [{by: gus, do: [switch_on: K2, switch_off: K1, switch_on: K1, switch_off: K2]}]"
    found = having(checked(COLD + steps), "redundancy-lost")
    assert found and not any("light.b" in one.found for one in found)
