"""Asking for help is quick: nothing slow is imported for it.

The list was measured (2 cores, Python 3.11): pydantic 74 ms, importlib.metadata 25, transitions
22, yaml 21, and sqlite_utils brings numpy, 138.
"""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

SLOW = {
    "graphviz",
    "importlib.metadata",
    "jinja2",
    "numpy",
    "pydantic",
    "pygraphviz",
    "sqlite_utils",
    "transitions",
    "yaml",
}

# What the interpreter itself loads at its start is not the program's doing.
PROBE = """
import sys
before = set(sys.modules)
sys.argv = ["cablewalk", "--help"]
code = None
try:
    {statement}
except SystemExit as stop:
    code = stop.code
import json
print(json.dumps([code, sorted(set(sys.modules) - before)]))
"""


def run(statement: str) -> tuple[object, set[str], str]:
    """Return exit code, modules imported and what was printed by a statement in a new process."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(statement=statement)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    printed, _, last = done.stdout.rstrip().rpartition("\n")
    code, imported = json.loads(last)
    return code, set(imported), printed


def test_help_imports_nothing_slow() -> None:
    code, imported, printed = run("from cablewalk.cli import main; main()")
    assert code == 0
    assert printed.startswith("Usage: cablewalk")
    assert "cablewalk.cli" in imported
    assert not imported & SLOW


@pytest.mark.parametrize("module", ["yaml", "importlib.metadata", "pydantic"])
def test_a_slow_import_is_seen(module: str) -> None:
    _, imported, _ = run(f"import {module}")
    assert module in imported & SLOW


def test_pydantic_looks_for_no_plugins() -> None:
    spared = "from cablewalk.cli import spare_plugins; spare_plugins()"
    _, imported, _ = run(f"{spared}; import pydantic; pydantic.create_model('M', x=int)(x=1)")
    assert "pydantic" in imported and "importlib.metadata" not in imported


def test_a_pydantic_that_asks_more_of_its_loader_gets_the_real_one() -> None:
    spared = "from cablewalk.cli import spare_plugins; spare_plugins()"
    _, _, printed = run(
        f"{spared}; import pydantic; from pydantic.plugin import _loader;"
        " print(_loader.PYDANTIC_ENTRY_POINT_GROUP)"
    )
    assert printed == "pydantic"


def test_plugins_somebody_asks_for_are_looked_for() -> None:
    asked = "import os; os.environ['PYDANTIC_DISABLE_PLUGINS'] = 'one'"
    spared = "from cablewalk.cli import spare_plugins; spare_plugins()"
    _, imported, _ = run(f"{asked}; {spared}; import pydantic; pydantic.create_model('M', x=int)")
    assert "importlib.metadata" in imported
