"""Look-alikes: both ends of a cable, what stays down, and halves uncapped later in the step."""

from __future__ import annotations

from rule_examples import checked, having

from cablewalk.checks.lookalikes import Mistake, mistakes

TWO_LAMPS = """
baseline:
  places:
    bench:
      halves:
        J3: p2 socket SRB.hi SRB.ret
        J4: p2 pin LAMB.hi LAMB.ret
      units:
        SRB: {kind: source, volts: 28, switches: K2}
        LAMB: load
      switches: {K1: , K2: }
  harnesses: {W1: [P1 p2 pin, P2 p2 socket], W2: [Q1 p2 pin, Q2 p2 socket]}
  services: {other: {kind: power, load: LAMB, feeds: SRB}}
  caps: {CQ1: Q1, CQ2: Q2, CJ3: J3, CJ4: J4}
  now: NOW
procedure: {planned_outages: {other: the example works on it}}
"""
BOTH_OPEN = TWO_LAMPS.replace(
    "NOW",
    "{on: [], off: [K1, K2], mated: {P1: ~, P2: ~}, bare: [P1, P2, Q1, Q2, J1, J2, J3, J4], "
    "routed: {W1: bench, W2: bench}}",
)


def _of(text: str, a: str, b: str) -> list[Mistake]:
    case = checked(text).case
    pair = {case.wiring.by_id[a], case.wiring.by_id[b]}
    return [m for m in mistakes(case) if set(m.wrong) == pair]


EXCHANGE = (
    "steps: [[mate: {P1: J1}, mate: {Q1: J3}, mate: {P2: J2}, mate: {Q2: J4}],"
    " {by: gus, after: s1, do: [switch_on: K1, switch_on: K2]}]"
)


def test_the_far_end_of_a_cable_shows_what_its_near_end_did() -> None:
    """The first mate of two open cables does nothing at once; the planned rest makes the cross."""
    (found,) = _of(BOTH_OPEN + EXCHANGE, "P1", "J3")
    assert found.lost == ()
    assert found.left_down == ("light", "other")
    assert any(text.startswith("SRB (28 V) on LAMP.hi") for text in found.live)
    assert any(text.startswith("SRC (28 V) on LAMB.hi") for text in found.live)
    assert "light: feed SRB reaches it and is not among its feeds" in found.shorts


SPARE = """
baseline:
  places: {bench: {halves: {J5: p2 socket}}}
  caps: {CJ5: J5}
  now: {STANDS}
steps: [[demate: P1, mate: {P1: J1}, verify: light]]
"""


def test_a_spare_leaves_the_service_down() -> None:
    (found,) = mistakes(checked(SPARE.replace("STANDS", "bare: [J5]")).case)
    assert (found.live, found.shorts, found.lost) == ((), (), ())
    assert found.left_down == ("light",)
    (finding,) = having(checked(SPARE.replace("STANDS", "bare: [J5]")), "look-alike")
    assert finding.difference == "that mate leaves down at the end light"
    assert mistakes(checked(SPARE.replace("STANDS", "fitted: {CJ5: J5}")).case) == []


def test_a_half_that_the_same_step_uncaps_later_is_a_candidate() -> None:
    base = SPARE.replace("STANDS", "fitted: {CJ5: J5}")
    later = base.replace("verify: light]", "verify: light, remove_cap: CJ5]")
    (found,) = mistakes(checked(later).case)
    assert found.left_down == ("light",)
    other = base.replace("verify: light]]", "verify: light], [remove_cap: CJ5]]")
    assert mistakes(checked(other).case) == []


def test_a_half_that_the_step_has_capped_before_the_mate_is_guarded() -> None:
    text = SPARE.replace("STANDS", "bare: [J5]")
    text = text.replace("demate: P1,", "demate: P1, fit_cap: {CJ5: J5},")
    assert mistakes(checked(text).case) == []


def test_a_feed_crossed_is_found_before_any_service_is_up() -> None:
    text = BOTH_OPEN + "steps: [[mate: {P1: J1}, mate: {Q1: J3}, mate: {P2: J2}, mate: {Q2: J4}]]"
    (found,) = _of(text, "Q1", "J1")
    assert found.left_down == ()
    assert any(each.startswith("SRC (28 V) on LAMB.hi") for each in found.live)


def test_a_second_socket_of_the_same_feed_does_no_harm() -> None:
    text = SPARE.replace("STANDS", "bare: [J5]")
    assert mistakes(checked(text.replace("p2 socket", "p2 socket SRC.hi SRC.ret")).case) == []


NEXT = """
then:
  cablewalk: 1
  procedure: power-up
  minutes: 1
  gap_min: 60
  planned_outages: {other: the example works on it, light: the example works on it}
  steps: STEPS
"""
FIRST = BOTH_OPEN.replace(
    "services: {other: {", "services: {light: {begins: established}, other: {begins: established, "
) + ("steps: [[mate: {P1: J1}, mate: {Q1: J3}, mate: {P2: J2}, mate: {Q2: J4}]]")
POWER_UP = "[{by: gus, do: [switch_on: K1, switch_on: K2]}]"


def test_what_a_later_procedure_powers_through_the_mate_is_told_with_its_name() -> None:
    """The services come up only in the second procedure: the first alone shows none of them."""
    (alone,) = _of(FIRST, "P1", "J3")
    assert alone.left_down == ()
    (found,) = _of(FIRST + NEXT.replace("STEPS", POWER_UP), "P1", "J3")
    assert found.left_down == ("light (after power-up)", "other (after power-up)")
    assert found.lost == ()
    assert set(alone.live) == set(found.live)


