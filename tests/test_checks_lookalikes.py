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
