"""The README's examples do what it says: its files load, its commands print what it shows."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from cablewalk.checks.registry import rules_table
from cablewalk.cli import commands

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
FILES = dict(re.findall(r"```yaml\n# file: (\S+)\n(.*?)```", README, re.S))
SHOWN = re.findall(r"```console\n\$ cablewalk (.*?)\n(.*?)```", README, re.S)


def test_there_are_examples() -> None:
    assert set(FILES) == {"mast.yaml", "swap.yaml"}
    assert len(SHOWN) >= 3


@pytest.mark.parametrize(("command", "output"), SHOWN, ids=[c for c, _ in SHOWN])
def test_command_prints_what_is_shown(
    command: str, output: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "configs").symlink_to(ROOT / "configs")
    for name, text in FILES.items():
        # The line that names the file stands in the README only: line numbers count from below it.
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(commands, shlex.split(command))
    assert result.exit_code in (0, 1)
    assert result.stdout.rstrip("\n") == output.rstrip("\n")


def test_set_up_commands_come_first() -> None:
    blocks = re.findall(r"```(\w+)\n(.*?)```", README, re.S)
    assert [kind for kind, _ in blocks[:2]] == ["sh", "sh"]
    for command in ("outages", "draw", "tables"):
        assert f"cablewalk {command} $DEMO" in blocks[0][1]
    assert "pytest" in blocks[1][1]


def test_the_table_of_rules_is_the_registrys() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = text.split("<!-- rules -->\n", 1)[1].split("<!-- /rules -->", 1)[0]
    assert shown.strip() == rules_table().strip()
