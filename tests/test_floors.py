"""The rooms of the package stand on floors, and imports point down only.

The authority is the design's table of rooms (DEVELOPERS.md); FLOORS and MET_IN are that table.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

FLOORS: dict[str, int] = {
    "findings": 0,
    "units": 0,
    "sheets": 0,
    "documents": 1,
    "formulas": 1,
    "files": 2,
    "machines": 2,
    "schedule": 2,
    "replay": 3,
    "continuity": 4,
    "walk": 5,  # the fold that ties replay to continuity, so above both
    "orders": 5,
    "power": 5,
    "timeline": 6,
    "checks": 7,
    "foresight": 8,
    "reports": 9,
    "logbook": 10,
    "tables": 10,
    "drawings": 10,
    "book": 11,
    "cli": 12,
    "__main__": 13,
}
"""Room to floor. A room is a module or folder directly in the package."""

MET_IN: dict[str, set[str]] = {
    "click": {"cli"},
    "graphviz": {"drawings", "machines"},  # machines writes its diagrams as DOT from its tables
    "jinja2": {"book"},
    "markupsafe": {"book"},  # what jinja2 marks text with that needs no escaping
    "numpy": {"formulas", "power", "timeline"},
    "pydantic": {"documents", "files", "reports"},
    "pydantic_core": {"documents", "files", "reports"},  # the half of pydantic its errors come from
    "pygraphviz": {"drawings"},
    "scipy": {"power"},  # optional
    "sqlite_utils": {"logbook"},
    "transitions": {"machines"},
    "yaml": {"files"},
}
"""Third-party library to the rooms that may import it."""

LINES_AT_MOST = 300

SOURCE = Path(__file__).resolve().parents[1] / "src"
PACKAGE = "cablewalk"


class Import(NamedTuple):
    """One import: the module and line it stands in, and the full name of what it imports."""

    module: str
    line: int
    target: str

    def __str__(self) -> str:
        return f"{self.module}:{self.line} imports {self.target}"


def modules(source: Path) -> dict[str, Path]:
    """Return dotted name to file of every module below ``source``."""
    found = {}
    for path in sorted(source.glob(f"{PACKAGE}/**/*.py")):
        parts = path.relative_to(source).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imports(source: Path) -> Iterator[Import]:
    """Yield every import below ``source``, also those inside functions or for typing only."""
    known = modules(source)
    for module, path in known.items():
        package = module if path.name == "__init__.py" else module.rpartition(".")[0]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                for name in node.names:
                    yield Import(module, node.lineno, name.name)
            elif isinstance(node, ast.ImportFrom):
                base = node.module or ""
                if node.level:
                    above = package.split(".")[: len(package.split(".")) - node.level + 1]
                    base = ".".join([*above, *filter(None, [base])])
                for name in node.names:
                    # "from package import module" imports the module, not a name in the package.
                    deeper = f"{base}.{name.name}"
                    yield Import(module, node.lineno, deeper if deeper in known else base)


def room(module: str) -> str:
    """Return the room of a module of the package; the package itself is room ''."""
    return [*module.split("."), ""][1]


def faults(source: Path) -> tuple[list[str], int]:
    """Return what breaks the rules below ``source``, and how many edges between rooms were seen."""
    wrong = [f"{name}: its room is on no floor" for name in modules(source) if _homeless(name)]
    edges = 0
    for edge in imports(source):
        here, top = room(edge.module), edge.target.partition(".")[0]
        if top == PACKAGE:
            there = room(edge.target)
            if here == there or there == "":
                continue
            edges += 1
            if FLOORS.get(here, -1) <= FLOORS.get(there, -1):
                wrong.append(f"{edge}: not downward")
        elif top not in sys.stdlib_module_names and here not in MET_IN.get(top, set()):
            wrong.append(f"{edge}: that library is met in {sorted(MET_IN.get(top, ()))} only")
    return wrong, edges


def _homeless(module: str) -> bool:
    return room(module) not in FLOORS and module != PACKAGE


def test_imports_point_down() -> None:
    wrong, edges = faults(SOURCE)
    assert not wrong, "\n".join(wrong)
    assert edges >= 10, "the walk saw hardly an import: it did not look where the code is"


def test_libraries_are_seen() -> None:
    seen = {edge.target.partition(".")[0] for edge in imports(SOURCE)}
    assert {"graphviz", "pydantic", "pygraphviz"} <= seen


@pytest.mark.parametrize("module", modules(SOURCE))
def test_module_is_short(module: str) -> None:
    length = len(modules(SOURCE)[module].read_text(encoding="utf-8").splitlines())
    assert length <= LINES_AT_MOST


@pytest.mark.parametrize(
    ("module", "line", "fault"),
    [
        ("documents/a", "from cablewalk.replay.b import c", "imports cablewalk.replay.b"),
        ("documents/a", "from ..replay import b", "imports cablewalk.replay"),
        ("documents/a", "from .. import replay", "imports cablewalk.replay"),
        ("files/a", "import cablewalk.machines", "imports cablewalk.machines"),
        ("files/a", "def f():\n    from cablewalk import schedule", "imports cablewalk.schedule"),
        ("cellar/a", "", "on no floor"),
        ("replay/a", "import yaml.cyaml", "imports yaml.cyaml"),
        ("replay/a", "import networkx", "imports networkx"),
        ("findings", "import cablewalk.units", "imports cablewalk.units"),
        ("__init__", "import cablewalk.units", "imports cablewalk.units"),
    ],
)
def test_a_wrong_import_is_found(tmp_path: Path, module: str, line: str, fault: str) -> None:
    for name in ("__init__", "replay/__init__", "machines/__init__", "schedule/__init__"):
        _write(tmp_path, name, "")
    _write(tmp_path, module, line)
    (wrong,), _ = faults(tmp_path)
    assert fault in wrong


def test_a_right_import_is_an_edge(tmp_path: Path) -> None:
    _write(tmp_path, "__init__", "__version__ = '1'")
    _write(tmp_path, "documents/__init__", "import pydantic\nfrom cablewalk import __version__")
    _write(tmp_path, "documents/a", "from . import b\nfrom cablewalk.findings import Finding")
    _write(tmp_path, "documents/b", "import json\nfrom ..units import minutes")
    _write(tmp_path, "units", "")
    assert faults(tmp_path) == ([], 2)


def _write(source: Path, module: str, text: str) -> None:
    path = source / PACKAGE / f"{module}.py"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
