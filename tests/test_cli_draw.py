"""``cablewalk draw``: files, refusals, and a machine without Graphviz."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cablewalk.cli.draw import command
from cablewalk.drawings import engine

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
DEMO = [str(CONFIGS / "outpost.yaml"), str(CONFIGS / "outing-1.yaml")]


def draw(*arguments: str) -> Result:
    return CliRunner().invoke(command, [*DEMO, *arguments])


def test_before_is_one_file(tmp_path: Path) -> None:
    result = draw("--out", str(tmp_path / "new" / "folder"), "--what", "before")
    assert result.exit_code == 0, result.output
    assert "1 picture written" in result.output
    assert [p.name for p in (tmp_path / "new" / "folder").iterdir()] == ["before.svg"]


def test_all_is_before_after_both_and_the_steps(tmp_path: Path) -> None:
    assert draw("--out", str(tmp_path)).exit_code == 0
    names = sorted(p.name for p in tmp_path.iterdir())
    assert names[:3] == ["after.svg", "before-and-after.svg", "before.svg"]
    assert names[3] == "step-001-1-01.svg"
    every = len(names)
    assert draw("--out", str(tmp_path / "fewer"), "--only-changes").exit_code == 0
    assert 3 < len(list((tmp_path / "fewer").iterdir())) < every


@pytest.mark.parametrize(("fmt", "start"), [("png", b"\x89PNG"), ("pdf", b"%PDF")])
@pytest.mark.parametrize("page", ["a4", "letter"])
def test_other_formats(tmp_path: Path, fmt: str, start: bytes, page: str) -> None:
    result = draw("--out", str(tmp_path), "--what", "both", "--format", fmt, "--page", page)
    assert result.exit_code == 0, result.output
    assert (tmp_path / f"before-and-after.{fmt}").read_bytes().startswith(start)


def test_pictures_are_not_written_over_unasked(tmp_path: Path) -> None:
    (tmp_path / "before.svg").write_text("mine", encoding="utf-8")
    result = draw("--out", str(tmp_path), "--what", "before")
    assert result.exit_code == 2
    assert "is there already" in result.output and "--force" in result.output
    assert (tmp_path / "before.svg").read_text(encoding="utf-8") == "mine"
    assert draw("--out", str(tmp_path), "--what", "before", "--force").exit_code == 0
    assert (tmp_path / "before.svg").read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize("fmt", ["svg", "png", "pdf"])
def test_without_graphviz_a_clear_message_and_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fmt: str
) -> None:
    monkeypatch.setattr(engine, "_pygraphviz", lambda: None)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    result = draw("--out", str(tmp_path / "out"), "--format", fmt)
    assert result.exit_code == 2
    assert "Graphviz is not here" in result.output
    assert "Traceback" not in result.output
    assert not list(tmp_path.rglob("*.*"))


def test_a_folder_that_cannot_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    result = draw("--out", str(tmp_path / "file" / "below"), "--what", "before")
    assert result.exit_code == 2
    assert "cannot be made" in result.output


def test_errors_found_in_the_plan_make_the_exit_code(tmp_path: Path) -> None:
    faulty = [str(CONFIGS / "faulty" / name) for name in ("bench.yaml", "swap.yaml")]
    result = CliRunner().invoke(command, [*faulty, "--keep-going", "--out", str(tmp_path)])
    assert result.exit_code == 1
    assert (tmp_path / "after.svg").exists()
