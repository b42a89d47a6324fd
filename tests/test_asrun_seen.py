"""What people saw up goes before the model: it is up since then, and its clock stands."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any, cast

from asrun_quay import BASELINE, PROCEDURE, opened, quay
from hypothesis import given, settings
from hypothesis import strategies as st
from test_asrun_commands import asrun, done, shown
from test_asrun_impossible import views

from cablewalk.continuity.services import State
from cablewalk.logbook.log import Stored
from cablewalk.logbook.run import plans_of
from cablewalk.logbook.words import action_of
from cablewalk.replay.configuration import ALIVE
from cablewalk.reports.asrun_log import LogFacts
from cablewalk.reports.asrun_now import now_report
from cablewalk.timeline.asrun import asrun_account
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry, Outcome

__all__ = ["quay"]  # the fixture

EV = ("--who", "gil", "-m", "seen")


def clocks(log: Path, pet: str) -> dict[str, dict[str, Any]]:
    return {row["outage"]["service"]: row for row in shown("now", log, "--pet", pet)["down"]}


def rules(log: Path, pet: str) -> dict[str, dict[str, Any]]:
    return {row["rule"]: row for row in shown("now", log, "--pet", pet)["findings"]}


def handed(log: Path, pet: str, baseline: str = "left.yaml") -> tuple[dict[str, Any], str]:
    left = log.with_name(baseline)
    report = shown("handover", log, left, "--force", "--pet", pet)
    return report, left.read_text(encoding="utf-8")


def reconnected(log: Path, pet: str = "0:49") -> None:
    """Record all that brings both services back at a time; both recover from then on."""
    for number, at in ((1, "0:07"), (2, "0:09"), (3, "0:11"), (4, "0:12")):
        done("do", log, f"s2/{number}", "--pet", at)
    done("do", log, "s3/1", "--pet", "0:40")
    done("do", log, "s3/2", "--pet", pet)


# -- recovering ------------------------------------------------------------------------------


def test_reconnected_it_has_in_hand_what_is_left_as_it_counts_as_back(quay: Path) -> None:
    reconnected(quay)
    for number in (8, 14):
        light = clocks(quay, f"0:{44 + number}")["light"]
        assert (light["reconnected"], light["back_pet"], light["margin_min"]) == (True, "0:59", 1)
        assert light["left_min"] is light["reconnect_by_pet"] is light["reconnect_by_utc"] is None
    now = shown("now", quay, "--pet", "0:52")
    assert {row["service"] for row in now["not_whole"]} & {"light", "radio"} == set()
    radio = clocks(quay, "0:52")["radio"]
    assert (radio["back_pet"], radio["margin_min"]) == ("1:04", -4)
    text = " ".join(asrun("now", quay, "--pet", "0:52").stdout.split())
    assert "light 0:52 0:00 1:00 0:01 reconnected, counts as back at 0:59: 0:01 in hand" in text
    assert "reconnected, counts as back at 1:04: 0:04 too late" in text
    for name, text in views(quay).items():
        assert "reconnect no later than PET" not in text, name
    assert "light" not in clocks(quay, "0:59")
    (row,) = [r for r in shown("forecast", quay, "--pet", "0:52")["outages"]
              if r["service"] == "light"]  # fmt: skip
    assert row["reconnect_by_pet"] is None and row["margin_min"] == 1


def test_found_up_it_recovers_no_longer(quay: Path) -> None:
    reconnected(quay)
    told = done("also", quay, "found light up", "--pet", "0:50", *EV)
    assert "WARNING seen-sooner: light was seen up 1 min after it was reconnected" in told
    assert "seen-sooner" not in done("note", quay, "quiet", "--pet", "0:50")
    assert "light" not in clocks(quay, "0:50")
    seen = rules(quay, "0:50")["seen-sooner"]
    assert seen["found"] == "light was seen up 1 min after it was reconnected"
    assert clocks(quay, "0:50")["radio"]["back_pet"] == "0:55", "5 min after what it needs"
    report, _ = handed(quay, "0:50")
    assert [row["service"] for row in report["dark"]] == ["radio"]
    assert report["used_min"] == {"light": 50}
    assert [r["service"] for r in shown("forecast", quay, "--pet", "0:50")["outages"]] == ["radio"]


def test_verified_while_it_recovers_it_is_up_since_then(quay: Path) -> None:
    reconnected(quay)
    done("also", quay, "verify light", "--pet", "0:53", "--who", "gil")
    assert "light" not in clocks(quay, "0:53")
    assert "seen-sooner" in rules(quay, "0:53")


def test_a_loss_after_it_was_seen_up_is_another_outage(quay: Path) -> None:
    reconnected(quay)
    done("also", quay, "found light up", "--pet", "0:50", *EV)
    done("also", quay, "switch_off SW1", "--pet", "0:55", "--began", "0:55", "--who", "gil")
    light = clocks(quay, "0:56")["light"]
    assert light["dark_min"] == 1 and light["outage"]["used_before_min"] == 50


def test_found_down_then_verified_it_is_back_as_it_is_verified(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("also", log, "found light down", "--pet", "0:05", *EV)
    done("also", log, "verify light", "--pet", "0:59", "--who", "gil")
    assert "light" not in clocks(log, "0:59")
    assert "seen-sooner" not in rules(log, "0:59"), "nobody knows when it was reconnected"
    assert clocks(log, "0:59")["radio"]["back_pet"] == "1:04"
    assert "clock-exceeded" not in rules(log, "1:05"), "radio is dark for 59 min"


# -- against the model -----------------------------------------------------------------------


def test_found_up_though_the_model_cannot_have_it(quay: Path) -> None:
    assert "light" in clocks(quay, "0:20")
    said = done("also", quay, "found light up", "--pet", "0:30", *EV)
    assert "BACK" in said and "found-otherwise" in said
    assert set(clocks(quay, "0:31")) == {"radio"}
    found = rules(quay, "0:31")["found-otherwise"]
    assert "light up" in found["found"] and found["expected"] == "light down"
    assert "done-all-the-same" not in rules(quay, "0:31")
    report, left = handed(quay, "0:40")
    assert report["dark"] == [] and "dark_min: {light: 0, radio: 0}" in left
    assert [(r["service"], r["seen"], r["needs"]) for r in report["upheld"]] == [
        ("light", "1.4", []), ("radio", "", ["light"]),
    ]  # fmt: skip
    assert "up-against-joins" in {f["rule"] for f in report["findings"]}
    assert not [f for f in report["findings"] if f["rule"].startswith("as-left")]
    assert "light" in [row["service"] for row in report["retest"]], "it owes a test"


def test_found_up_its_clock_does_not_run_on_into_the_next_log(quay: Path) -> None:
    """The baseline as left can only have it down; it is not dark since before for that."""
    done("also", quay, "found light up", "--pet", "0:30", *EV)
    handed(quay, "0:40")
    plan = quay.with_name("plan.yaml")
    plan.write_text(PROCEDURE.replace("assumes: quay", "assumes: swap"), encoding="utf-8")
    log = quay.with_name("next.log")
    left, zero = "2031-05-06T14:40:00Z", "2031-05-06T16:00:00Z"
    done("open", log, quay.with_name("left.yaml"), plan, "--left", left, "--zero", zero)
    light = clocks(log, "0:05")["light"]
    assert (light["dark_min"], light["since_before"]) == (5, False)
    assert light["outage"]["used_before_min"] == 30, "what it had used is not forgotten"
    told = " ".join(asrun("now", log, "--pet", "0:05").stdout.split())
    assert "dark since" not in told and "dark already" not in told and "dark-unknown" not in told
    assert "light is down by its joins, and swap says that it was dark for 0 minutes" in told
    done("also", log, "found light up", "--pet", "0:06", *EV)
    assert "light" not in clocks(log, "0:07")


def test_lost_as_it_is_handed_over_it_is_dark_since_then(quay: Path) -> None:
    done("also", quay, "found light up", "--pet", "0:30", *EV)
    done("also", quay, "found light down", "--pet", "0:40", *EV)
    report, left = handed(quay, "0:40")
    assert report["upheld"] == [] and "light: 0.1" in left, "0 would say that it was found up"


def test_what_needs_it_stands_by_it(quay: Path) -> None:
    done("also", quay, "found light up", "--pet", "0:30", *EV)
    radio = clocks(quay, "0:31")["radio"]
    assert (radio["reconnected"], radio["back_pet"]) == (True, "0:35")


def test_something_later_takes_it_down_again(quay: Path) -> None:
    for number, (taken, at) in enumerate((("demate P1", "0:36"), ("found SW1 off", "0:46"))):
        up = 30 + 10 * number
        done("also", quay, "found light up", "--pet", f"0:{up}", *EV)
        assert "light" not in clocks(quay, f"0:{up}")
        done("also", quay, taken, "--pet", at, "--began", at, "--who", "ann", "-m", "so")
        assert clocks(quay, at)["light"]["dark_min"] == 0, taken
    done("also", quay, "found light up", "--pet", "0:50", *EV)
    done("also", quay, "found light down", "--pet", "0:52", *EV)
    assert clocks(quay, "0:53")["light"]["dark_min"] == 1


def test_what_feeds_its_feed_takes_it_down_too(tmp_path: Path) -> None:
    """MAIN is the switch of what feeds the converter: no string of the service lists it."""
    swaps = {
        "SRC: {kind: source, volts: 28, limit_a: 5, switches: [MAIN, SW1], terminals: hi ret}": (
            "SRC: {kind: converter, volts: 28, limit_a: 5, switches: SW1}\n"
            "      TOP: {kind: source, volts: 120, limit_a: 5, switches: MAIN}"
        ),
        "J1: p2 socket SRC.hi SRC.ret": (
            "J1: p2 socket SRC.out_hi SRC.out_ret\n      T1: p2 socket TOP.hi TOP.ret\n"
            "      C1: p2 pin SRC.in_hi SRC.in_ret"
        ),
        "harnesses:": "harnesses:\n  W3: {legs: {R1: p2 pin, R2: p2 socket}, length_m: 3}",
        "mated: {P1: J1,": "mated: {R1: T1, R2: C1, P1: J1,",
    }
    text = BASELINE
    for old, new in swaps.items():
        assert old in text
        text = text.replace(old, new)
    log = opened(tmp_path, baseline=text)
    done("also", log, "demate P1", "--pet", "0:10", "--began", "0:09", "--who", "ann")
    done("also", log, "found light up", "--pet", "0:20", *EV)
    assert "light" not in clocks(log, "0:21")
    done("also", log, "switch_off MAIN", "--pet", "0:30", "--began", "0:30", "--who", "gil")
    assert clocks(log, "0:31")["light"]["dark_min"] == 1


def test_what_has_nothing_to_do_with_it_leaves_it_up(quay: Path) -> None:
    done("also", quay, "found light up", "--pet", "0:30", *EV)
    done("also", quay, "inspect K1", "--pet", "0:32", "--who", "ann")
    done("also", quay, "found ann at dock", "--pet", "0:33", *EV)
    assert "light" not in clocks(quay, "0:34")
    rows = shown("forecast", quay, "--pet", "0:34")["outages"]
    (light,) = [row for row in rows if row["service"] == "light"]
    assert light["from_pet"]["pet"] >= "0:34", "the demate that is to come takes it down"


def test_a_verify_of_what_was_found_up_proves_it(quay: Path) -> None:
    done("also", quay, "found light up", "--pet", "0:30", *EV)
    said = done("also", quay, "verify light", "--pet", "0:31", "--who", "gil")
    assert "verify-failed" not in said and "PROVEN" in said
    report, _ = handed(quay, "0:40")
    assert "light" not in [row["service"] for row in report["retest"]]


def test_a_test_of_what_needs_a_service_found_down_is_a_finding(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("also", log, "found light down", "--pet", "0:02", *EV)
    said = done("also", log, "verify radio", "--pet", "0:05", "--who", "gil")
    assert "ERROR verify-failed" in said
    assert "light, which it needs, was found down" in rules(log, "0:06")["verify-failed"]["found"]
    assert {"light", "radio"} == set(clocks(log, "0:06"))


# -- ahead or behind -------------------------------------------------------------------------


def test_who_has_not_begun_what_was_planned_is_behind(tmp_path: Path) -> None:
    log = opened(tmp_path, PROCEDURE, baseline=BASELINE)
    behind = {a["person"]: a["behind_min"] for a in shown("now", log, "--pet", "0:00")["actors"]}
    assert behind == {"ann": None, "gil": None}
    done("do", log, "s1/1", "--pet", "0:01")
    rows = {a["person"]: a["behind_min"] for a in shown("now", log, "--pet", "0:02")["actors"]}
    assert rows == {"ann": None, "gil": -1}, "the next is to begin now"
    rows = {a["person"]: a["behind_min"] for a in shown("now", log, "--pet", "0:30")["actors"]}
    assert rows == {"ann": 26, "gil": 28}


# -- whatever is recorded ----------------------------------------------------------------------

WORDS = (
    "switch_off SW1", "switch_on SW1", "block SW1", "unblock SW1", "switch_off MAIN",
    "switch_on MAIN", "demate P1", "mate P1 J1", "seat P1 J1", "lock P1", "demate Q1", "mate Q1 J3",
    "engage Q1 J3", "park P1 K1", "inspect J1", "verify light", "verify radio", "found light up",
    "found light down", "found light reduced", "found light unproven", "found radio up",
    "found radio down", "found SW1 tripped", "found SW1 on", "found P1 mated J1", "found P1 bare",
    "found Q1 part_engaged J3", "retire radio", "wait 15",
)  # fmt: skip
ENTRIES = st.lists(
    st.tuples(
        st.sampled_from([action_of(words, "seen") for words in WORDS]),
        st.sampled_from(["done", "done", "failed"]),
        st.integers(0, 90),
        st.none() | st.integers(0, 12),
        st.none() | st.booleans(),
    ),
    max_size=20,
)
PLANS = plans_of(
    [
        Stored("baseline", "quay.yaml", BASELINE.encode()),
        Stored("procedure", "plan.yaml", PROCEDURE.encode()),
    ]
)


@settings(max_examples=150)
@given(ENTRIES, st.integers(0, 60))
def test_views_spells_and_clocks_agree_whatever_is_seen(rows: list[Any], wait: int) -> None:
    entries = [Entry(0, 1, "begin", 0, 0, 0)]
    for n, (action, outcome, at, took, lock) in enumerate(rows, start=2):
        outcome = "found" if action.found else cast("Outcome", outcome)
        began = None if took is None else (at - took) * 60
        entries.append(
            Entry(
                0,
                n,
                "action",
                at * 60,
                at * 60,
                at * 60,
                "x",
                began,
                ("ann",),
                action,
                outcome,
                lock_verified=lock,
                text="so",
            )
        )
    tracked = track(PLANS.ground, PLANS.procedures, entries)
    views = list(tracked.trace.start_views)
    for event in tracked.trace.events:
        for shift in event.shifts:
            assert shift.before == views[shift.service]
            views[shift.service] = shift.after
    assert tuple(views) == tracked.trace.end_views
    assert views == [tracked.fold._view(n) for n in range(len(views))], "none was left behind"
    now_s = tracked.trace.end_s + wait * 60
    account = asrun_account(tracked, now_s)
    for n, view in enumerate(views):
        own = [s for s in account.outages if s.service == n]
        for one, other in pairwise(own):
            assert one.to_s is not None and one.from_s <= one.to_s <= other.from_s
        down = view.life == ALIVE and view.state is State.DOWN
        assert down is any(s.to_s is None for s in own)
        for spell in own:
            assert spell.lead_s >= 0
            assert spell.to_s is None or spell.retired or spell.restored_by is not None
    report = now_report(tracked, LogFacts("q", "", 1, (), PLANS.sources), now_s)
    assert {r.outage.service for r in report.down}.isdisjoint(r.service for r in report.not_whole)
    for row in report.down:
        assert row.reconnected is (row.back_pet is not None)
        assert not (row.reconnected and row.reconnect_by_pet)
    for actor in report.actors:
        spot = (1, actor.next_step, actor.next_action_number)
        if spot in {(r.phase_number, r.step, r.action_number) for r in report.impossible}:
            assert actor.next_impossible
    for last in tracked.played[-1:]:
        alone = all(row.end_s < last.begin_s for row in tracked.played[:-1])
        found = last.task.action.found == {"light": "up"}
        if alone and found and views[0].life == ALIVE:
            assert views[0].state is State.UP, "it is up as it was seen last"
