"""Power at contacts: thresholds, independent inhibits, switch-ons; waivers of findings."""

from __future__ import annotations

from dataclasses import replace

import pytest
import yaml
from rule_examples import checked, having, ids
from small import merged, text_of

from cablewalk.checks.example import BASE
from cablewalk.checks.touches import barriers
from cablewalk.findings import Severity

LIVE = "steps: [[demate: P1, fit_cap: {C1: P1}, fit_cap: {CJ1: J1}]]"


def _limit(volts: str) -> str:
    return f"baseline: {{limits: {{touch_volts: {{value: {volts}, source: rule 3}}}}}}\n"


@pytest.mark.parametrize(
    ("volts", "severity"),
    [("20", "error"), ("28", "error"), ("28.1", "warning"), ("60", "warning")],
)
def test_live_contacts_against_the_users_volts(volts: str, severity: str) -> None:
    """A contact at the limit counts as over it."""
    found = having(checked(_limit(volts) + LIVE), "live-contact")
    assert {str(f.severity) for f in found} == {severity}
    if severity == "warning":
        assert found[0].source == "rule 3"


def test_without_a_limit_any_live_contact_is_an_error_and_the_note_says_so() -> None:
    result = checked(
        LIVE.replace("steps", "baseline: {places: {bench: {units: {SRC: {volts: 0.5}}}}}\nsteps")
    )
    assert {f.severity for f in having(result, "live-contact")} == {Severity.ERROR}
    assert "touch_volts" in having(result, "not-judged")[0].items


@pytest.mark.parametrize(("volts", "severity"), [("20", "error"), ("30", "warning")])
def test_exposed_contacts_against_the_users_volts(volts: str, severity: str) -> None:
    steps = "steps: [[demate: P1], {by: gus, after: s1, do: [switch_off: K1, switch_on: K1]}]"
    found = having(checked(_limit(volts) + steps), "live-exposed")
    assert {str(f.severity) for f in found} == {severity}


TWO_FEEDS = """
baseline:
  places:
    bench:
      halves: {J3: p2 socket SRC2.hi SRC2.ret, J4: p2 pin LAMP.hi LAMP.ret}
      units: {SRC2: {kind: source, volts: 120, switches: K2}}
      switches: {K1: , K2: }
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
  services: {light: {feeds: [SRC, SRC2]}}
  now: {on: [K1, K2], mated: {P1: J1, P2: J2, Q1: J3, Q2: J4}}
"""


def test_every_feed_that_makes_touched_contacts_live_is_named_and_killed() -> None:
    (found,) = having(checked(TWO_FEEDS + "steps: [[demate: P2]]"), "live-contact")
    assert "touches live contacts: " in found.found
    assert "may be live from feeds SRC2 (120 V), SRC (28 V)" in found.found
    assert found.way_out == "switch off and block K2 and K1"
    assert "SRC2.hi" in found.difference
    assert "SRC.hi" in found.difference


def test_every_feed_that_makes_exposed_contacts_live_is_named_and_killed() -> None:
    third = TWO_FEEDS.replace("J4: p2 pin", "J5: p2 pin LAMP.hi LAMP.ret, J4: p2 pin")
    (found,) = having(checked(third + "steps: [[wait: 1]]"), "live-exposed")
    assert "J5.1 may be live from feeds SRC2 (120 V), SRC (28 V)" in found.found
    assert found.way_out == "switch off and block K2 and K1"


def test_a_feed_that_comes_later_to_a_half_told_already_is_told_too() -> None:
    third = TWO_FEEDS.replace("J4: p2 pin", "J5: p2 pin LAMP.hi LAMP.ret, J4: p2 pin")
    off = third.replace("now: {on: [K1, K2]", "now: {on: [K1], off: [K2]")
    steps = "steps: [[wait: 1], {by: gus, do: [switch_on: K2]}]"
    first, later = having(checked(off + steps), "live-exposed")
    assert "may be live from feed SRC (28 V)" in first.found
    assert "from feeds SRC2 (120 V), SRC (28 V)" in later.found


