"""``cablewalk book``: files, refusals, and what it says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cablewalk.cli.book import command

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
DEMO = [str(CONFIGS / "outpost.yaml"), str(CONFIGS / "outing-1.yaml")]


def book(*arguments: str, **environment: str) -> Result:
    return CliRunner().invoke(command, [*DEMO, *arguments], env=environment)


def test_book_and_cards_are_written_and_are_the_same_twice(tmp_path: Path) -> None:
    out, cards = tmp_path / "book.html", tmp_path / "cards.html"
    result = book("--out", str(out), "--cards", str(cards), SOURCE_DATE_EPOCH="1000000000")
    assert result.exit_code == 0, result.output
    assert f"wrote {out}" in result.output and f"wrote {cards}" in result.output
    text = out.read_text(encoding="utf-8")
    assert "2001-09-09" in text, "1e9 s after 1970 is 2001-09-09 (POSIX, Seconds Since the Epoch)"
    mark = re.search(r'<b class="mark">([0-9A-F-]{14})</b>', text)
    assert mark is not None and mark[1] in cards.read_text(encoding="utf-8")
    assert book("--out", str(out), "--force", SOURCE_DATE_EPOCH="1000000000").exit_code == 0
    assert out.read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("size", "words"),
    [("cuff", "size: 100mm 150mm"), ("a4", "size: A4"), ("letter", "size: letter")],
)
def test_cards_have_the_size_asked_for(tmp_path: Path, size: str, words: str) -> None:
    cards = tmp_path / "cards.html"
    assert book("--cards", str(cards), "--card-size", size).exit_code == 0
    text = cards.read_text(encoding="utf-8")
    assert words in text and "tick box" in text and "GP-J1" in text
    assert "<script" not in text


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    out, cards = tmp_path / "book.html", tmp_path / "cards.html"
    cards.write_text("mine", encoding="utf-8")
    result = book("--out", str(out), "--cards", str(cards))
    assert result.exit_code == 2 and "exists already" in result.output
    assert cards.read_text(encoding="utf-8") == "mine" and not out.exists()


def test_one_of_the_files_must_be_named(tmp_path: Path) -> None:
    assert book().exit_code == 2
    same = str(tmp_path / "one.html")
    result = book("--out", same, "--cards", same)
    assert result.exit_code == 2 and "same file" in result.output


def test_a_bad_date_is_a_sentence(tmp_path: Path) -> None:
    result = book("--out", str(tmp_path / "b.html"), SOURCE_DATE_EPOCH="tomorrow")
    assert result.exit_code == 2 and "SOURCE_DATE_EPOCH" in result.output
    assert "Traceback" not in result.output


def test_a_folder_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    result = book("--out", str(tmp_path / "no" / "b.html"))
    assert result.exit_code == 2 and "cannot be written" in result.output


def test_errors_found_make_exit_code_1(tmp_path: Path) -> None:
    faulty = [str(CONFIGS / "faulty" / name) for name in ("bench.yaml", "swap.yaml")]
    out = tmp_path / "b.html"
    result = CliRunner().invoke(command, [*faulty, "--out", str(out), "--keep-going"])
    assert result.exit_code == 1, result.output
    assert 'class="finding error"' in out.read_text(encoding="utf-8")
