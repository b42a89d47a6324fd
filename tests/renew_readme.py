"""Renew what documents hold of the program's own output: ``python tests/renew_readme.py``.

The outputs of the README's commands, and the table of rules in DEVELOPERS.md.
"""

from __future__ import annotations

import os
import re
import shlex
import tempfile
from pathlib import Path

from click.testing import CliRunner

from cablewalk.checks.registry import rules_table
from cablewalk.cli import commands

ROOT = Path(__file__).parent.parent


def main() -> None:
    """Run every command the README shows and put what it prints beneath it."""
    path = ROOT / "README.md"
    text = path.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "configs").symlink_to(ROOT / "configs")
        for name, body in re.findall(r"```yaml\n# file: (\S+)\n(.*?)```", text, re.S):
            (Path(folder) / name).write_text(body, encoding="utf-8")
        os.chdir(folder)

        def run(match: re.Match[str]) -> str:
            result = CliRunner().invoke(commands, shlex.split(match[1]))
            return f"```console\n$ cablewalk {match[1]}\n{result.stdout.rstrip()}\n```"

        text = re.sub(r"```console\n\$ cablewalk (.*?)\n(.*?)```", run, text, flags=re.S)
    path.write_text(text, encoding="utf-8")
    path = ROOT / "DEVELOPERS.md"
    text = path.read_text(encoding="utf-8")
    before, rest = text.split("<!-- rules -->\n", 1)
    after = rest.split("<!-- /rules -->", 1)[1]
    table = f"<!-- rules -->\n{rules_table().strip()}\n<!-- /rules -->"
    path.write_text(before + table + after, encoding="utf-8")


if __name__ == "__main__":
    main()