def test_one_feed_of_two_switched_off_leaves_the_other_named_alone() -> None:
    steps = "steps: [{by: gus, do: [switch_off: K2]}, {after: s1, do: [demate: P2]}]"
    (found,) = having(checked(TWO_FEEDS + steps), "live-contact")
    assert "may be live from feed SRC (28 V)" in found.found
    assert found.way_out == "switch off and block K1"


def test_a_store_without_a_switch_must_be_disconnected() -> None:
    stored = TWO_FEEDS.replace("kind: source, volts: 120, switches: K2", "kind: store, volts: 120")
    (found,) = having(checked(stored + "steps: [[demate: P2]]"), "live-contact")
    assert found.way_out == (
        "switch off and block K1; no switch of the baseline kills SRC2: disconnect it first"
    )


STACKED = """
baseline:
  places:
    bench:
      halves: {J1: p2 socket ST1.hi ST2.ret, J3: p2 socket ST1.ret ST2.hi}
      units: {ST1: {kind: store, volts: 40}, ST2: {kind: store, volts: 40}}
  harnesses: {W2: {legs: {Q1: p2 pin, Q2: p2 pin}, runs: [Q1.1 Q1.2]}}
  limits: {touch_volts: {value: LIMIT, source: rule 3}}
  services: {light: {feeds: ST1}}
  now: {mated: {P1: J1, P2: J2, Q1: J3}}
"""
"""Two stores: where W2 is mated the return of one is on the high of the other."""
APART = (
    STACKED.replace("LIMIT", "60")
    .replace("ST1.hi ST2.ret", "ST1.hi ST1.ret")
    .replace("ST1.ret ST2.hi", "ST2.ret ST2.hi")
)


@pytest.mark.parametrize(
    ("limit", "severity"), [("60", "error"), ("80", "error"), ("81", "warning")]
)
def test_stores_in_series_are_summed(limit: str, severity: str) -> None:
    found = having(checked(STACKED.replace("LIMIT", limit) + LIVE), "live-contact")
    assert {str(f.severity) for f in found} == {severity}
    if severity == "error":
        assert "with what may be in series 80 V" in found[0].found


def test_stores_that_nothing_puts_in_series_are_not_summed() -> None:
    found = having(checked(APART + LIVE), "live-contact")
    assert {str(f.severity) for f in found} == {"warning"}


def test_feeds_beside_each_other_are_not_summed() -> None:
    limit = "  limits: {touch_volts: {value: 121, source: rule 3}}\n"
    found = having(
        checked(TWO_FEEDS + limit + "steps: [[demate: P2, mate: {P2: J2}]]"), "live-contact"
    )
    assert len(found) == 2
    assert {str(f.severity) for f in found} == {"warning"}


def test_stores_in_series_are_summed_where_an_inhibit_is_asked_for() -> None:
    """At 60 V and more an inhibit is wanted, and no switch of the baseline kills the stores."""
    inhibit = "procedure: {inhibits: {id: dead, requires: K1 blocked, owner: gus, until: end}}\n"
    steps = "steps: [{by: gus, do: [{wait: 1}]}, {do: [demate: P1]}]"
    together = checked(STACKED.replace("LIMIT", "60") + inhibit + steps)
    assert "ST1 (40 V), ST2 (40 V)" in having(together, "inhibit-not-enough")[0].found
    apart = checked(APART + inhibit + steps)
    assert "inhibit-not-enough" not in ids(apart)


SERIES = """
baseline:
  places:
    bench:
      units: {SRC: {switches: [K1, K2]}}
      switches: {K1: COMMAND, K2: COMMAND}
  limits: {inhibits: {value: 2, source: rule 8}}
  now: {on: [K1, K2]}
steps: [{by: gus, do: [SWITCHES]}, {after: s1, do: [demate: P1, fit_cap: {C1: P1}]}]
"""


def _series(switches: str, command: str = "") -> str:
    return SERIES.replace("SWITCHES", switches).replace("COMMAND", command)


def test_switches_off_in_series_are_counted() -> None:
    one = having(checked(_series("switch_off: K1")), "few-inhibits")
    assert one[0].found.startswith("1 independent switch off")
    assert one[0].way_out.startswith("switch off K2")
    assert not having(checked(_series("switch_off: K1, switch_off: K2")), "few-inhibits")


