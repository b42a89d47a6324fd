"""What the work leaves: halves, caps, legs, covers, bags, ties, lengths, cycles, order."""

from __future__ import annotations

import pytest
from rule_examples import checked, having, ids

from cablewalk.checks.lookalikes import mistakes
from cablewalk.checks.registry import RULES
from cablewalk.findings import Address, Severity

WAY = """
baseline:
  places: {hatch: {}}
  paths: {way: {between: bench hatch, length_m: 4, tie_points: [t1, t2, t3]}}
  harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 4.4, diameter_mm: 10}}
  bags: {kit: {ties: 9}}
  now: {people: {ada: bench}, bags: {kit: bench}, routed: {P1: bench, P2: bench}}
  limits: {LIMIT, bends_mm: {way: 95}}
steps: [[route: {W1.main: way}, tie: {W1.main: t1}]]
"""


def _way(name: str, value: str) -> str:
    return WAY.replace("LIMIT", f"{name}: {{value: {value}, source: rule}}")


at_every_limit = pytest.mark.parametrize(
    ("limit", "value", "rule", "over"),
    [
        ("slack_m", "0.4", "segment-short", False),
        ("slack_m", "0.41", "segment-short", True),
        ("bend_factor", "9.5", "bend-tight", False),
        ("bend_factor", "9.6", "bend-tight", True),
        ("tie_spacing_m", "2", "ties-far-apart", False),
        ("tie_spacing_m", "1.9", "ties-far-apart", True),
    ],
)
"""Just kept, and just not, for each of the three limits."""


@at_every_limit
def test_limits_hold_up_to_their_value(limit: str, value: str, rule: str, over: bool) -> None:
    found = having(checked(_way(limit, value)), rule)
    assert bool(found) is over
    assert all(f.source == "rule" for f in found)


def test_a_segment_shorter_than_its_path_needs_no_limit() -> None:
    text = _way("mate_cycles", "9").replace("length_m: 4.4", "length_m: 3.9")
    (finding,) = having(checked(text), "segment-short")
    assert finding.difference == "-0.1 m spare"
    assert finding.source == ""


LAID = WAY.replace("routed:", "along: {W1.main: way}, ties: {W1.main: [t1]}, routed:")
NOTHING = "steps: [[wait: 1]]"


def _laid(name: str, value: str, steps: str = NOTHING) -> str:
    text = LAID.replace("LIMIT", f"{name}: {{value: {value}, source: rule}}")
    return text[: text.index("steps:")] + steps


@at_every_limit
def test_what_the_baseline_has_laid_is_judged_as_it_loads(
    limit: str, value: str, rule: str, over: bool
) -> None:
    found = having(checked(_laid(limit, value)), rule)
    assert len(found) == over
    for one in found:
        assert " in the baseline" in one.found
        assert one.address == Address(0, ("now", "along", "W1.main"))
        assert one.step is None


def test_a_tie_cut_by_the_work_is_told_of_the_work_and_not_of_the_baseline() -> None:
    text = _laid("tie_spacing_m", "1.9", "steps: [[cut_tie: {W1.main: t1}]]")
    (one,) = having(checked(text), "ties-far-apart")
    assert " in the baseline" not in one.found
    assert one.found.startswith("W1.main has 0 ties")
    assert one.step == "s1"


def test_a_segment_laid_otherwise_is_judged_as_it_was_and_as_it_lies() -> None:
    text = _laid("slack_m", "0.41", "steps: [[cut_tie: {W1.main: t1}, route: {W1.main: side}]]")
    text = text.replace("paths: {way:", "paths: {side: {between: bench hatch, length_m: 5}, way:")
    before, after = having(checked(text), "segment-short")
    assert "laid along way in the baseline: 4 m" in before.found
    assert "laid along side: 5 m" in after.found
    assert (before.step, after.step) == (None, "s1")


def test_a_segment_laid_nowhere_is_not_judged() -> None:
    text = _way("bend_factor", "20")
    assert "bend-tight" not in ids(checked(text[: text.index("steps:")] + NOTHING))


