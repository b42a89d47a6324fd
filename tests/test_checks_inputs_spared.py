"""No command writes over a document it has just read, not even when told to overwrite."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from cablewalk.cli import commands
from cablewalk.files.output import CannotWrite, note_read, sparing_what_is_read, write_text

CONFIGS = Path(__file__).resolve().parents[1] / "configs" / "faulty"


@pytest.fixture
def documents(tmp_path: Path) -> list[str]:
    """The faulty demo under names that outputs may have too."""
    names = ["own.svg", "own-1.svg"]
    for source, name in zip(("bench.yaml", "swap.yaml"), names, strict=True):
        shutil.copy(CONFIGS / source, tmp_path / name)
    return [str(tmp_path / name) for name in names]


@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize(
    ("command", "option"),
    [("check", "--sarif"), ("book", "--out"), ("book", "--cards"), ("timeline", "--out")],
)
def test_an_input_is_refused_as_the_output(
    documents: list[str], command: str, option: str, which: int
) -> None:
    before = Path(documents[which]).read_bytes()
    more = [] if command == "check" else ["--keep-going"]
    arguments = [command, *documents, *more, option, documents[which], "--force"]
    result = CliRunner().invoke(commands, arguments)
    assert result.exit_code == 2, result.output
    assert "one of the documents read" in " ".join(result.stderr.split())
    assert Path(documents[which]).read_bytes() == before


def test_an_input_in_the_folder_of_tables_is_refused(tmp_path: Path) -> None:
    base, procedure = tmp_path / "tables.json", tmp_path / "p.yaml"
    shutil.copy(CONFIGS / "bench.yaml", base)
    shutil.copy(CONFIGS / "swap.yaml", procedure)
    before = base.read_bytes()
    arguments = ["tables", str(base), str(procedure), "--keep-going", "--json"]
    result = CliRunner().invoke(commands, [*arguments, "--out", str(tmp_path), "--force"])
    assert result.exit_code == 2, result.output
    assert base.read_bytes() == before


def test_another_name_of_an_input_is_refused_too(documents: list[str], tmp_path: Path) -> None:
    other = tmp_path / "other.sarif"
    os.link(documents[0], other)
    before = other.read_bytes()
    result = CliRunner().invoke(commands, ["check", *documents, "--sarif", str(other), "--force"])
    assert result.exit_code == 2
    assert other.read_bytes() == before


def test_force_still_overwrites_what_was_not_read(documents: list[str], tmp_path: Path) -> None:
    other = tmp_path / "other.sarif"
    other.write_text("old", encoding="utf-8")
    result = CliRunner().invoke(commands, ["check", *documents, "--sarif", str(other), "--force"])
    assert result.exit_code == 1, result.output
    assert other.read_text(encoding="utf-8").startswith("{")


def test_what_is_read_is_spared_within_the_run_alone(tmp_path: Path) -> None:
    file = tmp_path / "x.txt"
    write_text(file, "one")
    with sparing_what_is_read():
        note_read(str(file))
        with pytest.raises(CannotWrite, match="never written over"):
            write_text(file, "two", force=True)
    note_read(str(file))
    write_text(file, "two", force=True)
    assert file.read_text(encoding="utf-8") == "two"