BUS = """
baseline:
  places:
    bench:
      halves: {J7: p2 socket HUB.x, J8: p2 pin BOX.x}
      units: {HUB: {kind: load, terminals: x}, BOX: {kind: load, terminals: x}}
  harnesses: {W7: [P7 p2 pin, Q7 p2 socket]}
  services: {bus: {kind: data, lines: HUB.x to BOX.x}}
  now: {mated: {P7: J7, Q7: J8}}
"""


@pytest.mark.parametrize(("second", "few"), [("{commanded_through: bus}", True), ("", False)])
def test_switches_commanded_through_one_service_count_once(second: str, few: bool) -> None:
    text = _series("switch_off: K1, switch_off: K2", "{commanded_through: bus}")
    text = text.replace("K2: {commanded_through: bus}", f"K2: {second}")
    base = merged(text_of(BASE)["baseline"], text_of(BUS)["baseline"])
    result = checked(text, yaml.safe_dump({**text_of(BASE), "baseline": base}))
    assert "refused" not in ids(result)
    assert bool(having(result, "few-inhibits")) is few


def test_through_a_converter_the_switches_before_it_count_too() -> None:
    text = """
baseline:
  places:
    bench:
      halves: {J1: p2 socket CNV.out_hi CNV.out_ret}
      units:
        CNV: {kind: converter, volts: 28, switches: K2,
              isolated: [[in_hi, in_ret], [out_hi, out_ret]],
              halves: {JC: p2 pin CNV.in_hi CNV.in_ret}}
      panels: {PAN: {halves: {JS: p2 socket SRC.hi SRC.ret}}}
      switches: {K1: , K2: }
  harnesses: {WC: [PS p2 pin, PC p2 socket]}
  services: {light: {feeds: CNV}}
  limits: {inhibits: {value: 2, source: rule 8}}
  now: {on: [K1, K2], mated: {PS: JS, PC: JC}}
steps: [{by: gus, do: [SWITCHES]}, {after: s1, do: [demate: P1, fit_cap: {C1: P1}]}]
"""
    one = checked(text.replace("SWITCHES", "switch_off: K2"))
    assert having(one, "few-inhibits")[0].found.startswith("1 independent")
    two = checked(text.replace("SWITCHES", "switch_off: K2, switch_off: K1"))
    assert not having(two, "few-inhibits")


def test_a_switch_on_is_judged_by_who_is_there() -> None:
    hatch = (
        "baseline: {places: {hatch: {}}, paths: {way: {between: bench hatch, length_m: 4}}, "
        "now: {people: {ada: bench}}}\n"
    )
    on = "{by: gus, after: s1, do: [switch_off: K1, switch_on: K1]}"
    near = checked(hatch + f"steps: [[demate: P1], {on}]")
    assert having(near, "power-on-at-worker")[0].items[-1] == "ada"
    away = checked(hatch + f"steps: [[demate: P1, walk: hatch], {on}]")
    assert "power-on-at-worker" not in ids(away)
    assert "live-exposed" in ids(away), "bare and live it is all the same"


def test_a_switch_on_while_a_mate_is_under_way() -> None:
    steps = (
        "steps: [{by: gus, do: [switch_off: K1]}, {after: s1, do: [demate: P1, "
        "{mate: {P1: J1}, minutes: 9}]}, {by: gus, after: s1, do: [{wait: 5}, switch_on: K1]}]"
    )
    assert "power-on-at-worker" in ids(checked(steps))


# --- waivers -------------------------------------------------------------------------------


def _waived(rule: str, scope: str) -> str:
    return (
        f"procedure: {{waivers: {{rule: {rule}, scope: {scope}, reason: r, authority: lead}}}}\n"
        "steps: [[demate: P1, fit_cap: {C1: P1}]]"
    )


@pytest.mark.parametrize("scope", ["J1", "s1"])
def test_a_waiver_reaches_by_item_or_by_step(scope: str) -> None:
    result = checked(_waived("bare-at-end", scope))
    assert "bare-at-end" not in ids(result)
    assert [w.finding.items for w in result.waived] == [("J1",)]
    assert result.waived[0].waiver.authority == "lead"


