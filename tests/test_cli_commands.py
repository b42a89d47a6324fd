"""The command line: exit codes, streams, help, and a console that is gone or knows little."""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from test_reports_bench import AGAIN, BASELINE, LOUD, SWAP, written

from cablewalk import __version__
from cablewalk.cli import COMMANDS, INTERRUPTED, commands, main
from cablewalk.cli.console import BROKEN_PIPE
from cablewalk.cli.schema import REPORTS as SCHEMA_REPORTS
from cablewalk.machines.tables import TABLES
from cablewalk.reports.catalogue import REPORTS

ROOT = Path(__file__).resolve().parents[1]
HERE = {name for name, (module, _) in COMMANDS.items() if importlib.util.find_spec(module)}


def run(*arguments: str) -> Result:
    """Run a command in this process; an exception that is no exit fails the test."""
    result = CliRunner().invoke(commands, arguments, prog_name="cablewalk")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def process(*arguments: str, encoding: str = "utf-8") -> subprocess.CompletedProcess[bytes]:
    """Run the program in a process of its own, its console in some encoding."""
    return subprocess.run(
        [sys.executable, "-m", "cablewalk", *arguments],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        check=False,
    )


# --- help ------------------------------------------------------------------------------------


def test_help_lists_every_command() -> None:
    text = run("--help").stdout
    assert text.startswith("Usage: cablewalk")
    assert all(f"\n  {name} " in text for name in COMMANDS)


@pytest.mark.parametrize("name", sorted(HERE))
def test_help_shows_an_example(name: str) -> None:
    text = run(name, "--help").stdout
    lines = [line.split() for line in text.splitlines() if line.startswith("    cablewalk ")]
    assert lines, text
    for words in lines:
        assert words[1] == name
        assert all((ROOT / word).is_file() for word in words if word.startswith("configs/"))


@pytest.mark.parametrize("name", ["replay", "outages"])
def test_the_example_in_the_help_runs(name: str) -> None:
    text = run(name, "--help").stdout
    example = next(line.split() for line in text.splitlines() if line.startswith("    cablewalk "))
    done = process(*example[1:])
    assert done.returncode in (0, 1)
    assert done.stdout
    assert not done.stderr


def test_version() -> None:
    assert run("--version").stdout.split() == ["cablewalk,", "version", __version__]


def test_a_near_miss_is_named() -> None:
    result = run("outage")
    assert result.exit_code == 2
    assert "Did you mean 'outages'?" in result.stderr


# --- exit codes and streams ------------------------------------------------------------------

reports = pytest.mark.parametrize("name", ["replay", "outages"])


@reports
def test_clean_is_0(tmp_path: Path, name: str) -> None:
    result = run(name, *written(tmp_path, bench=BASELINE, swap=SWAP))
    assert (result.exit_code, result.stderr) == (0, "")


@reports
@pytest.mark.parametrize("as_json", [[], ["--json"]])
@pytest.mark.parametrize("going", [[], ["--keep-going"]])
def test_an_error_is_1(tmp_path: Path, name: str, as_json: list[str], going: list[str]) -> None:
    result = run(name, *as_json, *going, *written(tmp_path, bench=BASELINE, loud=LOUD))
    assert (result.exit_code, result.stderr) == (1, "")
    assert "unplanned-loss" in result.stdout


@reports
@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_documents_of_no_use_are_2(tmp_path: Path, name: str, as_json: list[str]) -> None:
    bench, broken = written(tmp_path, bench=BASELINE, broken="cablewalk: 1\nprocedure: [")
    result = run(name, *as_json, str(tmp_path / "none.yaml"), broken)
    assert (result.exit_code, result.stdout) == (2, "")
    first, *rest = result.stderr.splitlines()
    assert first.startswith(f"{tmp_path / 'none.yaml'}: error: unreadable: ")
    assert rest[0].startswith(f"{broken}:2: error: ")
    assert run(name, bench).exit_code == 2


@reports
def test_a_procedure_that_cannot_be_replayed_is_2(tmp_path: Path, name: str) -> None:
    """Nothing says how long after the first phase the second begins."""
    late = AGAIN.replace("gap_min: 60\n", "")
    result = run(name, *written(tmp_path, bench=BASELINE, swap=SWAP, late=late))
    assert (result.exit_code, result.stdout) == (2, "")
    assert "late.yaml:2: error: no-gap: " in result.stderr


def test_get_aheads_are_counted() -> None:
    files = [str(ROOT / "configs" / name) for name in ("outpost.yaml", "outing-1.yaml")]
    data = json.loads(run("outages", "--json", "--get-aheads", "1", *files).stdout)
    assert [a["entered"] for a in data["get_aheads"]] == [True, False]
    assert run("outages", "--get-aheads", "-1", *files).exit_code == 2


@reports
def test_two_runs_print_the_same_bytes(tmp_path: Path, name: str) -> None:
    files = written(tmp_path, bench=BASELINE, loud=LOUD)
    for options in ([], ["--json"]):
        first, second = (process(name, "--keep-going", *options, *files) for _ in range(2))
        assert first.stdout
        assert first.stdout == second.stdout