def test_a_mate_that_a_later_procedure_works_on_is_tried_no_further() -> None:
    """Whoever parts the pair again sees which half it is."""
    again = POWER_UP.replace("[{by", "[[demate: P1, mate: {P1: J1}], {after: s1, by")
    (found,) = _of(FIRST + NEXT.replace("STEPS", again), "P1", "J3")
    assert found.left_down == ()


def test_a_service_left_down_by_its_own_procedure_is_not_told_again_of_a_later_one() -> None:
    quiet = NEXT.replace("STEPS", "[{by: gus, do: [wait: 1]}]")
    (found,) = _of(BOTH_OPEN + EXCHANGE + quiet, "P1", "J3")
    assert found.left_down == ("light", "other")


def test_a_later_look_at_the_mate_does_not_end_the_trial() -> None:
    """An inspection joins nothing and parts nothing."""
    look = POWER_UP.replace("[{by", "[[inspect: P1, inspect: J1], {after: s1, by")
    (found,) = _of(FIRST + NEXT.replace("STEPS", look), "P1", "J3")
    assert found.left_down == ("light (after power-up)", "other (after power-up)")


def test_a_leg_packed_away_is_not_at_hand() -> None:
    text = """
baseline:
  harnesses: {W7: {legs: {Q7: p2 pin, R7: p2 socket}}}
  bags: {kit: {ties: 0}}
  now: {bags: {kit: bench}, bare: [Q7, R7], WHERE}
steps: [[demate: P1, mate: {P1: J1}, verify: light]]
"""
    assert {"Q7"} <= _wrong(text.replace("WHERE", "routed: {W7: bench}"))
    assert _wrong(text.replace("WHERE", "packed: {W7: kit}")) == set()


def _wrong(text: str) -> set[str]:
    case = checked(text).case
    return {case.id(half) for m in mistakes(case) for half in m.wrong}


def test_a_cap_that_goes_on_the_wrong_half_later_is_not_in_the_trial() -> None:
    """J5 is open at the mate and gets a shorting cap afterwards: with P1 on it, it cannot."""
    text = """
baseline:
  places: {bench: {halves: {J5: p2 socket}}}
  caps: {CJ5: {on: J5, joins: [1 2]}}
  now: {bare: [J5], tethered: {CJ5: J5}}
steps: [[demate: P1, mate: {P1: J1}, verify: light, fit_cap: {CJ5: J5}]]
"""
    (found,) = mistakes(checked(text).case)
    assert found.shorts == ()
    assert found.left_down == ("light",)


EXTENSION = """
baseline:
  places:
    bench:
      halves: {J9: p2 pin LAM9.hi LAM9.ret, J8: p2 socket SR9.hi SR9.ret}
      units: {LAM9: load, SR9: {kind: source, volts: 28, switches: K9}}
      switches: {K1: , K9: }
  harnesses: {W9: [E1 p2 socket, E2 p2 pin]}
  services: {nine: {kind: power, load: LAM9, feeds: SR9}}
  caps: {CE1: E1, CJ9: J9}
  now: {on: [K1, K9], bare: [E1, J9], mated: {P1: J1, P2: J2, E2: J8}, routed: {W9: bench}}
procedure: {planned_outages: {nine: the example works on it}}
steps: [[demate: P1, mate: {P1: J1}, mate: {E1: J9}]]
"""


def test_a_half_whose_partner_is_taken_and_fits_nothing_is_left_bare() -> None:
    """P1 on E1: then J9, which E1 was for, has nothing left that fits; both lamps stay dark."""
    (found,) = _of(EXTENSION, "P1", "E1")
    assert set(found.left_down) | set(found.lost) == {"light", "nine"}
    assert not any("LAM9" in text for text in found.live)


def test_a_service_that_only_a_procedure_between_brings_up_is_told() -> None:
    """Down again, as planned, at the end of the third: the second alone shows the loss."""
    then = FIRST + (
        "\nthen:\n"
        "- {cablewalk: 1, procedure: up, minutes: 1, gap_min: 60, steps: STEPS}\n"
        "- {cablewalk: 1, procedure: off, minutes: 1, gap_min: 60, planned_outages: "
        "{other: example, light: example},"
        " steps: [{by: gus, do: [switch_off: K1, switch_off: K2]}]}\n"
    ).replace("STEPS", POWER_UP)
    (found,) = _of(then, "P1", "J3")
    assert found.left_down == ("light (after up)", "other (after up)")


def test_a_mate_made_while_the_switch_is_blocked_is_live_after_power_up() -> None:
    twin = (
        "baseline:\n  places: {bench: {halves: {J3: p2 pin XU.a XU.b}, "
        "units: {XU: {kind: load, terminals: a b}}}}\n  now: {bare: [J3]}\n"
    )
    steps = (
        "steps:\n- {by: gus, do: [switch_off: K1, block: K1]}\n"
        "- {after: s1, do: [demate: P1, demate: P2, mate: {P2: J2}, mate: {P1: J1}]}\n"
    )
    up = "- {by: gus, after: s2, do: [unblock: K1, switch_on: K1]}\n"
    (found,) = [f for f in having(checked(twin + steps + up), "look-alike") if "J3" in f.items]
    assert "SRC (28 V) on XU.a, live after power-up" in found.difference
    assert "at once" not in found.difference
    (found,) = [f for f in having(checked(twin + steps), "look-alike") if "J3" in f.items]
    assert "SRC (28 V) on XU.a, live once SRC is on" in found.difference