def test_a_waived_error_is_no_error() -> None:
    assert checked(_waived("bare-at-end", "J1")).has_errors
    rows = ", ".join(
        f"{{rule: {rule}, scope: s1, reason: r, authority: lead}}"
        for rule in ("live-contact", "live-exposed")
    )
    result = checked(
        f"procedure: {{waivers: [{rows}]}}\nsteps: [[demate: P1, mate: {{P1: J1}}, verify: light]]"
    )
    assert not result.has_errors
    assert {w.finding.rule for w in result.waived} == {"live-contact", "live-exposed"}


def test_a_waiver_does_not_reach_another_phase() -> None:
    text = _waived("bare-at-end", "J1") + (
        "\nthen: {cablewalk: 1, procedure: next, minutes: 1, gap_min: 1, "
        "steps: [[fit_cap: {CJ1: J1}, remove_cap: CJ1]]}"
    )
    result = checked(text)
    assert "bare-at-end" in ids(result)
    assert "waiver-idle" in ids(result)


def test_a_waiver_of_no_rule_offers_the_closest() -> None:
    (finding,) = having(checked(_waived("bare-at-ends", "J1")), "waiver-unknown-rule")
    assert finding.way_out == "did you mean bare-at-end?"


@pytest.mark.parametrize("rule", ["refused", "waiver-idle", "inhibit-circle", "unknown-id"])
def test_what_cannot_be_waived(rule: str) -> None:
    assert "waiver-not-possible" in ids(checked(_waived(rule, "J1")))


# --- independent switches over a chain of feeds --------------------------------------------

CONVERTED = """
baseline:
  places:
    bench:
      halves: {J1: p2 socket CNV.out_hi CNV.out_ret}
      units:
        SRC: {volts: 120, switches: FIRST}
        CNV: {kind: converter, volts: 28, isolated: [[in_hi, in_ret], [out_hi, out_ret]],
              switches: SECOND, halves: {JC: p2 pin CNV.in_hi CNV.in_ret}}
      panels: {PAN: {halves: {JS: p2 socket SRC.hi SRC.ret}}}
      switches: SWITCHES
  harnesses: {WC: [PS p2 pin, PC p2 socket]}
  limits: {inhibits: {value: 2, source: example rule}}
  services: {light: {feeds: CNV}}
  now: {on: NOW, mated: {PS: JS, PC: JC}}
steps: [{by: gus, do: OFF}, {after: s1, do: [demate: P1, mate: {P1: J1}]}]
"""


def _chain(first: str, second: str, switches: str) -> str:
    names = sorted({first, second})
    off = ", ".join(f"switch_off: {name}" for name in names)
    return (
        CONVERTED.replace("FIRST", first)
        .replace("SECOND", second)
        .replace("SWITCHES", switches)
        .replace("NOW", f"[{', '.join(names)}]")
        .replace("OFF", f"[{off}]")
    )


def test_a_switch_at_both_ends_of_a_chain_counts_once() -> None:
    (finding,) = having(checked(_chain("K1", "K1", "{K1: }")), "few-inhibits")
    assert finding.found.startswith("1 independent switch off between feed CNV")
    assert "few-inhibits" not in ids(checked(_chain("K1", "K2", "{K1: , K2: }")))


def test_switches_commanded_through_one_service_count_once_over_a_chain() -> None:
    through = "{commanded_through: talk}"
    text = _chain("K1", "K2", f"{{K1: {through}, K2: {through}}}").replace(
        "services: {", "services: {talk: {kind: data, lines: CNV.a to CNV.b}, "
    )
    text = text.replace(
        "volts: 28,", "volts: 28, terminals: [in_hi, in_ret, out_hi, out_ret, a, b],"
    )
    text = text.replace("[out_hi, out_ret]]", "[out_hi, out_ret], [a, b]]")
    result = checked(text)
    touch = next(t for t in result.case.survey.touches)
    joint = replace(touch, off=frozenset(result.case.wiring.by_id[k] for k in ("K1", "K2")))
    assert barriers(joint, result.case.wiring, touch.reach[0]) == 1


# --- workers who come to live contacts -----------------------------------------------------

