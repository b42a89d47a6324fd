"""The README's section on logs: its commands run in the order shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from cablewalk.cli import commands

TELLING = ("now", "forecast", "connectors", "handover")
ROOT = Path(__file__).resolve().parents[1]


def test_the_commands_of_the_section_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    section = (ROOT / "README.md").read_text(encoding="utf-8").split("\n## As run\n", 1)[1]
    block = re.search(r"```sh\n(.*?)```", section.split("\n## ", 1)[0], re.S)
    assert block is not None
    lines = block[1].splitlines()
    assert len(lines) >= 8
    (tmp_path / "configs").symlink_to(ROOT / "configs")
    monkeypatch.chdir(tmp_path)
    for line in lines:
        program, *arguments = shlex.split(line)
        assert program == "cablewalk"
        result = CliRunner().invoke(commands, arguments)
        # 1: the log tells findings of severity error, which a surprise may well bring.
        assert result.exit_code in (0, 1), (line, result.output)
        assert result.exit_code == 0 or arguments[1] in TELLING, line
        assert result.stderr == "", (line, result.stderr)
    assert {p.name for p in tmp_path.iterdir()} == {
        "configs", "outing-1.log", "outing-1-left.yaml", "recovered.log",
    }  # fmt: skip
