"""What `check` and `outages` say of loads that nothing is given of, and of crossed feeds."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from small import BENCH, LAMP, run
from test_power_grid import REVERSED, WIRED, both

from cablewalk.cli import commands

WORK = "cablewalk: 1\nprocedure: p\nminutes: 1\nsteps: [{id: s1, by: ada, do: [{inspect: J2}]}]\n"


def findings(folder: Path, command: str, more: str) -> list[dict[str, Any]]:
    """Return the notes on loads that a command tells of the lamp bench."""
    files = [folder / "base.yaml", folder / "work.yaml"]
    text = both(LAMP, more, "{cablewalk: 1, baseline: lamp}")
    for file, content in zip(files, (text, WORK), strict=True):
        file.write_text(content, encoding="utf-8")
    done = CliRunner().invoke(commands, [*command.split(), *map(str, files), "--json"])
    found: list[dict[str, Any]] = json.loads(done.stdout)["findings"]
    return [f for f in found if f["rule"] == "load-not-judged"]


@pytest.mark.parametrize("command", ["check", "outages"])
def test_electrical_data_without_a_draw_is_noted_once(command: str, tmp_path: Path) -> None:
    (note,) = findings(tmp_path, command, WIRED)
    assert note["severity"] == "note"
    assert note["found"] == "not judged: what is drawn by LAMP (light)"
    assert note["difference"] == "missing: draws of LAMP"


@pytest.mark.parametrize("command", ["check", "outages"])
def test_where_nothing_electrical_is_given_nothing_is_said(command: str, tmp_path: Path) -> None:
    assert findings(tmp_path, command, "{}") == []


def test_loads_that_are_asked_for_are_noted_all_the_same(tmp_path: Path) -> None:
    for command in ("loads", "outages --estimates"):
        assert len(findings(tmp_path, command, "{}")) == 1


def test_a_crossed_feed_is_not_said_to_be_unjoined() -> None:
    """W1 crosses high and return: wrong polarity is told, not that no end is joined."""
    rules = [f.rule for f in run("[[{inspect: J2}]]", REVERSED, LAMP).findings]
    assert "wrong-polarity" in rules
    assert "feed-does-not-reach" not in rules


def test_a_feed_that_reaches_no_end_is_still_noted() -> None:
    more = "{now: {mated: {P1: ~, P2: ~}, loose: {P1: bench, P2: bench}}}"
    assert "feed-does-not-reach" in [f.rule for f in run("[[{wait: 1}]]", more, BENCH).findings]
