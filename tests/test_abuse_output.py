"""Output: nothing overwritten unasked or half-written; full disks, signals, closed pipes."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from abuse import (
    bench,
    died_of,
    environment,
    heed_interrupts,
    is_sentence,
    program,
    started,
    write,
)
from benchmarks.generate import documents as generated

WRITERS = {
    "tables": ["--format", "csv", "--out", "OUT"],
    "draw": ["--what", "before", "--out", "OUT"],
}
"""Command to the options that make it write files into a folder."""
BROKEN = {"full": errno.ENOSPC, "read-only": errno.EROFS, "denied": errno.EACCES}

HALF_WRITTEN = """
import io, os, pathlib, signal
def half(self, *arguments, **rest):
    file = real(self, *arguments, **rest)
    mode = arguments[0] if arguments else rest.get('mode', 'r')
    if set(mode) & set('wxa'):
        file.write(b'half' if 'b' in mode else 'half')
        file.flush()
        {then}
    return file
real, pathlib.Path.open = pathlib.Path.open, half
"""
"""Lets whatever opens a file for writing get some bytes into it, and then something happen."""


def arguments(command: str, folder: Path) -> list[str]:
    paths = write(folder, *bench())
    return [command, *paths, *(w.replace("OUT", str(folder / "out")) for w in WRITERS[command])]


def debris(folder: Path) -> list[str]:
    """Return the files that should not be there."""
    return [
        str(path)
        for path in folder.rglob("*")
        if path.name.startswith(".") or path.suffix in (".part", ".tmp")
    ]


# -- overwriting ------------------------------------------------------------------------------


@pytest.mark.parametrize("command", WRITERS)
def test_nothing_is_overwritten_without_force(command: str, tmp_path: Path) -> None:
    given = arguments(command, tmp_path)
    assert program(*given).returncode in (0, 1)
    made = sorted((tmp_path / "out").iterdir())
    assert made
    for file in made:
        file.write_text("mine", encoding="utf-8")
    done = program(*given)
    assert done.returncode == 2
    assert is_sentence(done.stderr)
    assert "--force" in done.stderr
    assert [file.read_text(encoding="utf-8") for file in made] == ["mine"] * len(made)
    assert program(*given, "--force").returncode in (0, 1)
    assert "mine" not in [file.read_text(encoding="utf-8") for file in made]
    assert not debris(tmp_path)


def test_sarif_is_not_written_over_anything_unasked(tmp_path: Path) -> None:
    paths = write(tmp_path, *bench())
    before = [Path(path).read_bytes() for path in paths]
    for path in paths:
        done = program("check", *paths, "--sarif", path)
        assert [Path(p).read_bytes() for p in paths] == before
        assert done.returncode == 2
        assert is_sentence(done.stderr)
    file = tmp_path / "made.sarif"
    assert program("check", *paths, "--sarif", file).returncode in (0, 1)
    file.write_text("mine", encoding="utf-8")
    assert program("check", *paths, "--sarif", file).returncode == 2
    assert file.read_text(encoding="utf-8") == "mine"
    assert program("check", *paths, "--sarif", file, "--force").returncode in (0, 1)
    assert file.read_text(encoding="utf-8") != "mine"


# -- a disk that refuses ------------------------------------------------------------------------


@pytest.mark.parametrize("broken", BROKEN)
@pytest.mark.parametrize("command", WRITERS)
def test_a_disk_that_refuses_gives_a_sentence(command: str, broken: str, tmp_path: Path) -> None:
    given = arguments(command, tmp_path)
    refuse = f"raise OSError({BROKEN[broken]}, os.strerror({BROKEN[broken]}), str(self))"
    process = started(HALF_WRITTEN.format(then=refuse), *given)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 2, said
    assert is_sentence(said)
    assert os.strerror(BROKEN[broken]).lower() in said.lower()
    assert not debris(tmp_path)
    assert not list((tmp_path / "out").glob("*"))


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("command", ["outages", "replay", "check", "tables", "schema"])
def test_a_full_disk_behind_standard_output_gives_a_sentence(command: str, tmp_path: Path) -> None:
    given = [command, *write(tmp_path, *bench())] if command != "schema" else [command, "baseline"]
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = program(*given, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2, done.stderr
    assert is_sentence(done.stderr)
    assert "no space left" in done.stderr.lower()


@pytest.mark.parametrize("command", WRITERS)
@pytest.mark.parametrize("out", ["/dev/null/x", "/proc/nowhere/x", "FILE"])
def test_a_folder_that_cannot_be_gives_a_sentence(command: str, out: str, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    given = arguments(command, tmp_path)
    given[given.index("--out") + 1] = out.replace("FILE", str(tmp_path / "file"))
    done = program(*given)
    assert done.returncode == 2
    assert is_sentence(done.stderr)
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"


# -- killed and interrupted -----------------------------------------------------------------------


@pytest.mark.parametrize("command", WRITERS)
def test_killed_while_it_writes_it_leaves_no_half_file(command: str, tmp_path: Path) -> None:
    given = arguments(command, tmp_path)
    assert program(*given).returncode in (0, 1)
    files = sorted((tmp_path / "out").iterdir())
    before = [file.read_bytes() for file in files]
    kill = HALF_WRITTEN.format(then="os.kill(os.getpid(), signal.SIGKILL)")
    process = started(kill, *given, "--force")
    process.communicate(timeout=60)
    assert died_of(process.returncode) == "SIGKILL"
    assert [file.read_bytes() for file in files] == before


@pytest.mark.parametrize("command", WRITERS)
def test_interrupted_while_it_writes_it_leaves_no_debris(command: str, tmp_path: Path) -> None:
    given = arguments(command, tmp_path)
    interrupt = HALF_WRITTEN.format(then="os.kill(os.getpid(), signal.SIGINT)")
    process = started(interrupt, *given)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert "Traceback" not in said
    assert not debris(tmp_path)
    assert not list((tmp_path / "out").glob("*"))


@pytest.mark.parametrize("after_s", [0.0, 0.05, 0.15, 0.3, 0.6, 1.0])
def test_interrupted_at_any_moment_it_exits_130(after_s: float, tmp_path: Path) -> None:
    # So large that the command is still at work at the last of these moments.
    texts = [_text(data) for data in generated(4000)]
    paths = write(tmp_path, *texts)
    process = started("", "tables", *paths, "--out", str(tmp_path / "out"))
    time.sleep(after_s)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert "Traceback" not in said
    assert not debris(tmp_path)


IN_A_CLASS = """
import os, signal
class Name:
    def __set_name__(self, owner, name):
        os.kill(os.getpid(), signal.SIGINT)
