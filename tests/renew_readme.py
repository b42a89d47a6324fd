"""Write the outputs of the README's commands anew: ``python tests/renew_readme.py``."""

from __future__ import annotations

import os
import re
import shlex
import tempfile
from pathlib import Path

from click.testing import CliRunner

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


if __name__ == "__main__":
    main()
