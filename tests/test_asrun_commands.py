"""The commands of a log, on a small bench: short lines, corrections, two writers, the live view."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import threading
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from asrun_bench import BASELINE, PROCEDURE
from click.testing import CliRunner, Result

from cablewalk.cli import commands
from cablewalk.cli.asrun import ASRUN
from cablewalk.cli.asrun_common import now_utc_s
from cablewalk.cli.asrun_watch import View
from cablewalk.cli.asrun_web import serve
from cablewalk.documents.actions import Action
from cablewalk.logbook.codec import utc_seconds
from cablewalk.logbook.drafts import Said, planned
from cablewalk.logbook.log import Log
from cablewalk.logbook.look import LookAgain, record
from cablewalk.logbook.run import Run, plans_of
from cablewalk.logbook.trouble import CannotLog
from cablewalk.logbook.words import action_of
from cablewalk.walk.asrun_entry import Entry

ZERO = "2031-05-06T14:00:00Z"
CHROMIUM = Path("/usr/bin/chromium")


def asrun(*arguments: object) -> Result:
    result = CliRunner().invoke(commands, ["asrun", *map(str, arguments)], prog_name="cablewalk")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def done(*arguments: object) -> str:
    result = asrun(*arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def shown(name: str, log: Path, *options: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(asrun(name, log, *options, "--json").stdout)
    return found


@pytest.fixture
def log(tmp_path: Path) -> Path:
    (tmp_path / "bench.yaml").write_text(BASELINE, encoding="utf-8")
    (tmp_path / "swap.yaml").write_text(PROCEDURE, encoding="utf-8")
    path = tmp_path / "a.log"
    done("open", path, tmp_path / "bench.yaml", tmp_path / "swap.yaml", "--zero", ZERO)
    return path


# -- words ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "action"),
    [
        ("mate P1 to J3", {"mate": {"P1": "J3"}}),
        ("Mate P1 J3", {"mate": {"P1": "J3"}}),
        ("fit cap C1 on P1", {"fit_cap": {"C1": "P1"}}),
        ("remove-cap C1", {"remove_cap": "C1"}),
        ("release C1", {"release": {"C1": None}}),
        ("release C1 4", {"release": {"C1": "4"}}),
        ("walk to gallery carrying", {"walk": {"to": "gallery", "carrying": True}}),
        ("route W1.main along A-B B-C", {"route": {"W1.main": ("A-B", "B-C")}}),
        ("verify light", {"verify": "light"}),
        ("verify SW1 blocked", {"verify": {"SW1": "blocked"}}),
        ("verify SW1 is on", {"verify": {"SW1": "on"}}),
        ("expect SW1 on", {"expect": {"SW1": "on"}}),
        ("found ada at hatch", {"found": {"ada": "at hatch"}, "reason": "r"}),
        ("found C1 part_fastened 5", {"found": {"C1": "part_fastened 5"}, "reason": "r"}),
        ("wait 3", {"wait": "3"}),
        ("mate: {P1: J3}", {"mate": {"P1": "J3"}}),
        ("{mate: {P1: J3}, minutes: 4}", {"mate": {"P1": "J3"}, "minutes": "4"}),
    ],
)
def test_a_short_line_is_an_action(line: str, action: dict[str, Any]) -> None:
    reason = "r" if "reason" in action else ""
    assert action_of(line, reason) == Action.model_validate(action)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("glue P1 J3", "no verb"), ("mat P1 J3", "did you mean 'mate'"), ("", "no verb"),
        ("mate P1", "too little or too much"), ("walk", "too little"), ("mate: [", "no action"),
        ("found C1 open", "needs a reason"), ("{mate: {a: b, c: d}}", "no action"),
        ("release C1 many", "no action"), ("{on: P1}", "no action"),
        ("mate: {P1: J3}\n---\n{}", "no action"),
    ],
)  # fmt: skip
def test_what_is_no_action_is_a_sentence(line: str, words: str) -> None:
    with pytest.raises(CannotLog, match=words):
        action_of(line)


# -- recording --------------------------------------------------------------------------


def test_every_command_shows_an_example(log: Path) -> None:
    for name in ASRUN:
        text = done(name, "--help")
        assert f"cablewalk asrun {name} " in text


def test_next_of_a_role(log: Path) -> None:
    assert "1.2" in done("do", log, "gnd", "--pet", "0:02", "--by", "x")
    assert "s2/1" in done("do", log, "ev1", "--pet", "0:05", "--by", "x")
    assert "s2/2" in done("do", log, "ada", "--pet", "0:07", "--by", "x")


def test_times_of_a_step_are_spread_and_say_so(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2", "--pet", "0:12", "--began", "0:03:00")
    rows = shown("compare", log)["actions"]
    ends = [row["end_pet"] for row in rows if row["step"] == "s2"]
    assert ends == ["0:06", "0:09", "0:12"]
    minutes = {row["verb"] for row in handed(log)["actual_minutes"]}
    assert "mate" not in minutes, "times worked out are no measurements"


def handed(log: Path) -> dict[str, Any]:
    result = asrun("handover", log, log.with_name("left.yaml"), "--force", "--json")
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_actual_minutes_are_of_told_beginnings(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02", "--took", "1.5")
    done("do", log, "s2/1", "--pet", "0:10", "--began", "0:03")
    rows = {r["verb"]: (r["count"], r["median_min"]) for r in handed(log)["actual_minutes"]}
    assert rows == {"switch_off": (1, 1.5), "demate": (1, 7.0)}


def test_unlocked_is_seated(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:05")
    said = done("do", log, "s2/3", "--no-lock", "--pet", "0:10")
    assert "seat P1" in said
    rows = shown("connectors", log)["entries"]
    last = [r for r in rows if r["half"] == "P1"][-1]
    assert (last["state"], last["lock_verified"]) == ("unverified", "no")


def test_the_count_stands_against_the_users_limit(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2", "--pet", "0:12")
    halves = {r["half"]: r for r in shown("connectors", log)["halves"]}
    assert (halves["J1"]["mates"], halves["J1"]["limit"], halves["J1"]["left"]) == (1, 50, 49)
    assert halves["J1"]["source"] == "test rule 1"
    assert halves["P1"]["limit"] is None


def test_a_running_clock_says_reconnect_no_later_than(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02", "--began", "0:02")
    (row,) = shown("now", log, "--pet", "0:30")["down"]
    assert row["outage"]["service"] == "light"
    assert (row["dark_min"], row["left_min"]) == (28, 32)
    assert row["reconnect_by_utc"] == "2031-05-06T15:02:00Z"
    late = asrun("now", log, "--pet", "1:30")
    assert late.exit_code == 1, "an exceeded clock is an error"
    assert "clock-exceeded" in late.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("do", "s9"), "no step, person or role s9"),
        (("do", "s2/9"), "s2/1 to s2/3"),
        (("do", "s2/"), "s2/1 to s2/3"),
        (("also", "mate P1 to P1", "--who", "ev1"), "cannot mate with itself"),
        (("also", "found light glowing", "-m", "x"), "up or reduced or down"),
        (("also", "found P9 bare", "-m", "x"), "cablewalk asrun note"),
        (("note", "x" * 4001), "an entry takes 4,000"),
        (("do", "s2", "failed", "-m", "x"), "3 actions open"),
        (("do", "s1", "failed"), "needs a reason"),
        (("do", "s1", "part-engaged"), "halves being mated"),
        (("do", "s1", "--pet", "1:7"), "H:MM"),
        (("do", "s1", "--utc", "noon"), "UTC time"),
        (("do", "s1", "--pet", "0:05", "--began", "0:09"), "begun after"),
        (("do", "s1", "--who", "eve"), "person or role eve"),
        (("also", "demate P1"), "nobody is named"),
        (("also", "demate P9", "--who", "ev1"), "no half P9"),
        (("also", "demate P1", "--who", "ev1", "--step", "s9"), "no step s9"),
        (("correct", "1.9", "--void", "-m", "x"), "not in the log"),
        (("correct", "1.1", "--void", "-m", "x"), "cannot be taken back"),
        (("correct", "1.1", "-m", "x"), "say what was otherwise"),
        (("correct", "first", "--void", "-m", "x"), "no number of an entry"),
        (("note", "x", "--item", "P9"), "no item P9"),
        (("note", "x", "--closes", "1.1"), "no open item"),
        (("note", " "), "empty"),
        (("begin",), "all 1 procedures"),
    ],
)
def test_a_slip_is_a_sentence_and_nothing_is_recorded(
    log: Path, arguments: tuple[str, ...], words: str
) -> None:
    result = asrun(arguments[0], log, *arguments[1:])
    assert result.exit_code == 2
    assert words in result.stderr, result.stderr
    with Log(log) as file:
        assert file.count() == 1


def test_no_output_goes_over_the_log_or_what_belongs_to_it(log: Path) -> None:
    twin, link = log.with_name("twin.log"), log.with_name("link.log")
    twin.hardlink_to(log)
    link.symlink_to(log)
    other = log.with_name("other.log")
    done("open", other, log.with_name("bench.yaml"), log.with_name("swap.yaml"))
    kept = {p: p.read_bytes() for p in log.parent.iterdir()}
    outs = [log, twin, link, other, log.with_name("bench.yaml"), log.with_name("swap.yaml")]
    outs += [log.with_name(f"a.log-{end}") for end in ("wal", "shm", "journal")]
    outs.append(log.parent / ".." / log.parent.name / "a.log")
    for out in outs:
        for result in (
            asrun("handover", log, out, "--force"),
            asrun("export", log, "--out", out, "--force"),
        ):
            assert result.exit_code == 2, out
            assert "choose another name" in result.stderr or "stays as it is" in result.stderr
    for name in ("a.log-wal", "a.log"):
        assert asrun("salvage", log, log.with_name(name)).exit_code == 2
    assert {p: p.read_bytes() for p in log.parent.iterdir()} == kept


def test_a_time_to_come_is_noted_and_far_ahead_refused(log: Path) -> None:
    now_log = log.with_name("now.log")
    done("open", now_log, log.with_name("bench.yaml"), log.with_name("swap.yaml"))
    said = asrun("do", now_log, "s1", "--pet", "1:00")
    assert said.exit_code == 0 and "ahead of this computer's clock" in said.stderr
    refused = asrun("do", now_log, "s2", "--pet", "20:00")
    assert refused.exit_code == 2 and "ahead of this computer's clock" in refused.stderr
    assert "ahead" not in asrun("do", log, "s1", "--pet", "0:02").stderr, "a rehearsal may"


def test_a_role_that_witnessed_is_the_person(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02", "--witness", "ev2")
    done("do", log, "s2/1", "--pet", "0:05", "--witness", "the doctor")
    assert [r["witness"] for r in shown("now", log)["last"][1:]] == ["bob", "the doctor"]


def test_the_hand_over_lists_what_was_left_bare_or_unlocked(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:05")
    report = handed(log)
    assert {r["half"] for r in report["bare"]} == {"P1", "J1"}
    assert report["without_begin"] == 2 and report["actual_minutes"] == []
    done("do", log, "s2/3", "--no-lock", "--pet", "0:10")
    report = handed(log)
    assert report["bare"] == []
    assert report["unlocked"] == ["J1 unverified P1", "P1 unverified J1"]
    assert "count in no minutes" in asrun("handover", log, log.with_name("b.yaml")).stdout


def test_what_is_in_no_step_has_its_place_in_the_log(log: Path) -> None:
    done("also", log, "found COV part_fastened 3", "--pet", "0:05", "-m", "seen")
    (row,) = [f for f in shown("now", log)["findings"] if f["rule"] == "found-otherwise"]
    assert (row["file"], row["line"], row["step"]) == (str(log), None, "log 1.2")


def test_a_step_begun_before_what_it_waits_for_is_told_at_once(log: Path) -> None:
    said = done("do", log, "s2/1", "--pet", "0:01")
    assert "OUT OF ORDER: step s2 waits for s1, not recorded as over" in said
    assert "OUT OF ORDER" not in done("do", log, "s4/1", "--pet", "0:02"), "it waits for nothing"
    assert "OUT OF ORDER" not in done("do", log, "s2/2", "skipped", "-m", "x", "--pet", "0:02")
    done("do", log, "s1", "--pet", "0:03")
    assert "OUT OF ORDER" not in done("do", log, "s2/3", "--pet", "0:05")


def test_what_went_wrong_once_and_will_again_is_told_again(log: Path) -> None:
    """The same sentence of another step is another failure."""
    plan = PROCEDURE + "  - {id: s5, by: gnd, after: s3, do: [verify: light]}\n"
    log.with_name("twice.yaml").write_text(plan, encoding="utf-8")
    twice = log.with_name("twice.log")
    done("open", twice, log.with_name("bench.yaml"), log.with_name("twice.yaml"), "--zero", ZERO)
    done("do", twice, "s1", "--pet", "0:02")
    done("do", twice, "s2/1", "--pet", "0:05")
    done("do", twice, "s2", "skipped", "-m", "no time", "--pet", "0:06")
    assert "verify-failed: light" in done("do", twice, "s3", "--pet", "0:09")
    for name in ("now", "forecast"):
        coming = [(f["rule"], f["step"]) for f in shown(name, twice)["to_come"]]
        assert ("verify-failed", "s5") in coming, name
    assert "verify-failed: light" in done("do", twice, "s5", "--pet", "0:11")


# -- corrections ------------------------------------------------------------------------


def test_a_correction_stands_beside_what_it_corrects(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("correct", log, "1.2", "--pet", "0:04", "-m", "read off the wrong clock")
    rows = shown("now", log)["last"]
    assert [r["pet"] for r in rows] == ["0:00", "0:02", "0:04"]
    assert rows[-1]["corrects"] == "1.2"
    (row,) = [r for r in shown("compare", log)["actions"] if r["step"] == "s1"]
    assert row["end_pet"] == "0:04"


def test_a_correction_that_makes_later_entries_impossible_is_a_finding(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:05")
    done("do", log, "s2/3", "--pet", "0:12")
    said = done("correct", log, "1.3", "--outcome", "failed", "-m", "it was the other one")
    assert "impossible-since-corrected: log 1.4 (mate)" in said
    found = [f["rule"] for f in shown("now", log)["findings"]]
    assert "impossible-since-corrected" in found
    assert shown("now", log)["log"]["damage"] == [], "the log still opens"


def test_open_items_are_handed_over_until_closed(log: Path) -> None:
    done("note", log, "--open", "--item", "J1", "pin", "looks dark")
    assert [r["text"] for r in handed(log)["open_items"]] == ["pin looks dark"]
    done("note", log, "it is a reflection", "--closes", "1.2")
    assert handed(log)["open_items"] == []


def test_the_csv_has_no_formula(log: Path) -> None:
    done("note", log, "=HYPERLINK(1)", "--by", "+x")
    rows = list(csv.reader(io.StringIO(done("export", log))))
    assert rows[-1][rows[0].index("text")] == "'=HYPERLINK(1)"
    assert rows[-1][rows[0].index("entered_by")] == "'+x"


def test_a_time_long_before_the_phase_is_noted_and_recorded(log: Path) -> None:
    early = asrun("do", log, "s1", "--pet", "-20:00")
    assert early.exit_code == 0 and "20:00 hours before this phase begins" in early.stderr
    assert asrun("do", log, "s2/1", "--pet", "0:05").stderr == ""


def test_a_note_far_from_this_computers_clock_has_the_time_of_the_last_action(log: Path) -> None:
    """In a rehearsal of a phase years away, an action must be given its time; a note need not."""
    refused = asrun("do", log, "s1")
    assert refused.exit_code == 2 and "nobody said when" in refused.stderr
    assert refused.stderr.startswith("Error: "), "no note on the time that is refused anyway"
    first = asrun("note", log, "before anything")
    assert "PET 0:00 is taken" in first.stderr, first.stderr
    done("do", log, "s1", "--pet", "0:02")
    noted = asrun("note", log, "--open", "pin looks dark")
    assert noted.exit_code == 0 and "nobody said when" in noted.stderr
    assert "PET 0:02 is taken, the last action's" in noted.stderr
    assert asrun("note", log, "told", "--pet", "0:01").stderr == ""
    assert [r["pet"] for r in shown("now", log)["last"][1:]] == ["0:00", "0:02", "0:02", "0:01"]


def test_a_note_while_the_phase_runs_is_of_now(log: Path) -> None:
    live = log.with_name("now.log")
    done("open", live, log.with_name("bench.yaml"), log.with_name("swap.yaml"))
    noted = asrun("note", live, "as it happens")
    assert noted.exit_code == 0 and noted.stderr == ""
    assert [r["pet"] for r in shown("now", live)["last"]] == ["0:00", "0:00"]


def test_a_correction_keeps_the_time_of_what_it_corrects(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:05")
    for arguments in (
        ("1.2", "--witness", "ev2"), ("1.2", "--began", "0:01"), ("1.3", "--void"),
    ):  # fmt: skip
        result = asrun("correct", log, *arguments, "-m", "x")
        assert (result.exit_code, result.stderr) == (0, ""), arguments
    assert [r["pet"] for r in shown("now", log)["last"]] == ["0:02", "0:05", "0:02", "0:02", "0:05"]
    far = asrun("correct", log, "1.2", "--pet", "-20:00", "-m", "x")
    assert "20:00 hours before this phase begins" in far.stderr, "a time that is given is judged"


# -- two people at once -------------------------------------------------------------------


def test_the_second_is_told_what_the_first_recorded(log: Path) -> None:
    done("do", log, "gnd", "--by", "ann", "--pet", "0:02")
    done("do", log, "ev1", "--by", "ann", "--pet", "0:05")
    # Ben hears the same call and records the same worker's next: it has moved on meanwhile.
    second = asrun("do", log, "ev1", "--by", "ben", "--pet", "0:05")
    assert second.exit_code == 1
    assert "Nothing was recorded" in second.stderr
    assert "demate P1" in second.stderr and "entered by ann" in second.stderr
    assert "--seen 3" in second.stderr
    with Log(log) as file:
        assert file.count() == 3
    # Having looked, he says so.
    assert "s2/2" in done("do", log, "ev1", "--by", "ben", "--pet", "0:07", "--seen", "3")


def test_one_login_for_two_people_is_no_way_around_seen(log: Path) -> None:
    done("do", log, "gnd", "--by", "ops", "--pet", "0:02")
    done("do", log, "ev2", "--by", "ops", "--pet", "0:03")
    again = asrun("do", log, "ev2", "--by", "ops", "--pet", "0:03", "--seen", "2")
    assert again.exit_code == 1 and "release COV" in again.stderr


def test_two_at_the_same_moment_record_the_next_action_once(log: Path) -> None:
    """The head moves between the start of a command and its insert: by the same login too."""
    with Log(log, write=True) as file:
        plans = plans_of(file.documents)

        def draft(run: Run) -> list[Entry]:
            if not meanwhile:
                meanwhile.append(done("do", log, "ev2", "--by", "ops", "--pet", "0:03"))
            said = Said(utc_seconds("2031-05-06T14:03:00Z"), 0, "ops")
            return planned(run.tracked, "ev2", "done", said)

        meanwhile: list[str] = []
        with pytest.raises(LookAgain):
            record(file, plans, draft, None, "ops", file.count())
        done("do", log, "gnd", "--by", "ops", "--pet", "0:03")
        with pytest.raises(LookAgain):  # one came after the command began, before it read
            record(file, plans, draft, None, "ops", 1)
        assert file.count() == 3


def test_a_new_name_is_not_held_up_by_old_entries(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done("do", log, "gnd", "--by", "ann", "--pet", "0:02")
    done("do", log, "ev1", "--by", "ann", "--pet", "0:05")
    later = now_utc_s() + 600
    monkeypatch.setattr("cablewalk.cli.asrun_telling.now_utc_s", lambda: later)
    assert "s2/2" in done("do", log, "ev1", "--by", "ben", "--pet", "0:07")


def test_what_others_do_elsewhere_is_no_hindrance(log: Path) -> None:
    done("do", log, "ev2", "--by", "ann", "--pet", "0:02")
    done("do", log, "gnd", "--by", "ben", "--pet", "0:02", "--seen", "1")


def test_the_state_assumed_is_that_seen(log: Path) -> None:
    done("also", log, "inspect J1", "--who", "ev2", "--by", "ann", "--pet", "0:02")
    late = ("--by", "ben", "--seen", "1", "--pet", "0:03")
    again = asrun("also", log, "inspect J1", "--who", "ev1", *late)
    assert again.exit_code == 1, "the item was handled since"
    assert "inspect J1" in again.stderr


def test_what_was_recorded_is_not_recorded_twice(log: Path) -> None:
    done("do", log, "s1", "--by", "ann", "--pet", "0:02")
    twice = asrun("do", log, "s1/1", "--by", "ben", "--pet", "0:03")
    assert twice.exit_code == 2
    assert "recorded already as done by ann (log 1.2): look again" in twice.stderr
    assert "s1/1" in done("do", log, "s1/1", "--by", "ben", "--pet", "0:03", "--again",
                          "--seen", "2")  # fmt: skip


# -- phases -----------------------------------------------------------------------------


def test_a_second_phase_in_the_same_log(tmp_path: Path) -> None:
    (tmp_path / "bench.yaml").write_text(BASELINE, encoding="utf-8")
    (tmp_path / "one.yaml").write_text(PROCEDURE, encoding="utf-8")
    two = PROCEDURE.replace("procedure: swap", "procedure: again\ngap_min: 60")
    (tmp_path / "two.yaml").write_text(two, encoding="utf-8")
    log = tmp_path / "a.log"
    names = [tmp_path / f"{n}.yaml" for n in ("bench", "one", "two")]
    done("open", log, *names, "--zero", ZERO)
    done("do", log, "s1", "--pet", "0:02", "--began", "0:02")
    assert asrun("begin", log, "--zero", "2031-05-06T14:00:00Z").exit_code == 2, "it has not ended"
    done("begin", log, "--zero", "2031-05-06T18:00:00Z")
    done("do", log, "s2", "--pet", "0:10")
    now = shown("now", log, "--pet", "0:20")
    assert now["log"]["phase"] == "again"
    (row,) = now["down"]
    assert row["dark_min"] == 4 * 60 + 20 - 2, "an outage runs across phases"
    with Log(log) as file:
        assert [e.key for e in file.read().entries] == [
            (0, 1), (0, 2), (1, 1), (1, 2), (1, 3), (1, 4),
        ]  # fmt: skip


# -- the live view ------------------------------------------------------------------------


def test_watch_shows_it_once_in_a_pipe(log: Path) -> None:
    assert "WHO, AND WHAT COMES NEXT" in done("watch", log)


@pytest.fixture
def address(log: Path) -> Any:
    stop, ready, found = threading.Event(), threading.Event(), []

    def told(text: str) -> None:
        found.append(text)
        ready.set()

    server = threading.Thread(target=serve, args=(View(log).report, 0, 5.0, told, stop))
    server.start()
    assert ready.wait(20)
    yield found[0]
    stop.set()
    server.join(20)
    assert not server.is_alive()


def get(url: str, **headers: str) -> tuple[int, str, Any]:
    request = urllib.request.Request(url, headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, answer.read().decode(), answer.headers
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode(), error.headers


def test_the_page_is_read_only_and_on_loopback(address: str, log: Path) -> None:
    assert address.startswith("http://127.0.0.1:")
    status, text, headers = get(address)
    assert status == 200 and "Every service is up" in text and "<script" not in text
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert json.loads(get(f"{address}now.json")[1])["report"] == "asrun-now"
    assert get(f"{address}../etc/passwd")[0] == 404
    assert get(address, Host="evil.example:80")[0] == 403
    request = urllib.request.Request(address, data=b"x", method="POST")
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request, timeout=20)
    assert refused.value.code == 501
    refused.value.close()


def test_the_page_follows_the_log_and_is_inert(address: str, log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("note", log, "--open", "<img src=x onerror=alert(1)> & co")
    text = get(address)[1]
    assert "<span class='tag'>DOWN</span>" in text
    assert "<img" not in text and "&lt;img src=x" in text


@pytest.mark.skipif(not CHROMIUM.exists(), reason="no chromium here")
def test_a_browser_shows_the_page(address: str, log: Path, tmp_path: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    shot = tmp_path / "page.png"
    command = [
        str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu",
        f"--user-data-dir={tmp_path / 'profile'}",
    ]  # fmt: skip
    dom = subprocess.run(
        [*command, "--dump-dom", address], capture_output=True, text=True, timeout=120, check=False
    )
    assert "Reconnect no later than" in dom.stdout, dom.stderr[-2000:]
    subprocess.run(
        [*command, f"--screenshot={shot}", "--window-size=1280,900", address],
        capture_output=True, timeout=120, check=False,
    )  # fmt: skip
    assert shot.read_bytes().startswith(b"\x89PNG")
