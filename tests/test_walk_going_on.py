"""What cannot be done: going on without it and what follows; or stopping there."""

from __future__ import annotations

import pytest
from small import LAMP, end, having, run, so, words_at

SWAP = """
- {id: off, loses: light, do: [{demate: P1}, {demate: P2}]}
- {id: out, do: [{mate: {N1: J1}}]}
- {id: cap, do: [{take: W2}, {remove_cap: CN}, {mate: {N1: J1}}]}
- {id: spare, do: [{remove_cap: CU}, {mate: {N2: J2}}]}
- {id: proof, do: [{verify: light}]}
"""


def test_a_skipped_action_leaves_things_as_they_were() -> None:
    result = run("[[{mate: {N1: JN}}, {inspect: P1}]]")
    assert so(result, "JN", "bare")
    assert so(result, "N1", "packed kit")
    assert [r.task.verb for r in result.trace.refused] == ["mate"]
    assert result.trace.events[-1].task.verb == "inspect"
    assert not result.trace.stopped


def test_a_skipped_action_keeps_its_time() -> None:
    """The clock goes on as planned."""
    result = run("[[{mate: {N1: JN}, minutes: 7}, {inspect: P1}]]")
    assert [e.time_s for e in result.trace.events] == [420, 480]


def test_what_follows_names_the_first_step_skipped() -> None:
    """The bag is out of reach: nothing of W2 can be done, once for each action, one cause."""
    steps = """
    - [{walk: hatch}]
    - [{take: W2}]
    - [{walk: bench}]
    - [{remove_cap: CN}, {mate: {N1: JN}}]
    - [{pack: {W2: kit}}]
    """
    refused = having(run(steps), "refused")
    assert [(f.step, f.because_of) for f in refused] == [
        ("s2", None),
        ("s4", "s2"),
        ("s4", "s2"),
        ("s5", "s2"),
    ]


def test_an_expectation_that_follows_is_beneath() -> None:
    steps = "[[{walk: hatch}, {demate: P1}], [{expect: {P1: bare}}], [{expect: {SW1: 'off'}}]]"
    found = having(run(steps), "not-as-expected")
    assert [(f.step, f.because_of) for f in found] == [("s2", "s1"), ("s3", None)]


def test_trouble_with_other_items_is_not_beneath() -> None:
    steps = "[[{mate: {N1: JN}}], [{lock: P1}]]"
    assert [f.because_of for f in having(run(steps), "refused")] == [None, None]


def test_a_service_that_is_not_back_is_beneath_the_step_skipped() -> None:
    """Design part 1, Findings: what follows from a skipped action is listed beneath it."""
    steps = """
    - {loses: light, do: [{switch_off: SW1}, {demate: P1}]}
    - [{switch_on: SW1}, {fit_cap: {CP: J1}}, {remove_cap: CP}, {park: {P1: J1}}]
    - [{verify: light}]
    """
    more = "{caps: {CP: {fits: p2 socket}}, now: {held: {CP: bob}}}"
    result = run(steps, more, LAMP)
    (finding,) = having(result, "verify-failed")
    assert finding.because_of == "s2"


def test_a_loss_that_follows_is_beneath() -> None:
    """The re-route of s1 is refused, so s2 takes the light down."""
    more = """
    places: {bench: {halves: {K1: p2 socket SRC.hi SRC.ret, K2: p2 pin LAMP.hi LAMP.ret}}}
    harnesses: {W3: [M1 p2 pin, M2 p2 socket]}
    now: {mated: {M1: K1}, loose: {M2: bench}}
    caps: {KM: K2}
    """
    result = run("[[{mate: {M2: K2}}], [{demate: P1}]]", more, LAMP)
    assert [f.step for f in having(result, "refused")] == ["s1"]
    (loss,) = having(result, "unplanned-loss")
    assert (loss.step, loss.because_of) == ("s2", "s1")


# --- stopping ------------------------------------------------------------------------------


def test_stopping_leaves_all_true_up_to_there() -> None:
    steps = "[{loses: light, do: [{demate: P1}, {mate: {N1: J1}}, {demate: P2}]}, [{inspect: P2}]]"
    stopped = run(steps, keep_going=False)
    assert stopped.trace.stopped
    assert [f.step for f in having(stopped, "refused")] == ["s1"]
    assert [(e.task.verb, e.begins) for e in stopped.trace.events] == [
        ("demate", True),
        ("demate", False),
    ]
    assert stopped.trace.end_s == 60
    assert so(stopped, "P1", "bare")
    assert so(stopped, "P2", "mated J2")
    assert stopped.trace.end_views[0].words == words_at(stopped, "s1") == "down"
    assert stopped.trace.end == stopped.trace.configuration_after("s1")


def test_an_outage_open_at_the_stop_is_open() -> None:
    steps = "[{loses: light, do: [{demate: P1}, {mate: {N1: J1}}, {mate: {P1: J1}, minutes: 60}]}]"
    more = "{services: {light: {clock: {allowed_min: 30, source: test}}}}"
    stopped = run(steps, more, keep_going=False)
    (spell,) = stopped.outages
    assert spell.to_s is None
    assert stopped.readings[0][0].used_s == 60
    assert not having(stopped, "clock-exceeded")


def test_a_stop_at_the_very_first_action_uses_no_time() -> None:
    """Nothing was done: a service that was down before is no longer down for it."""
    steps = "[[{lock: P2}, {mate: {P1: J1}, minutes: 60}]]"
    more = """
    services: {light: {clock: {allowed_min: 30, source: test}}}
    now: {mated: {P1: '~'}, loose: {P1: bench}}
    """
    stopped = run(steps, more, LAMP, keep_going=False)
    assert stopped.trace.stopped
    assert stopped.trace.end_s == 0
    assert not having(stopped, "clock-exceeded")


def test_the_next_phase_is_not_begun_after_a_stop() -> None:
    stopped = run("[[{lock: P1}]]", keep_going=False)
    assert len(stopped.trace.phases) == 1
    assert stopped.trace.end is not None


def test_another_worker_stops_in_the_middle() -> None:
    """What bob has begun stays begun: his items are still claimed."""
    steps = "[{by: bob, do: [{inspect: P2, minutes: 9}]}, [{wait: 1}, {lock: P1}]]"
    stopped = run(steps, keep_going=False)
    config = end(stopped)
    assert config.claim[config.wiring.by_id["P2"]] > 0
    assert stopped.trace.end_s == 60


# --- documents with faults -----------------------------------------------------------------


@pytest.mark.parametrize("keep_going", [True, False])
def test_nothing_is_replayed_on_faulty_documents(keep_going: bool) -> None:
    result = run("[[{demate: PX}], [{demate: P1}]]", keep_going=keep_going)
    assert result.trace.unusable
    assert not result.trace.events
    (finding,) = having(result, "unknown-id")
    assert "PX" in finding.found
    assert finding.address.path == ("steps", 0, "do", 0, "demate")


def test_the_long_swap_goes_on_to_its_end() -> None:
    result = run(SWAP)
    assert [f.step for f in having(result, "refused")] == ["out"]
    assert words_at(result, "proof") == "up"
    assert not having(result, "verify-failed")