@pytest.mark.parametrize(("limit", "over"), [("3", False), ("2", True)])
def test_cycles_count_across_phases(limit: str, over: bool) -> None:
    text = (
        f"baseline: {{places: {{bench: {{halves: {{J1: {{interface: p2, gender: socket, wired: "
        f"[SRC.hi, SRC.ret], cycles_limit: {limit}, cycles_source: maker}}}}}}}}, "
        "now: {cycles: {J1: 1}}}\n"
        "steps: [[demate: P1, mate: {P1: J1}]]\n"
        "then: {cablewalk: 1, procedure: again, minutes: 1, gap_min: 1, "
        "planned_outages: {light: x}, steps: [[demate: P1, mate: {P1: J1}]]}"
    )
    found = having(checked(text), "cycles-over")
    assert [f.items for f in found] == ([("J1",)] if over else [])
    if over:
        assert "maker" in found[0].expected
        assert found[0].difference == "1 over; 2 of them in this run"


def test_a_half_bare_before_the_work_and_not_touched_is_not_told() -> None:
    text = (
        "baseline: {places: {bench: {halves: {J9: p2 socket}}}, caps: {C9: J9}, now: {bare: J9, "
        "tethered: {C9: J9}}}\nsteps: [[inspect: J1]]"
    )
    assert "bare-at-end" not in ids(checked(text))


def test_a_leg_packed_with_its_half_bare_is_put_away() -> None:
    text = (
        "baseline: {bags: {kit: }, now: {bags: {kit: bench}}}\n"
        "steps: [[demate: P1, demate: P2, fit_cap: {CJ1: J1}, fit_cap: {CJ2: J2}, pick_up: P1, "
        "pick_up: P2, pack: {W1: kit}]]"
    )
    assert "bare-at-end" not in ids(checked(text))


def test_captive_fasteners_and_others() -> None:
    cover = (
        "baseline: {places: {bench: {covers: {LID: {fasteners: 4, captive: CAPTIVE, over: J1}}}}}"
    )
    steps = "\nsteps: [[release: {LID: 3}]]"
    loose = having(checked(cover.replace("CAPTIVE", "false") + steps), "cover-left-open")
    assert loose[0].difference == "3 fasteners not made, and they are not captive: account for each"
    kept = having(checked(cover.replace("CAPTIVE", "true") + steps), "cover-left-open")
    assert kept[0].difference == "3 fasteners not made"


def test_a_lost_cap_found_again_is_a_warning() -> None:
    text = (
        "steps: [[{found: {CJ1: lost}, reason: gone}, {found: {CJ1: tethered J1}, reason: there}]]"
    )
    assert [f.severity for f in having(checked(text), "cap-lost")] == [Severity.WARNING]


def test_order_by_a_go_call_counts() -> None:
    text = (
        "baseline: {people: {bob: outside}}\n"
        "steps: [[inspect: J1, go_call: go], {by: bob, go: go, do: [demate: P1]}]"
    )
    assert "two-on-one-item" not in ids(checked(text))


def test_order_through_a_third_step_counts() -> None:
    text = (
        "baseline: {people: {bob: outside}}\nsteps: [[inspect: J1], {by: gus, after: s1, "
        "do: {wait: 1}}, {by: bob, after: s2, do: [demate: P1]}]"
    )
    assert "two-on-one-item" not in ids(checked(text))


def test_undone_within_one_phase_is_no_undoing() -> None:
    assert "undone-later" not in ids(
        checked("steps: [[demate: P1, mate: {P1: J1}, verify: light]]")
    )


# --- look-alikes ---------------------------------------------------------------------------

TWINS = """
baseline:
  places:
    bench:
      halves: {J3: p2 socket SRB.hi SRB.ret}
      units: {SRB: {kind: source, volts: 120, switches: K2}}
      switches: {K1: , K2: }
  now: {on: [K1], off: [K2], bare: [J3]}
steps: [{by: gus, do: [switch_off: K1]}, {after: s1, do: [demate: P1, mate: {P1: J1}]}]
"""


def test_the_wrong_source_is_found_though_every_switch_is_off() -> None:
    (found,) = mistakes(checked(TWINS).case)
    assert found.live == ("SRB (120 V) on LAMP.hi, live once SRB is on",)
    assert found.shorts[0] == "light: feed SRB reaches it and is not among its feeds"