AWAY = """
baseline:
  places: {hatch: {}}
  paths: {way: {between: bench hatch, length_m: 4}}
  people: {ivo: inside}
  now: {people: {ada: hatch, ivo: IVO}, off: [K1], on: ~, mated: {P1: ~}, bare: [J1]}
steps: [{by: gus, do: [switch_on: K1]}, {after: s1, do: [walk: bench, walk: hatch, walk: bench]}]
"""


def test_a_worker_who_comes_after_the_switch_on_is_told_once() -> None:
    (finding,) = having(checked(AWAY.replace("IVO", "hatch")), "power-on-at-worker")
    assert finding.step == "s2"
    assert finding.found == "ada comes to where a switch-on has left bare contacts live: J1"


def test_inside_crew_at_the_place_count() -> None:
    found = having(checked(AWAY.replace("IVO", "bench")), "power-on-at-worker")
    assert [f.items for f in found] == [("J1", "ivo"), ("J1", "ada")]


def test_who_comes_when_it_is_off_again_is_at_no_live_contacts() -> None:
    text = AWAY.replace("IVO", "hatch").replace("switch_on: K1]", "switch_on: K1, switch_off: K1]")
    assert "power-on-at-worker" not in ids(checked(text))


def test_two_workers_are_told_of_in_the_plural() -> None:
    both = "baseline: {people: {bob: outside}, now: {people: {ada: bench, bob: bench}}}\n"
    steps = "steps: [[demate: P1], {by: gus, after: s1, do: [switch_off: K1, switch_on: K1]}]"
    (found,) = having(checked(both + steps), "power-on-at-worker")
    assert "where ada and bob are: J1" in found.found


def test_a_waiver_of_one_limit_not_given_leaves_the_others() -> None:
    waiver = "{rule: not-judged, scope: inhibits, reason: r, authority: a}"
    result = checked(f"procedure: {{waivers: {waiver}}}\n" + LIVE)
    assert [w.finding.items for w in result.waived] == [("inhibits",)]
    assert ("touch_volts",) in [f.items for f in having(result, "not-judged")]


def test_a_waiver_by_one_name_of_a_list_not_judged_reaches_none_of_it() -> None:
    waiver = "{rule: not-judged, scope: SCOPE, reason: r, authority: a}"
    text = f"procedure: {{waivers: {waiver}}}\nsteps: [[demate: P1, pick_up: P1]]"
    assert checked(text.replace("SCOPE", "ada")).waived == ()
    assert len(checked(text.replace("SCOPE", "holds-too-much")).waived) == 1


FED_TWICE = """
baseline:
  places:
    bench:
      halves: {J1: p2 socket CNV.out_hi CNV.out_ret}
      units:
        SRC: {volts: 120}
        SRC2: {kind: source, volts: 100, switches: K2}
        CNV: {kind: converter, volts: 28, isolated: [[in_hi, in_ret], [out_hi, out_ret]],
              halves: {JC: p2 pin CNV.in_hi CNV.in_ret, JC2: p2 pin CNV.in_hi CNV.in_ret}}
      panels: {PAN: {halves: {JS: p2 socket SRC.hi SRC.ret, JS2: p2 socket SRC2.hi SRC2.ret}}}
      switches: {K1: , K2: }
  harnesses: {WC: [PS p2 pin, PC p2 socket], WC2: [PS2 p2 pin, PC2 p2 socket]}
  services: {light: {feeds: CNV}}
  now: {on: [K1, K2], mated: {PS: JS, PC: JC, PS2: JS2, PC2: JC2}}
"""


@pytest.mark.parametrize(
    ("off", "live"), [("", True), ("K1", True), ("K2", True), ("K1 K2", False)]
)
def test_a_converter_fed_twice_is_dead_only_when_both_its_sources_are(off: str, live: bool) -> None:
    """What the way out names is what makes the contacts dead, and nothing less does."""
    switched = ", ".join(f"switch_off: {name}" for name in off.split()) or "{wait: 1}"
    steps = f"steps: [{{by: gus, do: [{switched}]}}, {{after: s1, do: [demate: P1]}}]"
    found = having(checked(FED_TWICE + steps), "live-contact")
    assert bool(found) is live
    if live:
        left = [name for name in ("K1", "K2") if name not in off.split()]
        assert found[0].way_out == f"switch off and block {' and '.join(left)}"
