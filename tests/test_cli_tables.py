"""``cablewalk tables``: forms, moments, files that are never lost, and what is refused."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from test_reports_bench import AGAIN, BASELINE, LOUD, SWAP, written

from cablewalk.cli import commands
from cablewalk.reports.table_change import SECTIONS


@pytest.fixture
def bench(tmp_path: Path) -> list[str]:
    return written(tmp_path, bench=BASELINE, swap=SWAP)


def run(*arguments: str) -> Result:
    """Run the command; an exception that is no exit fails the test."""
    result = CliRunner().invoke(commands, ["tables", *arguments], prog_name="cablewalk")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_all_three_by_half_is_the_default(bench: list[str]) -> None:
    result = run(*bench)
    assert result.exit_code == 0
    heads = [line for line in result.stdout.splitlines() if ": bench " in line]
    assert [line.partition(":")[0] for line in heads] == ["BEFORE", "AFTER", "DIFFERENCE"]
    assert all(line.endswith((", by half", ", thing by thing")) for line in heads)


def test_the_difference_in_words(bench: list[str]) -> None:
    text = run(*bench, "--what", "difference").stdout
    for section, meaning in SECTIONS.items():
        assert f"\n{section}\n  {meaning}\n" in text or f"\n{section}\n" not in text
    rows = {tuple(line.split()[1:2]) for line in text.splitlines() if " on J" in line}
    assert rows == {("P1",), ("P2",), ("Q1",), ("Q2",)}


def test_help_defines_every_section() -> None:
    text = run("--help").stdout
    for section, meaning in SECTIONS.items():
        assert any(line.split() == [*section.split(), *meaning.split()]
                   for line in text.splitlines()), section  # fmt: skip


def test_json_and_csv_agree(bench: list[str]) -> None:
    report = json.loads(run(*bench, "--json").stdout)
    same = json.loads(run(*bench, "--format", "json").stdout)
    assert report == same
    assert (report["report"], report["version"]) == ("tables", 1)
    text = run(*bench, "--what", "after", "--format", "csv").stdout
    rows = list(csv.DictReader(io.StringIO(text)))
    halves = report["after"]["halves"]
    assert [(r["half"], r["mated to"]) for r in rows] == [
        (h["half"], h["mated_to"]) for h in halves
    ]
    assert report["after"]["ways"] is None


def test_end_to_end_after_a_step(bench: list[str]) -> None:
    text = run(*bench, "--what", "after", "--by", "end", "--at", "s1").stdout
    assert "after step s1" in text.splitlines()[0]
    assert "J1=P1.1 → P2=J2.1" in text
    assert "J1=Q1.1 → Q2=J2.1" in run(*bench, "--what", "after", "--by", "end").stdout


def test_from_and_at_the_same_step_differ_in_nothing(bench: list[str]) -> None:
    text = run(*bench, "--what", "difference", "--by", "both", "--from", "s2", "--at", "s2").stdout
    assert "Nothing is otherwise than before." in text
    assert "All ends are joined as before." in text


def test_phases_are_named(tmp_path: Path) -> None:
    paths = written(tmp_path, bench=BASELINE, swap=SWAP, again=AGAIN)
    text = run(*paths, "--what", "difference", "--from", "swap/s3").stdout
    assert "after step s3 of swap (swap PET 0:" in text
    assert "(again PET 0:" in text


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--at", "s9"], "--at: there is no step 's9'"),
        (["--from", "s9"], "--from: there is no step 's9'"),
        (["--from", "s3", "--at", "s1"], "--from s3 is over later than --at s1"),
        (["--format", "csv"], "choose it with --what and --by, or give --out DIR"),
        (["--force"], "--force goes with --out"),
        (["--json", "--format", "csv"], "choose one"),
        (["--what", "during"], "'during' is not one of"),
    ],
)
def test_bad_usage(bench: list[str], options: list[str], sentence: str) -> None:
    result = run(*bench, *options)
    assert result.exit_code == 2
    assert sentence in result.stderr
    assert not result.stdout


def test_a_baseline_that_cannot_be_read(tmp_path: Path) -> None:
    result = run(*written(tmp_path, bench="cablewalk: 1\nbaseline: [", swap=SWAP))
    assert result.exit_code == 2
    assert "bench.yaml:" in result.stderr and "Traceback" not in result.stderr


def test_a_replay_that_stops_says_so_in_every_table(tmp_path: Path) -> None:
    result = run(*written(tmp_path, bench=BASELINE, loud=LOUD), "--by", "both")
    assert result.exit_code == 1
    assert result.stdout.count("THE REPLAY STOPPED") == 6
    assert "where the replay stopped" in result.stdout
    late = run(*written(tmp_path, bench=BASELINE, loud=LOUD), "--at", "s3")
    assert late.exit_code == 2 and "is not known" in late.stderr


# -- files ----------------------------------------------------------------------------

NAMES = {
    f"{what}-{by}" for what in ("before", "after", "difference") for by in ("by-half", "end-to-end")
}


@pytest.mark.parametrize(
    ("form", "ending"), [("text", "txt"), ("csv", "csv"), ("markdown", "md"), ("json", "json")]
)
def test_files(bench: list[str], tmp_path: Path, form: str, ending: str) -> None:
    folder = tmp_path / "new" / "tables"
    result = run(*bench, "--by", "both", "--format", form, "--out", str(folder))
    assert result.exit_code == 0
    names = {path.name for path in folder.iterdir()}
    assert names == ({"tables.json"} if form == "json" else {f"{n}.{ending}" for n in NAMES})
    assert result.stdout.count("wrote ") == len(names)
    if form == "csv":
        raw = (folder / "after-by-half.csv").read_bytes()
        assert raw.endswith(b"\r\n") and b"\r\r\n" not in raw


def test_no_file_is_overwritten_unless_forced(bench: list[str], tmp_path: Path) -> None:
    folder = tmp_path / "tables"
    folder.mkdir()
    kept = folder / "difference-by-half.txt"
    kept.write_text("mine", encoding="utf-8")
    result = run(*bench, "--out", str(folder))
    assert result.exit_code == 2
    assert "exists already: nothing was written" in result.stderr
    assert [path.name for path in folder.iterdir()] == [kept.name]
    assert kept.read_text(encoding="utf-8") == "mine"
    assert run(*bench, "--out", str(folder), "--force").exit_code == 0
    assert kept.read_text(encoding="utf-8").startswith("DIFFERENCE: bench")


def test_a_folder_that_cannot_be_made(bench: list[str], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    result = run(*bench, "--out", str(tmp_path / "file" / "tables"))
    assert result.exit_code == 2
    assert "cannot be made" in result.stderr