def test_a_half_out_of_reach_is_no_look_alike() -> None:
    text = TWINS.replace(
        "  places:\n    bench:",
        "  places:\n    far: {halves: {J3: p2 socket SRB.hi SRB.ret}}\n    bench:",
    ).replace("      halves: {J3: p2 socket SRB.hi SRB.ret}\n", "")
    text = text.replace("now: {", "now: {people: {ada: bench}, ")
    assert mistakes(checked(text).case) == []


def test_a_half_under_a_cover_is_no_look_alike() -> None:
    text = TWINS.replace(
        "      switches:", "      covers: {LID: {fasteners: 2, over: [J3]}}\n      switches:"
    )
    assert mistakes(checked(text).case) == []


def test_a_mistake_that_does_no_harm_is_not_told() -> None:
    text = TWINS.replace("p2 socket SRB.hi SRB.ret", "p2 socket")
    assert mistakes(checked(text).case) == []


def test_a_service_lost_by_the_mistake() -> None:
    """A shorting half: the wrong mate takes down what was up."""
    text = """
baseline:
  places:
    bench:
      halves: {J3: p2 pin LAMP.hi LAMP.ret, J5: p2 socket STR.a STR.a}
      units: {STR: {kind: load, terminals: a}}
  harnesses: {W1: [P1 p2 pin, P2 p2 socket, P3 p2 pin], W9: [P9 p2 socket, Q9 p2 pin]}
  now: {bare: [J5, P3], packed: ~, routed: {P3: bench, W9: bench}}
  caps: {C3: P3, C5: J5, C9: P9, CQ: Q9}
steps: [[remove_cap: CQ, mate: {Q9: J5}]]
"""
    found = [m for m in mistakes(checked(text).case) if m.lost]
    assert [m.lost for m in found] == [("light",)]


# --- what is missing from the documents ----------------------------------------------------

UNSAID = """
baseline:
  places: {hatch: {}}
  paths: {way: {between: bench hatch, length_m: 4, tie_points: [t1, t2]}}
  harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}SIZES}}
  bags: BAGS
  now: {people: {ada: bench}, bags: {kit: bench}, routed: {P1: bench, P2: bench}}
  limits: LIMITS
steps: [[route: {W1.main: way}, tie: {W1.main: t1}]]
"""


def _noted(limits: str, sizes: str = "", bags: str = "{kit: {ties: 9}}") -> dict[str, str]:
    text = UNSAID.replace("LIMITS", limits).replace("SIZES", sizes).replace("BAGS", bags)
    found = having(checked(text), "not-judged")
    return {f.items[0]: f.found for f in found if f.items[0] in RULES}


def test_what_a_given_limit_is_held_against_is_missed_by_name() -> None:
    limit = "{value: 10, source: example rule}"
    assert _noted("{}") == {}
    assert _noted(f"{{slack_m: {limit}}}") == {
        "segment-short": "segment-short cannot be judged: nothing says the length of W1.main"
    }
    assert _noted(f"{{slack_m: {limit}}}", ", length_m: 99") == {}
    assert _noted(f"{{bend_factor: {limit}, bends_mm: {{way: 99}}}}") == {
        "bend-tight": "bend-tight cannot be judged: nothing says the diameter of W1.main"
    }
    assert _noted(f"{{bend_factor: {limit}}}", ", diameter_mm: 5") == {
        "bend-tight": "bend-tight cannot be judged: nothing says the tightest bend of way"
    }


def test_the_first_tie_that_is_not_there_is_named() -> None:
    text = _way("tie_spacing_m", "2").replace("ties: 9", "ties: 1")
    text = text.replace("tie: {W1.main: t1}]]", "tie: {W1.main: t1}, tie: {W1.main: t2}]]")
    (one,) = having(checked(text), "ties-short")
    assert one.found == "the bags hold 1 tie, and this is tie 2"
    assert one.address.path[-1] == 2


def test_ties_that_nobody_counted_are_no_shortage() -> None:
    assert _noted("{}", bags="{kit: {}}") == {
        "ties-short": "ties-short cannot be judged: nothing says how many ties are in kit"
    }
    text = UNSAID.replace("LIMITS", "{}").replace("SIZES", "").replace("BAGS", "{kit: {}}")
    assert "ties-short" not in ids(checked(text))


