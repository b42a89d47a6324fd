"""A correction's reason stands beside what the entry says, not in its place."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from asrun_bench import begin, entry, new_log
from test_asrun_commands import asrun, done, log, shown
from test_asrun_impossible import views

from cablewalk.logbook.codec import decode, encode
from cablewalk.walk.asrun_entry import Entry, corrected

__all__ = ["log"]  # the fixture


def rows(path: Path) -> dict[str, dict[str, str]]:
    """Return every entry as exported, by its number."""
    entries = json.loads(done("export", path, "--format", "json"))["entries"]
    return {row["number"]: row for row in entries}


def test_a_note_keeps_its_text_and_tells_why_it_was_corrected(log: Path) -> None:
    done("note", log, "--open", "--item", "J1", "pin 3 looks dark", "--pet", "0:03")
    done("correct", log, "1.2", "--pet", "0:02", "-m", "read off the wrong clock")
    (item,) = shown("now", log, "--pet", "0:04")["open_items"]
    assert item["text"] == "pin 3 looks dark"
    assert item["correction_reason"] == "read off the wrong clock"
    for name, text in views(log).items():
        assert "pin 3 looks dark - about J1 (corrected: read off the wrong clock)" in text, name
    assert rows(log)["1.3"]["text"] == "pin 3 looks dark"
    assert rows(log)["1.3"]["correction_reason"] == "read off the wrong clock"
    done("correct", log, "1.2", "--reads", "pin 4 looks dark", "-m", "counted from the key")
    (item,) = shown("now", log, "--pet", "0:04")["open_items"]
    assert (item["text"], item["pet"]) == ("pin 4 looks dark", "0:02")
    assert rows(log)["1.3"]["text"] == "pin 3 looks dark", "as it then stood"


@pytest.mark.parametrize("number", ["1.2", "1.3"])
def test_found_and_failed_keep_their_reasons(log: Path, number: str) -> None:
    done("do", log, "s1", "failed", "-m", "the switch sticks", "--pet", "0:02")
    found = ("--who", "ev2", "--pet", "0:03", "-m", "one fastener stands proud")
    done("also", log, "found COV part_fastened 3", *found)
    own = {"1.2": "the switch sticks", "1.3": "one fastener stands proud"}[number]
    done("correct", log, number, "--pet", "0:01", "-m", "late entry")
    rules = {f["rule"]: f["found"] for f in shown("now", log, "--pet", "0:04")["findings"]}
    assert f": {own}" in rules["failed" if number == "1.2" else "found-otherwise"]
    assert "late entry" not in "".join(rules.values())
    (row,) = shown("compare", log, "--pet", "0:04")["corrections"]
    assert (row["reason"], row["correction_reason"]) == (own, "late entry")
    page = " ".join(asrun("compare", log, "--pet", "0:04").stdout.split())
    assert f"- {own} (because: late entry)" in page


def test_another_state_found_keeps_the_reason(log: Path) -> None:
    found = ("--who", "ev2", "--pet", "0:03", "-m", "one fastener stands proud")
    done("also", log, "found COV part_fastened 3", *found)
    done("correct", log, "1.2", "--action", "found COV part_fastened 2", "-m", "counted again")
    (row,) = shown("handover", log, log.with_name("left.yaml"), "--pet", "0:04")["found"]
    assert "part_fastened 2" in row["text"] and row["reason"] == "one fastener stands proud"
    said = asrun("correct", log, "1.2", "--reads", "two stand proud", "-m", "counted again")
    assert said.exit_code == 0
    (row,) = shown("handover", log, log.with_name("l2.yaml"), "--pet", "0:04")["found"]
    assert row["reason"] == "two stand proud"


def test_what_became_a_failure_by_a_correction_tells_why(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("correct", log, "1.2", "--outcome", "failed", "-m", "it sprang back")
    rules = {f["rule"]: f for f in shown("now", log, "--pet", "0:04")["findings"]}
    assert rules["failed"]["found"].endswith("switch_off failed (corrected: it sprang back)")


def test_there_is_something_to_word_anew(log: Path) -> None:
    assert "words a note" in asrun("correct", log, "1.1", "--reads", "x", "-m", "x").stderr
    done("note", log, "seen", "--pet", "0:03")
    assert "--reads is empty" in asrun("correct", log, "1.2", "--reads", " ", "-m", "x").stderr
    long = asrun("correct", log, "1.2", "--reads", "x" * 5000, "-m", "x")
    assert long.exit_code == 2 and "say it shorter" in long.stderr


def test_a_log_from_before_keeps_what_its_entries_said(tmp_path: Path) -> None:
    """There the text of a correction was its reason too, though it stood in the place of both."""
    old = replace(entry(4), text="stops half way")
    mended = replace(old, serial=5, corrects=old.key, utc_s=old.utc_s + 60, text="wrong clock")
    path = new_log(tmp_path / "old.log", [entry(2), entry(3), old, mended])
    (row,) = [r for r in shown("compare", path)["unplanned"] if r["number"] == "1.4"]
    assert (row["reason"], row["correction_reason"]) == ("stops half way", "wrong clock")


def test_the_words_are_kept_through_corrections_of_corrections() -> None:
    note = Entry(0, 2, "note", 0, 0, 0, text="one")
    first = replace(note, serial=3, corrects=(0, 2), text="why", reads="two")
    second = replace(note, serial=4, corrects=(0, 3), text="why else")
    effective = corrected([begin(), note, first, second])
    assert effective.entries[-1].text == "two"
    assert effective.texts == {(0, 3): "two", (0, 4): "two"}
    assert effective.why == {(0, 2): "why else", (0, 3): "why", (0, 4): "why else"}
    assert decode(encode(first)) == first


# -- what is told of entries against the model ---------------------------------------------


def overridden(log: Path) -> dict[str, str]:
    (row,) = [f for f in shown("now", log)["findings"] if f["rule"] == "done-all-the-same"]
    found: dict[str, str] = row
    return found


def test_what_was_left_half_done_and_finished_since_is_told_as_it_stands_now(log: Path) -> None:
    """P1 is seated though J1 is capped, as the model has it; the lock is verified later."""
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:04")
    done("also", log, "found J1 capped C3", "-m", "seen", "--pet", "0:05", "--who", "ev1")
    done("also", log, "seat P1 J1", "--pet", "0:06", "--who", "ev1")
    assert overridden(log)["difference"] == "the log is right: now P1 unverified J1"
    done("also", log, "lock P1", "--pet", "0:08", "--who", "ev1")
    assert overridden(log)["difference"] == (
        "the log is right: then P1 unverified J1; now, by what was recorded since, P1 mated J1"
    )


def test_the_corrections_since_which_an_entry_is_impossible_are_in_order(log: Path) -> None:
    done("do", log, "s1", "--pet", "0:02")
    done("do", log, "s2/1", "--pet", "0:05")
    done("do", log, "s2/3", "--pet", "0:12")
    done("correct", log, "1.3", "--outcome", "failed", "-m", "it was the other one")
    done("correct", log, "1.2", "--pet", "0:03", "-m", "a minute later")
    done("correct", log, "1.3", "--pet", "0:06", "-m", "later still")
    (row,) = [f for f in shown("now", log)["findings"] if f["rule"] == "impossible-since-corrected"]
    assert "since correction 1.5, 1.6, 1.7" in row["found"]