found = cablewalk.cli.LazyGroup.get_command
def get_command(self, ctx, name):
    class Made:
        field = Name()
    return found(self, ctx, name)
cablewalk.cli.LazyGroup.get_command = get_command
"""
"""Python makes a RuntimeError of an interrupt that comes while a class gets its names."""


def test_interrupted_as_a_class_is_made_it_exits_130(tmp_path: Path) -> None:
    process = started(IN_A_CLASS, "outages", *write(tmp_path, *bench()))
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert said == ""


IN_A_FINALIZER = """
import os, signal
class Gone:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
found = cablewalk.cli.LazyGroup.get_command
def get_command(self, ctx, name):
    Gone()
    return found(self, ctx, name)
cablewalk.cli.LazyGroup.get_command = get_command
"""
"""Python ignores what is raised in a finalizer: the interrupt must come again."""


def test_interrupted_in_a_finalizer_it_exits_130_before_its_work_is_done(tmp_path: Path) -> None:
    paths = write(tmp_path, *(_text(data) for data in generated(1200)))
    process = started(IN_A_FINALIZER, "tables", *paths, "--out", str(tmp_path / "out"))
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert "Traceback" not in said
    assert not list((tmp_path / "out").glob("*")), "it was stopped at once"


IMPORTED = """
import os, runpy, signal, sys
class Finder:
    def find_spec(self, name, path=None, target=None):
        if name == "click":
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Finder())
signal.signal(signal.SIGINT, signal.default_int_handler)
runpy.run_module("cablewalk", run_name="__main__")
"""


def test_interrupted_while_it_is_imported_it_says_nothing() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", IMPORTED],
        env=environment(),
        encoding="utf-8",
        stderr=subprocess.PIPE,
        preexec_fn=heed_interrupts,
    )
    _, said = process.communicate(timeout=60)
    assert died_of(process.returncode) == "SIGINT"
    assert said == ""


def _text(data: object) -> object:
    if isinstance(data, dict):
        return {key: _text(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_text(value) for value in data]
    return None if data is None else str(data)


# -- a reader that goes ---------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["outages", "replay", "tables", "--help", "schema"])
def test_a_closed_pipe_is_quiet(command: str, tmp_path: Path) -> None:
    paths = write(tmp_path, *(_text(data) for data in generated(200)))
    given = {"--help": ["--help"], "schema": ["schema", "baseline"]}.get(command, [command, *paths])
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "cablewalk", *given],
            env=environment(),
            stdout=writer,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    finally:
        os.close(writer)
    assert done.stderr == ""
    assert done.returncode == (1 if command == "--help" else 141)  # the help is click's


def test_a_reader_that_takes_one_line_hears_no_complaint(tmp_path: Path) -> None:
    paths = write(tmp_path, *(_text(data) for data in generated(200)))
    words = " ".join([sys.executable, "-m", "cablewalk", "replay", *paths])
    done = subprocess.run(
        ["/bin/sh", "-c", f"{words} | head -n 1"],
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == 1


# -- what the system refuses before a file is opened ----------------------------------------------


@pytest.mark.parametrize(
    "command",
    [["book", "--out", "N.html"], ["timeline", "--out", "N.svg"], ["draw", "--out", "N"],
     ["tables", "--out", "N"], ["asrun", "open", "N"]],
    ids=lambda command: " ".join(command),
)  # fmt: skip
def test_a_name_too_long_gives_a_sentence(command: list[str], tmp_path: Path) -> None:
    name = str(tmp_path / ("a" * 300))
    given = [word.replace("N", name) for word in command]
    done = program(*given, *write(tmp_path, *bench()))
    assert done.returncode == 2
    assert is_sentence(done.stderr)
    assert "too long" in done.stderr


def test_an_output_that_is_closed_or_full_is_no_traceback(tmp_path: Path) -> None:
    paths = [str(path) for path in write(tmp_path, *bench())]
    for words, where, code in (
        (["check", *paths], ">&-", (0, 1)),
        (["--help"], ">/dev/full", (2,)),
        (["--version"], ">/dev/full", (2,)),
        (["check", "nope", "x"], "2>/dev/full", (2,)),
    ):
        line = f'"$@" {where}'
        done = subprocess.run(
            ["sh", "-c", line, "sh", sys.executable, "-m", "cablewalk", *words],
            env=environment(), capture_output=True, text=True, check=False, timeout=60,
        )  # fmt: skip
        assert done.returncode in code, (words, done.stderr)
        assert "Traceback" not in done.stderr


def test_a_terminated_command_cleans_up(tmp_path: Path) -> None:
    given = arguments("draw", tmp_path)
    process = started(HALF_WRITTEN.format(then="os.kill(os.getpid(), signal.SIGTERM)"), *given)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 143, said
    assert "Traceback" not in said
    assert not debris(tmp_path)


def test_a_name_with_escapes_is_told_harmlessly(tmp_path: Path) -> None:
    folder = tmp_path / "d\x1b[31m"
    done = program("tables", "--out", folder, *write(tmp_path, *bench()))
    assert done.returncode in (0, 1)
    assert "\x1b" not in done.stdout and "\\x1b[31m" in done.stdout


def test_an_interrupt_that_a_validator_swallows_ends_the_command(tmp_path: Path) -> None:
    """Pydantic takes what comes up in our functions for a fault of the document."""
    patch = """
import os, signal
import pydantic
real = pydantic.BaseModel.model_validate.__func__
def swallowing(cls, *given, **rest):
    try:
        os.kill(os.getpid(), signal.SIGINT)
        return real(cls, *given, **rest)
    except KeyboardInterrupt:
        return real(cls, {"cablewalk": "1"})
pydantic.BaseModel.model_validate = classmethod(swallowing)
"""
    process = started(patch, "check", *write(tmp_path, *bench()))
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert "bad-value" not in said and "missing" not in said