def test_a_person_without_a_limit_is_named() -> None:
    take = "steps: [[demate: P1, pick_up: P1]]"
    text = "baseline: {people: {bob: {kind: outside, can_hold: 2}}}\n" + take
    (note,) = [f for f in having(checked(text), "not-judged") if "holds-too-much" in f.items]
    assert note.items == ("holds-too-much", "ada")
    (note,) = [f for f in having(checked(take), "not-judged") if "holds-too-much" in f.items]
    assert note.items == ("holds-too-much", "ada")
    empty = "steps: [[demate: P1]]"
    assert not [f for f in having(checked(empty), "not-judged") if "holds-too-much" in f.items]


def test_halves_of_hardware_installed_by_the_work_are_its_to_cap() -> None:
    text = """
baseline:
  places:
    bench:
      panels: {NEW: {halves: {JN: p2 socket}}}
  now: {absent: [NEW]HOLD}
steps: [STEPS]
"""
    bare = text.replace("HOLD", ", bare: [JN]").replace("STEPS", "[install: NEW]")
    (finding,) = [f for f in having(checked(bare), "bare-at-end") if f.items == ("JN",)]
    assert finding.step == "s1"
    idle = text.replace("HOLD", ", bare: [JN]").replace("STEPS", "[wait: 1]")
    assert "bare-at-end" not in ids(checked(idle))


def test_the_tools_of_a_bag_that_is_not_home_are_named() -> None:
    text = (
        "baseline: {bags: {kit: {tools: {pliers: 2}}}, now: {bags: {kit: bench}, people: "
        "{ada: bench}}}\nsteps: [[carry: kit]]"
    )
    (finding,) = having(checked(text), "bag-not-home")
    assert finding.difference == "tools to account for: 2 pliers"


def test_a_cap_taken_off_for_a_new_cable_undoes_nothing() -> None:
    text = """
baseline:
  harnesses: {W9: [P9 p2 pin, Q9 p2 socket]}
  now: {routed: {W9: bench}, bare: [P9]}
  caps: {CQ9: Q9}
steps: [[demate: P1, fit_cap: {C1: P1}, fit_cap: {CJ1: J1}]]
then:
  {cablewalk: 1, procedure: next, minutes: 1, gap_min: 60,
   steps: [[remove_cap: CJ1, mate: {P9: J1}]]}
"""
    assert "undone-later" not in ids(checked(text))


def test_a_string_lost_and_back_at_the_same_moment_is_not_given_up() -> None:
    text = RULES["redundancy-lost"].fires.replace("{wait: 5}, ", "")
    assert "redundancy-lost" in ids(checked(text))
    assert "redundancy-lost" not in ids(checked(text + "\nprocedure: {minutes: 0}\n"))


def test_a_vehicle_that_is_boarded_holds_nothing() -> None:
    text = (
        "baseline: {people: {ada: {kind: outside, can_hold: 2}, arm: vehicle}, "
        "now: {people: {ada: bench, arm: bench}}}\n"
        "steps: [[walk: arm]]"
    )
    result = checked(text)
    assert "refused" not in ids(result)
    assert not [f for f in having(result, "not-judged") if "holds-too-much" in f.items]


ELSEWHERE = """
baseline:
  places:
    hatch: {}
    bench: {covers: {LID: {fasteners: 2, over: [J2]}}}
  paths: {way: {between: bench hatch, length_m: 4}}
  people: {bob: outside}
  bags: {kit: {ties: 0}, box: {ties: 0}}
  now: {people: {ada: bench, bob: hatch}, bags: {kit: hatch, box: bench}}
"""


@pytest.mark.parametrize(
    ("steps", "rule"),
    [
        ("[[release: LID, open: LID], {by: bob, after: s1, do: [close: LID]}]", "cover-left-open"),
        ("[[demate: P1, pick_up: C1], {after: s1, do: [pack: {C1: kit}]}]", "cap-in-hand-at-end"),
        ("[[carry: box], {by: bob, after: s1, do: [leave: box]}]", "bag-not-home"),
    ],
)
def test_what_a_skipped_action_leaves_stands_beneath_its_step(steps: str, rule: str) -> None:
    result = checked(ELSEWHERE + f"steps: {steps}")
    assert "refused" in ids(result)
    assert [f.because_of for f in having(result, rule)] == ["s2"]


