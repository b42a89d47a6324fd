"""What an action leaves that the model holds impossible: the log is right, and says so."""

from __future__ import annotations

import pytest
from test_asrun_property import GROUND, PLAN, ZERO_S

from cablewalk.logbook.words import action_of
from cablewalk.replay.standing import is_so, subject
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry, Outcome
from cablewalk.walk.asrun_state import Tracked


def recorded(*lines: str, who: str = "ada", outcome: Outcome = "done") -> Tracked:
    """Return the bench after these actions were recorded, a minute each."""
    entries = [Entry(0, 1, "begin", ZERO_S, 0, ZERO_S)]
    for n, line in enumerate(lines):
        end = ZERO_S + 60 * (n + 1)
        action = action_of(line, "seen")
        entries.append(
            Entry(
                0, n + 2, "action", end, 60 * (n + 1), end, "t", end - 60, (who,), action,
                "found" if action.verb == "found" else outcome,
            )
        )  # fmt: skip
    return track(GROUND, [PLAN], entries)


def so(tracked: Tracked, name: str, words: str) -> bool:
    config = tracked.fold.config
    return is_so(config, subject(config.wiring, name, words), words)


def rules(tracked: Tracked) -> list[str]:
    return [f.rule for f in tracked.findings]


@pytest.mark.parametrize(
    ("line", "name", "words"),
    [
        ("mate P1 to J4", "P1", "mated J4"),  # beneath a cover, and P1 is mated elsewhere
        ("mate P1 to J4", "J1", "bare"),
        ("seat N1 to J3", "N1", "unverified J3"),  # packed in a bag, J3 capped
        ("seat N1 to J3", "N1", "loose bench"),
        ("seat N1 to J3", "C3", "lost"),
        ("engage P1 to J4", "P1", "part_engaged J4"),
        ("park N1 to JP", "N1", "parked"),
        ("demate JN", "JN", "bare"),
        ("fit_cap CL on J4", "J4", "capped CL"),  # packed
        ("remove_cap CN", "CN", "tethered"),  # its half is in a bag
        ("remove_cap CU", "CU", "held ada"),  # it has no tether
        ("pick_up C3", "C3", "held ada"),
        ("tether CL", "CL", "tethered bench"),
        ("open COV", "COV", "open"),  # fastened
        ("fit_cover COV", "COV", "released"),
        ("remove_cover COV", "COV", "removed ada"),
        ("fasten COV 1", "COV", "fastened"),
        ("block SW1", "SW1", "blocked"),  # it is on
        ("reset SW1", "SW1", "off"),
        ("switch_on SW2", "SW2", "on"),
        ("restore P1", "P1", "routed"),
        ("let_go P1", "P1", "loose bench"),
        ("restrain N1", "N1", "restrained bench"),
        ("stow N1 in sack", "N1", "stowed sack"),
        ("pack P1 in kit", "P1", "packed kit"),
        ("pack P1 in kit", "P1", "bare"),  # packed all the same: so it had been demated
        ("hand_over N1 to bob", "N1", "in_hand bob"),
        ("leave kit", "kit", "at_place bench"),
        ("install PAN", "PAN", "installed"),
        ("walk to far", "ada", "at far"),
        ("inspect JF", "ada", "at far"),  # she was where the thing is
        ("verify SW1 blocked", "SW1", "blocked"),  # what was seen is so
        ("expect COV open", "COV", "open"),
        ("found P1 mated J4", "P1", "mated J4"),
    ],
)
def test_what_is_recorded_is_so(line: str, name: str, words: str) -> None:
    tracked = recorded(line)
    assert so(tracked, name, words), tracked.findings.items[-1].sentence()


def test_it_is_told_with_what_stood_before() -> None:
    (finding,) = [f for f in recorded("open COV").findings if f.rule == "done-all-the-same"]
    assert "recorded as done (t)" in finding.found, "with the name of who entered it"
    assert "COV is fastened" in finding.found
    assert "now COV open" in finding.difference
    assert "s2" in finding.way_out, "the plan has steps on it"


def test_ties_and_paths_without_a_machine_are_set_too() -> None:
    wiring = GROUND.wiring
    tracked = recorded("tie W1.main at t3", "route W2.main along off")
    config = tracked.fold.config
    assert config.ties[wiring.by_id["W1.main"]] == (wiring.by_id["t3"],)
    assert config.along[wiring.by_id["W2.main"]] == (wiring.by_id["off"],)


def test_a_forced_mate_counts() -> None:
    tracked = recorded("mate P1 to J4")
    wiring = tracked.ground.wiring
    assert [tracked.fold.config.count[wiring.by_id[n]] for n in ("P1", "J4")] == [1, 1]


def test_what_does_not_fit_cannot_be_modelled_and_is_told() -> None:
    for line in ("mate P1 to JQ", "found P1 mated JQ", "fit_cap C3 on P2"):
        tracked = recorded(line)
        assert so(tracked, "P1", "mated J1"), "which contacts would join nobody can tell"
        (finding,) = [f for f in tracked.findings if f.rule == "done-all-the-same"]
        assert "fit" in finding.found


def test_a_failed_action_leaves_all_as_it_was() -> None:
    before = recorded()
    for line in ("demate P1", "switch_off SW1", "open COV", "mate P1 to J4", "walk to far"):
        tracked = recorded(line, outcome="failed")
        config = tracked.fold.config
        assert config.state == before.fold.config.state, line
        assert config.link == before.fold.config.link, line
        assert "failed" in rules(tracked)


def test_a_failed_demate_leaves_the_service_unproven() -> None:
    tracked = recorded("demate P1", outcome="failed")
    assert tracked.trace.end_views[0].words == "up unproven"


def test_overlapping_entries_are_told() -> None:
    entries = [Entry(0, 1, "begin", ZERO_S, 0, ZERO_S)]
    for n, (who, line) in enumerate((("ada", "demate P1"), ("bob", "inspect P1"))):
        end = ZERO_S + 300 + n
        action = action_of(line)
        entries.append(
            Entry(0, n + 2, "action", end, 300, end, "t", ZERO_S + n, (who,), action, "done")
        )
    tracked = track(GROUND, [PLAN], entries)
    assert "overlapping-entries" in rules(tracked)
    assert so(tracked, "P1", "bare")


def test_live_contacts_are_told_as_run_too() -> None:
    assert "live-contact" in rules(recorded("demate P1"))


def test_unknown_ids_are_a_finding_and_the_log_goes_on() -> None:
    entries = [
        Entry(0, 1, "begin", ZERO_S, 0, ZERO_S),
        Entry(0, 2, "action", ZERO_S, 0, ZERO_S, actors=("ada",), action=action_of("demate P9"),
              outcome="done"),
        Entry(0, 3, "action", ZERO_S, 0, ZERO_S, actors=("eve",), action=action_of("demate P1"),
              outcome="done"),
        Entry(0, 4, "action", ZERO_S + 60, 60, ZERO_S, actors=("ada",),
              action=action_of("demate P1"), outcome="done"),
    ]  # fmt: skip
    tracked = track(GROUND, [PLAN], entries)
    assert rules(tracked).count("unknown-id") == 2
    assert so(tracked, "P1", "bare")
