"""Published mishaps, each rebuilt as a tiny invented case and shown to be caught.

Sources as listed in the project's reference notes on practice. Names, numbers and hardware
here are invented.
"""

from __future__ import annotations

from rule_examples import checked, having, ids

from cablewalk.checks.lookalikes import mistakes
from cablewalk.findings import Severity

LAY = "{by: gus, do: [switch_off: K1, block: K1, verify: {K1: blocked}]}"


def test_llis_1619_a_mate_in_the_log_that_was_none() -> None:
    """NASA LLIS 1619 (2005): a connector registered as mated was not.

    A mate without a service check afterwards is only a prediction; what was found later is
    written with 'found', and the service is down.
    """
    power = "{by: gus, do: [unblock: K1, switch_on: K1]}"
    mate = f"steps: [{LAY}, [demate: P1, seat: {{P1: J1}}], {power}"
    logged = checked(mate + "]")
    assert "lock-unverified-at-end" in ids(logged)
    assert "down-at-end" in ids(logged), "a join not verified is never believed for power"
    locked = checked(mate.replace("seat", "mate") + "]")
    assert ids(locked) >= {"unproven-at-end"}
    proven = checked(
        mate.replace("seat", "mate") + ", {by: gus, after: [s2, s3], do: [verify: light]}]"
    )
    assert "unproven-at-end" not in ids(proven)
    true = checked(
        mate.replace("seat", "mate")
        + ", {after: [s2, s3], do: [{found: {P1: bare}, reason: it hangs free}]}]"
    )
    assert "down-at-end" in ids(true)


CROSSED = """
baseline:
  places:
    bench:
      halves: {J3: p2 pin GYRO.a GYRO.b}
      units: {GYRO: {kind: load, terminals: a b}}
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
  caps: {CQ1: Q1, CQ2: Q2, CJ3: J3}
  services: {rate: {kind: data, lines: GYRO.a to GYRO.b, begins: established}}
  now: {packed: ~, routed: {W2: bench}, tethered: {CJ3: J3, CQ2: Q2}, bare: [J3, Q2]}
"""


def test_llis_0431_identical_connectors_crossed() -> None:
    """NASA LLIS 0431: identical connectors cross-connected; one case destroyed 26 transistors.

    While P2 goes back to the lamp, the rate sensor's connector beside it is bare and fits: the
    trial puts the lamp's feed on the sensor's terminals.
    """
    steps = f"steps: [{LAY}, [demate: P2, mate: {{P2: J2}}]]"
    result = checked(CROSSED + steps)
    worst = having(result, "look-alike")[0]
    assert set(worst.items) == {"P2", "J3"}
    assert "SRC (28 V) on GYRO.a, live once SRC is on" in worst.difference
    capped = CROSSED.replace("tethered: {CJ3: J3, CQ2: Q2}, bare: [J3, Q2]", "bare: []")
    assert "look-alike" not in ids(checked(capped + steps))
    keyed = CROSSED.replace("J3: p2 pin", "J3: k2 pin").replace(
        "baseline:", "baseline:\n  interfaces: {k2: {contacts: 2, family: p2, key: B}}"
    )
    assert all("J3" not in f.items for f in having(checked(keyed + steps), "look-alike"))


def test_llis_0431_the_worst_mistake_comes_first() -> None:
    steps = f"steps: [{LAY}, [demate: P2, mate: {{P2: J2}}]]"
    weights = [m.weight for m in mistakes(checked(CROSSED + steps).case)]
    assert weights == sorted(weights, reverse=True)
    assert weights[0][0] > 0


BATTERY = """
baseline:
  places:
    bench:
      halves: {J1: p4 socket SRC.hi SRC.ret BAT.hi BAT.ret, J2: p4 pin LAMP.hi LAMP.ret}
      units: {BAT: {kind: store, volts: 22}}
  interfaces: {p4: 4}
  harnesses: {W1: [P1 p4 pin, P2 p4 socket]}
"""


def test_llis_0579_power_off_outside_and_the_battery_live() -> None:
    """NASA LLIS 0579 (1996): external power off, but the battery live; a pin touched the shell."""
    stated = (
        "procedure: {inhibits: {id: dead, requires: K1 blocked, owner: gus, until: end}}\n"
        f"steps: [{LAY}, {{after: s1, do: [demate: P1]}}]"
    )
    result = checked(BATTERY + stated)
    (finding,) = having(result, "live-contact")
    assert "feed BAT (22 V)" in finding.found
    assert finding.severity is Severity.ERROR
    (enough,) = having(result, "inhibit-not-enough")
    assert "BAT (22 V)" in enough.found
    assert enough.way_out == "no switch of the baseline stops BAT"