def test_what_is_left_for_no_skipped_action_stands_alone() -> None:
    text = ELSEWHERE + "steps: [[release: LID, open: LID, mate: {P2: J1}]]"
    assert "refused" in ids(checked(text))
    assert [f.because_of for f in having(checked(text), "cover-left-open")] == [None]


CONVERTER = """
baseline:
  places:
    bench:
      halves:
        J3: p2 socket CONV.out_hi CONV.out_ret
        J4: p2 pin LAMP.h2 LAMP.r2
        J5: p2 socket BAT.hi BAT.ret
        J6: p2 pin CONV.in_hi CONV.in_ret
        J9: p2 socket
      units:
        BAT: {kind: source, volts: 28, switches: K2}
        CONV: {kind: converter, volts: 28, isolated: [[in_hi, in_ret], [out_hi, out_ret]]}
        LAMP: {kind: load, terminals: hi ret h2 r2, isolated: [[hi, ret], [h2, r2]]}
      switches: {K1: , K2: }
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket], W3: [R1 p2 pin, R2 p2 socket],
              W9: [E1 p2 pin, E2 p2 socket]}
  services:
    light: {kind: power, need: 1, load: ~, feeds: ~,
            strings: {a: {load: LAMP, feeds: SRC}, b: {load: LAMP.h2 LAMP.r2, feeds: CONV}}}
  now: {on: [K1, K2], mated: {P1: J1, P2: J2, Q1: J3, Q2: J4, R1: J5, R2: J6, E1: J9}}
steps: [{by: gus, do: [switch_off: K2]}, {after: s1, do: [WORK]},
        {by: gus, after: s2, do: [switch_on: K2]}]
"""


@pytest.mark.parametrize(
    ("work", "severity"),
    [
        ("demate: R1, mate: {R1: J5}", Severity.NOTE),
        ("demate: Q1, mate: {Q1: J3}", Severity.NOTE),
        ("wait: 2", Severity.WARNING),
        ("demate: P1, mate: {P1: J1}", Severity.WARNING),
        ("demate: E1, mate: {E1: J9}", Severity.WARNING),
    ],
)
def test_work_on_what_supplies_a_converter_needs_its_string_off(
    work: str, severity: Severity
) -> None:
    """Work on the converter's input or output cable needs K2 off; work on the other does not."""
    found = having(checked(CONVERTER.replace("WORK", work)), "redundancy-lost")
    assert severity in {f.severity for f in found if "without light.b" in f.found}


def test_a_panel_put_back_brings_no_new_bare_half() -> None:
    """Its half was bare before the work; one that arrives with its panel is the work's to cap."""
    text = (
        "baseline: {places: {bench: {panels: {PAN: {halves: {JX: p2 socket}}}}}, now: NOW}\n"
        "steps: [STEP]"
    )
    back = text.replace("NOW", "{}").replace("STEP", "[remove: PAN, install: PAN]")
    assert "bare-at-end" not in ids(checked(back))
    new = text.replace("NOW", "{absent: [PAN]}").replace("STEP", "[install: PAN]")
    assert [f.items for f in having(checked(new), "bare-at-end")] == [("JX",)]


def test_the_demate_that_takes_a_string_is_itself_work_that_needs_it() -> None:
    text = CONVERTER[: CONVERTER.index("steps:")] + "steps: [[demate: R1]]"
    (found,) = having(checked(text), "redundancy-lost")
    assert found.severity is Severity.NOTE


def test_only_a_cap_with_contacts_is_a_touch() -> None:
    plain = checked("steps: [[demate: P1, fit_cap: {C1: P1}]]").case
    assert [t.task.verb for t in plain.survey.touches] == ["demate"]
    text = (
        "baseline: {caps: {CS: {fits: p2 socket, joins: [1 2]}}, now: {held: {CS: ada}}}\n"
        "steps: [[demate: P1, fit_cap: {CS: J1}]]"
    )
    wired = checked(text).case
    assert [t.task.verb for t in wired.survey.touches] == ["demate", "fit_cap"]
