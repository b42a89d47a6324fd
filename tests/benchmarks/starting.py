"""Whole commands in processes of their own, beside the imports nobody can do without."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from cablewalk.files.emit import block

from .generate import documents
from .measure import Row, processes_in_turn

HALVES = 200


def command_rows(repeats: int) -> Iterator[Row]:
    """Yield the rows of ``outages`` and ``--help``."""
    with tempfile.TemporaryDirectory() as folder:
        files = []
        for name, data in zip(("baseline", "procedure"), documents(HALVES), strict=True):
            file = Path(folder, f"{name}.yaml")
            file.write_text("\n".join(block(_text(data))), encoding="utf-8")
            files.append(str(file))
        outages, imports, help_, click = processes_in_turn(
            repeats,
            ["-m", "cablewalk", "outages", *files],
            ["-c", "import pydantic, yaml, click"],
            ["-m", "cablewalk", "--help"],
            ["-c", "import click"],
        )
    yield Row(
        f"cablewalk outages, {HALVES} halves", outages,
        'python -c "import pydantic, yaml, click"', imports, at_most=5,
    )  # fmt: skip
    yield Row("cablewalk --help", help_, 'python -c "import click"', click, at_most=2)


def _text(data: Any) -> Any:
    """Return data with every scalar as text, as a file holds them."""
    if isinstance(data, dict):
        return {key: _text(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_text(value) for value in data]
    return None if data is None else str(data)