def test_llis_1224_a_second_document_undid_a_known_configuration() -> None:
    """NASA LLIS 1224 (1998): a valid second work document undid a known configuration."""
    first = f"steps: [{LAY}, [demate: P1, fit_cap: {{CJ1: J1}}, fit_cap: {{C1: P1}}]]\n"
    second = (
        "then: {cablewalk: 1, procedure: other, assumes: example, minutes: 1, gap_min: 60, "
        "planned_outages: {light: x}, "
        "steps: [[remove_cap: CJ1, remove_cap: C1, mate: {P1: J1}]]}"
    )
    result = checked(first + second)
    assert ids(result) >= {"undone-later", "assumes-another"}
    assert "undone-later" not in ids(checked(first))


def test_sts_100_a_cap_that_drifted_off() -> None:
    """STS-100 (2001): a connector cap drifted off and was never found."""
    gone = "steps: [[demate: P1, {found: {C1: lost}, reason: drifted off}]]"
    assert having(checked(gone), "cap-lost")[0].severity is Severity.ERROR
    loose = checked(
        "baseline: {caps: {C1: {on: P1, tethered: false}}, now: {held: {C1: ada}}}\n"
        "steps: [[demate: P1]]"
    )
    assert "cap-in-hand-at-end" not in ids(loose), "no action of this plan put it there"
    left = checked(
        "baseline: {caps: {CQ: {fits: p2 pin}}, now: {held: {CQ: ada}}}\n"
        "steps: [[demate: P1, fit_cap: {CQ: P1}, remove_cap: CQ]]"
    )
    assert "cap-in-hand-at-end" in ids(left)


def test_a_2012_outing_halfway_connected_when_time_ran_out() -> None:
    """A 2012 outing: a cable 'halfway connected' when time ran out."""
    result = checked(f"steps: [{LAY}, [demate: P1, engage: {{P1: J1}}]]")
    (finding,) = having(result, "part-engaged-at-end")
    assert finding.severity is Severity.ERROR
    assert "down-at-end" in ids(result), "whichever way is worse: a half-made join powers nothing"


QUARTERS = """
baseline:
  places:
    bench:
      halves:
        J1: p4 socket S1.hi S1.ret S2.hi S2.ret
        J2: p4 pin B.a1 B.r1 B.a2 B.r2
        J3: p2 socket S3.hi S3.ret
        J4: p2 pin B.a3 B.r3
      units:
        SRC: ~
        LAMP: ~
        S1: {kind: source, volts: 120, switches: K1}
        S2: {kind: source, volts: 120, switches: K2}
        S3: {kind: source, volts: 120, switches: K3}
        B: {kind: load, terminals: a1 r1 a2 r2 a3 r3, isolated: [[a1, r1], [a2, r2], [a3, r3]]}
      switches: {K1: , K2: , K3: }
  interfaces: {p4: 4}
  harnesses: {W1: [P1 p4 pin, P2 p4 socket], W2: [Q1 p2 pin, Q2 p2 socket]}
  services:
    light:
      kind: power
      load: ~
      feeds: ~
      need: 1
      strings: {a: {load: B.a1 B.r1, feeds: S1}, b: {load: B.a2 B.r2, feeds: S2},
                c: {load: B.a3 B.r3, feeds: S3}}
  now: {on: [K1, K2, K3], mated: {P1: J1, P2: J2, Q1: J3, Q2: J4}}
"""


def test_a_2012_switching_unit_out_and_the_next_failure() -> None:
    """A 2012 switching unit out: a quarter of the capability gone, loads re-routed by jumpers.

    With three strings nothing takes the service alone; after the loss of one, the connector that
    the two others share does.
    """
    before = checked(QUARTERS)
    assert not ids(before) & {"strings-share", "single-failure"}
    after = checked(
        QUARTERS + "steps: [{by: gus, do: [switch_off: K3]}, {after: s1, do: [demate: Q1]}]"
    )
    (finding,) = having(after, "single-failure")
    assert "connector P1/J1" in finding.found
    assert "harness W1" in finding.found
    assert "redundancy-lost" in ids(after)


def test_old_and_new_cable_both_mated() -> None:
    """Old and new cable both mated tie two buses while every service reads made (issue 5)."""
    both = """
baseline:
  places:
    bench:
      halves: {J3: p2 socket SRB.hi SRB.ret, J4: p2 pin LAMP.hi LAMP.ret}
      units: {SRB: {kind: source, volts: 28, switches: K2}}
      switches: {K1: , K2: }
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
  services: {light: {feeds: [SRC, SRB]}}
  now: {on: [K1], off: [K2], mated: {Q1: J3}}
steps: [[mate: {Q2: J4}]]
"""
    result = checked(both)
    assert "cross-tie" in ids(result)
