"""What could not be done is said on the pictures and on standard error, in words."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cablewalk.cli.draw import command as draw
from cablewalk.cli.tables import command as tables
from cablewalk.drawings.pictures import Album, Picture
from cablewalk.drawings.plate import PAGES
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.timeline.account import account

FAULTY = Path(__file__).resolve().parents[1] / "configs" / "faulty"
FILES = [str(FAULTY / name) for name in ("bench.yaml", "swap.yaml")]
# swap.yaml, mistake 4: W3-P1 still bears its cap when s2 mates it to J1.
WHY = "mate W3-P1 to J1 is not possible: W3-P1 is capped with C3"
STOPPED = f"THE REPLAY STOPPED at step s2: {WHY}"


@cache
def pictures(keep_going: bool) -> dict[str, Picture]:
    base, plan = load_baseline(FILES[0]).model, load_procedure(FILES[1], 1).model
    assert base is not None
    assert plan is not None
    album = Album(account(base, [plan], keep_going), PAGES["a4"])
    return {picture.name: picture for picture in album.pictures()}


def words(picture: Picture) -> list[tuple[str, str]]:
    """Return (look, line) of what stands under the title and beside."""
    keys = [k for k in picture.dress if k[0] in ("subtitle", "side")]
    return [(picture.dress[k].looks[0], line) for k in keys for line in picture.dress[k].lines]


def loud(picture: Picture) -> str:
    return " ".join(line for look, line in words(picture) if look == "loud")


def test_a_replay_that_stopped_says_so_on_every_picture_of_the_end() -> None:
    shown = pictures(False)
    for name in ("after", "before-and-after", "step-002-s2", "before"):
        assert STOPPED in loud(shown[name]), name
    for name in ("after", "step-002-s2"):
        said = " ".join(line for _, line in words(shown[name]))
        assert "As it will be left" not in said and "when the step is over" not in said
    assert "stopped" in shown["after"].title
    assert shown["step-002-s2"].title.startswith("STOPPED in step s2")
    # s1 was over: nothing of it is in doubt.
    assert "STOPPED" not in shown["step-001-s1"].title + loud(shown["step-001-s1"])
    assert "step-003-s3" not in shown


def test_a_step_with_a_skipped_action_says_so() -> None:
    shown = pictures(True)
    assert "1 ACTION NOT DONE" in shown["step-002-s2"].title
    assert WHY in loud(shown["step-002-s2"])
    assert "NOT DONE" not in shown["step-003-s3"].title + loud(shown["step-003-s3"])
    assert f"1 ACTION NOT DONE, skipped at step s2: {WHY}" in loud(shown["after"])
    assert "skipped" in shown["after"].title
    assert f"NOT MARKED: 1 ACTION NOT DONE, skipped at step s2: {WHY}" in loud(shown["before"])
    assert f"NOT MARKED: 1 ACTION NOT DONE, skipped at step s2: {WHY}" in loud(shown["before"])
    assert not any("STOPPED" in p.title + loud(p) for p in shown.values())


def test_a_step_of_which_nothing_could_be_done_has_its_picture() -> None:
    base, plan = load_baseline(FILES[0]).model, load_procedure(FILES[1], 1).model
    assert base is not None
    assert plan is not None
    second = plan.steps[1].model_copy(update={"do": plan.steps[1].do[-1:]})
    plan = plan.model_copy(update={"steps": (plan.steps[0], second, plan.steps[2])})
    album = Album(account(base, [plan], True), PAGES["a4"])
    assert [m.step.id for m in album.every if m.step is not None] == ["s1", "s2", "s3"]
    picture = album.step(2)
    assert "1 ACTION NOT DONE" in picture.title
    assert picture.name in [p.name for p in album.pictures("steps", only_changes=True)]


@pytest.mark.parametrize("fmt", ["csv", "markdown", "json", "text"])
def test_tables_say_it_on_standard_error(tmp_path: Path, fmt: str) -> None:
    result = run(tables, "--format", fmt, "--out", str(tmp_path))
    assert result.stderr.startswith(f"{FILES[1]}:32: {STOPPED}; what comes after it is not known")
    went = run(tables, "--keep-going", "--format", fmt, "--out", str(tmp_path), "--force")
    assert went.stderr == f"{FILES[1]}:32: NOT DONE at step s2, skipped: {WHY}\n"


def test_draw_says_it_on_standard_error(tmp_path: Path) -> None:
    result = run(draw, "--what", "after", "--out", str(tmp_path / "a"))
    assert f"{FILES[1]}:32: {STOPPED}" in result.stderr
    went = run(draw, "--what", "after", "--keep-going", "--out", str(tmp_path / "b"))
    assert f"{FILES[1]}:32: NOT DONE at step s2, skipped: {WHY}" in went.stderr
    assert "STOPPED" not in went.stderr


def run(command: object, *options: str) -> Result:
    return CliRunner().invoke(command, [*FILES, *options])  # type: ignore[arg-type]
