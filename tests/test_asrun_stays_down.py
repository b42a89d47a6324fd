"""Why a service stays down, what is to be tested, and when it is back: told the same everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from asrun_quay import BASELINE, PROCEDURE, opened, quay
from test_asrun_commands import asrun, done, shown
from test_asrun_impossible import views

__all__ = ["quay"]  # the fixture

SEEN = ("--who", "gil", "-m", "seen")
SWITCHED = PROCEDURE.replace("- demate: P1\n", "- inspect: P1\n").replace(
    "      - engage: {P1: J1}\n      - seat: {P1: J1}\n      - lock: P1\n", ""
)
"""The switch goes off and on again; nothing is parted."""


def reasons(log: Path, pet: str) -> dict[str, str]:
    rows = shown("now", log, "--pet", pet)["down"]
    return {row["outage"]["service"]: row["why"] for row in rows}


def reconnected(log: Path) -> None:
    """Record all but the tests: both services recover from 0:13 on."""
    for action, pet in (("s2", "0:11"), ("s3/1", "0:12"), ("s3/2", "0:13")):
        done("do", log, action, "--pet", pet)


def left_dark(tmp_path: Path) -> Path:
    """Return the log of a second phase whose baseline has both dark, all joined, on and fed."""
    first = opened(tmp_path, SWITCHED)
    for action, pet in (("s1", "0:04"), ("s2", "0:05"), ("s3/1", "0:07"), ("s3/2", "0:09")):
        done("do", first, action, "--pet", pet)
    left, plan = first.with_name("left.yaml"), first.with_name("plan.yaml")
    asrun("handover", first, left, "--pet", "0:11")
    plan.write_text(SWITCHED.replace("assumes: quay", "assumes: swap"), encoding="utf-8")
    log = first.with_name("next.log")
    left_at, zero = "2031-05-06T14:11:00Z", "2031-05-06T14:20:00Z"
    done("open", log, left, plan, "--left", left_at, "--zero", zero)
    return log


# -- why -------------------------------------------------------------------------------------


def test_a_service_that_is_reconnected_recovers_and_what_needs_it_after_it(quay: Path) -> None:
    assert reasons(quay, "0:05") == {
        "light": "feed SRC is not up", "radio": "it needs light, which is down",
    }  # fmt: skip
    reconnected(quay)
    assert reasons(quay, "0:14") == {"light": "recovering", "radio": "recovering, after light"}
    text = " ".join(asrun("now", quay, "--pet", "0:14").stdout.split())
    assert "why recovering, after light" in text


def test_one_found_down_is_held_so_and_what_needs_it_waits_for_it(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("also", log, "found light down", "--pet", "0:05", *SEEN)
    why = reasons(log, "0:06")
    assert why["light"] == "found down: held so until it is verified or found up"
    assert why["radio"] == "it needs light, which is down"
    for name, text in views(log).items():
        assert why["light"] in text and why["radio"] in text, name


def test_one_handed_over_dark_is_held_so_though_its_joins_are_back(tmp_path: Path) -> None:
    log = left_dark(tmp_path)
    held = "handed over dark: held so until it is verified or found up"
    assert reasons(log, "0:01") == {"light": held, "radio": held}
    done("also", log, "verify light", "--pet", "0:02", "--who", "gil")
    assert reasons(log, "0:03") == {"radio": held}


# -- what is told as it is recorded ----------------------------------------------------------


def test_strings_of_what_is_down_that_change_are_no_news(tmp_path: Path) -> None:
    log = left_dark(tmp_path)
    said = done("do", log, "s1/1", "--pet", "0:02")
    said += done("do", log, "s1/2", "--pet", "0:04") + done("do", log, "s2", "--pet", "0:05")
    said += done("do", log, "s3/1", "--pet", "0:07") + done("do", log, "s3/2", "--pet", "0:09")
    assert "SWAP" not in said and "down → down" not in said


def test_found_without_a_reason_names_the_option(quay: Path) -> None:
    for said in (
        asrun("also", quay, "found light up", "--pet", "0:05"),
        asrun("also", quay, "found: {light: up}", "--pet", "0:05"),
    ):
        assert said.exit_code == 2
        assert said.stderr.strip().endswith("needs a reason: say it with -m")
        assert "is no action" not in said.stderr
    assert shown("now", quay)["log"]["events"] == 3, "nothing is recorded"


def test_what_was_found_instead_of_a_planned_action_has_its_reason(quay: Path) -> None:
    """The reason said with -m is that of 'found' too."""
    done("do", quay, "s2/1", "differently", "--action", "found P1 bare", "-m", "it was off",
         "--pet", "0:06")  # fmt: skip
    (ann,) = [a for a in shown("now", quay, "--pet", "0:07")["actors"] if a["person"] == "ann"]
    assert ann["next_text"] == "engage P1 to J1"


# -- a test that fails -----------------------------------------------------------------------


def failed(log: Path, pet: str) -> dict[str, Any]:
    (row,) = [
        f for f in shown("now", log, "--pet", pet)["findings"] if f["rule"] == "verify-failed"
    ]
    found: dict[str, Any] = row
    return found


def test_the_way_out_of_a_failed_test_names_the_needed_service_that_is_down(quay: Path) -> None:
    asrun("also", quay, "verify radio", "--pet", "0:05", "--who", "gil")
    assert failed(quay, "0:06")["way_out"] == (
        "bring light up, which radio needs, or record that it is found up; then verify radio"
    )


def test_where_the_tested_service_is_down_by_itself_too_both_are_named(quay: Path) -> None:
    done("also", quay, "demate Q1", "--pet", "0:05", "--who", "ann")
    asrun("also", quay, "verify radio", "--pet", "0:06", "--who", "gil")
    way_out = failed(quay, "0:07")["way_out"]
    assert way_out.startswith("bring light up, which radio needs")
    assert "bring radio up too, for it is down by itself as well" in way_out


def test_a_test_of_what_needs_nothing_that_is_down_keeps_its_way_out(quay: Path) -> None:
    asrun("also", quay, "verify light", "--pet", "0:05", "--who", "gil")
    assert failed(quay, "0:06")["way_out"] == "bring light up first, or verify it later"


def test_of_a_chain_the_one_that_is_down_by_itself_is_named(tmp_path: Path) -> None:
    more = "services:\n  buoy: {kind: data, needs: radio, lines: [SRC2.d to LD.d]}\n"
    log = opened(tmp_path, baseline=BASELINE.replace("services:\n", more))
    done("also", log, "found light down", "--pet", "0:02", *SEEN)
    asrun("also", log, "verify buoy", "--pet", "0:05", "--who", "gil")
    assert failed(log, "0:06")["way_out"].startswith("bring light up, which buoy needs")


# -- to be tested ----------------------------------------------------------------------------


def handed(log: Path, pet: str) -> tuple[dict[str, Any], str]:
    report = shown("handover", log, log.with_name("l1.yaml"), "--force", "--pet", pet)
    return report, asrun("handover", log, log.with_name("l2.yaml"), "--force", "--pet", pet).stdout


def test_what_still_recovers_is_to_be_tested_once_it_is_back(quay: Path) -> None:
    reconnected(quay)
    report, text = handed(quay, "0:14")
    assert [(r["service"], r["state"], r["not_back"]) for r in report["retest"]] == [
        ("light", "recovering", True)
    ]
    assert "TO BE TESTED ONCE BACK\n  light (recovering)" in text
    assert "TO BE TESTED\n" not in text
    report, text = handed(quay, "0:40")
    assert [(r["service"], r["state"], r["not_back"]) for r in report["retest"]] == [
        ("light", "up unproven", False)
    ]
    assert "TO BE TESTED\n  light (up unproven)" in text and "ONCE BACK" not in text


def test_what_is_down_is_to_be_tested_once_it_is_back(tmp_path: Path) -> None:
    log = opened(tmp_path)
    done("also", log, "found light down", "--pet", "0:05", *SEEN)
    report, text = handed(log, "0:06")
    assert [(r["service"], r["state"], r["not_back"]) for r in report["retest"]] == [
        ("light", "down", True)
    ]
    assert "TO BE TESTED ONCE BACK\n  light (down)" in text


# -- when it is back -------------------------------------------------------------------------


@pytest.mark.parametrize("dark", ["found", "handed over"])
def test_the_forecast_has_it_back_as_it_is_verified_as_the_log_has_it(
    tmp_path: Path, dark: str
) -> None:
    """A service that was held dark is back as it is verified: what it needs to recover is over."""
    if dark == "found":
        log = opened(tmp_path)
        done("also", log, "found light down", "--pet", "0:00", *SEEN)
    else:
        log = left_dark(tmp_path)
    ahead = {r["service"]: r for r in shown("forecast", log, "--pet", "0:00")["outages"]}
    done("do", log, "s1", "--pet", "0:04")
    if dark == "found":
        done("do", log, "s2", "--pet", "0:12")
    else:
        done("do", log, "s2", "--pet", "0:06")
    start = 12 if dark == "found" else 6
    for n, length in enumerate((2, 2, 15, 2), start=1):
        start += length
        done("do", log, f"s3/{n}", "--pet", f"0:{start:02}")
    assert ahead["light"]["back_pet"]["pet"] == f"0:{start:02}", "as it is verified"
    now = {r["outage"]["service"]: r for r in shown("now", log, "--pet", f"0:{start:02}")["down"]}
    assert "light" not in now, "the log has it back by then"
    if dark == "found":
        assert ahead["radio"]["back_pet"]["pet"] == now["radio"]["back_pet"] == f"0:{start + 5:02}"