# --- the console -----------------------------------------------------------------------------


def test_a_console_of_ascii_is_served(tmp_path: Path) -> None:
    done = process("outages", *written(tmp_path, bench=BASELINE, swap=SWAP), encoding="ascii")
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"s1 -> switch off K1 (MAIN) -> feed SRC" in done.stdout


@pytest.mark.skipif(os.name == "nt", reason="Windows has no broken pipe of this kind")
def test_a_reader_that_is_gone_is_no_trouble(tmp_path: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "cablewalk", "outages", *written(tmp_path, b=BASELINE, s=SWAP)],
        stdout=write,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (BROKEN_PIPE, b"")


def test_an_interrupt_is_quiet(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("cablewalk.files.schema.schemas", interrupted)
    with pytest.raises(SystemExit) as stop:
        main(["schema", "baseline"])
    assert stop.value.code == INTERRUPTED
    printed = capsys.readouterr()
    assert printed.out + printed.err.strip() == ""


def test_a_fault_of_the_program_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("cablewalk.files.schema.schemas", faulty)
    with pytest.raises(ZeroDivisionError):
        main(["schema", "baseline"])


@pytest.mark.parametrize(
    ("arguments", "code"),
    [(["--version"], 0), (["schema", "baseline"], 0), (["schema"], 2), (["nothing"], 2)],
)
def test_main_exits_with_the_code(arguments: list[str], code: int) -> None:
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert (stop.value.code or 0) == code


def test_what_a_user_wrote_cannot_act_on_the_terminal(tmp_path: Path) -> None:
    nasty = SWAP.replace("say: MAIN off.", 'say: "off \\e[2J \\u202e \\x9b1m"')
    result = run("replay", *written(tmp_path, bench=BASELINE, swap=nasty))
    assert result.exit_code == 0
    assert all(c.isprintable() or c == "\n" for c in result.stdout)
    assert "\\x1b[2J" in result.stdout


# --- schema and machines ---------------------------------------------------------------------


@pytest.mark.parametrize("document", ["baseline", "procedure"])
def test_schema_of_a_document(document: str) -> None:
    data = json.loads(run("schema", document).stdout)
    assert data["$id"] == f"urn:cablewalk:schema:{document}:1"


@pytest.mark.parametrize("report", REPORTS)
def test_schema_of_a_report(report: str) -> None:
    data = json.loads(run("schema", "--report", report).stdout)
    assert data["$id"] == f"urn:cablewalk:schema:report:{report}:1"


def test_schema_knows_every_report() -> None:
    assert set(SCHEMA_REPORTS) == set(REPORTS)


@pytest.mark.parametrize("arguments", [[], ["baseline", "--report", "replay"], ["cable"]])
def test_schema_of_one_thing_at_a_time(arguments: list[str]) -> None:
    assert run("schema", *arguments).exit_code == 2


def test_machines_of_all_kinds() -> None:
    text = run("machines").stdout
    assert all(f"{kind}: starts " in text for kind in TABLES)


def test_machine_of_one_kind() -> None:
    assert run("machines", "half").stdout.startswith("half: starts ")
    assert "cap: starts" not in run("machines", "half").stdout
    assert run("machines", "half", "--dot").stdout.startswith("digraph machine_half")
    assert run("machines", "dog").exit_code == 2


@pytest.mark.parametrize(("ending", "magic"), [("svg", b"<?xml"), ("png", b"\x89PNG")])
def test_machine_is_drawn(tmp_path: Path, ending: str, magic: bytes) -> None:
    pytest.importorskip("pygraphviz")
    file = tmp_path / f"half.{ending}"
    result = run("machines", "half", "--draw", str(file))
    assert (result.exit_code, result.output) == (0, "")
    assert file.read_bytes().startswith(magic)


@pytest.mark.parametrize(
    "arguments",
    [
        ["--draw", "half.svg"],
        ["half", "--dot", "--draw", "half.svg"],
        ["half", "--draw", "half.gif"],
        ["half", "--draw", "no/such/folder/half.svg"],
    ],
)
def test_a_drawing_that_cannot_be(tmp_path: Path, arguments: list[str]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path)
        result = run("machines", *arguments)
    assert result.exit_code == 2
    assert "Error: " in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_without_graphviz_it_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def absent() -> None:
        return None

    absent_library: Callable[[], None] = absent
    monkeypatch.setattr("cablewalk.drawings.engine._pygraphviz", absent_library)
    monkeypatch.setenv("PATH", "")
    result = run("machines", "half", "--draw", str(tmp_path / "half.svg"))
    assert result.exit_code == 2
    assert "Graphviz is not here" in result.stderr


def test_commands_are_what_the_table_names() -> None:
    context = click.Context(commands)
    assert {"replay", "outages", "machines", "schema"} <= HERE
    for name in HERE:
        found = commands.get_command(context, name)
        assert found is not None
        assert found.name == name
