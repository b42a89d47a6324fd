"""The live view on a real terminal: a pseudo-terminal of a given size, and a process in it.

What the terminal shows is worked out by a small screen of our own, which knows the sequences of
ECMA-48 and xterm that the view may use, and fails at any other.
"""

from __future__ import annotations

import os
import re
import select
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from abuse import heed_interrupts
from asrun_bench import BASELINE, PROCEDURE

from cablewalk.cli.asrun_wall import NARROWEST, wall_rows
from cablewalk.cli.asrun_watch import View
from cablewalk.cli.asrun_web import html_of
from cablewalk.sheets.cell import width

fcntl = pytest.importorskip("fcntl")
termios = pytest.importorskip("termios")
pty = pytest.importorskip("pty")

SEQUENCE = re.compile(r"\x1b\[(\??)([0-9;]*)([A-Za-z])")
WAIT_S = 60.0


class Screen:
    """What a terminal shows: the screen in use, the cursor, and whether it is to be seen."""

    def __init__(self, columns: int, lines: int) -> None:
        self.columns, self.lines = columns, lines
        self.other = False
        self.cursor = True
        self.cells: dict[bool, dict[tuple[int, int], str]] = {False: {}, True: {}}
        self.at = (0, 0)
        self.scrolled = 0

    def feed(self, text: str) -> None:
        """Take what a program writes."""
        n = 0
        while n < len(text):
            if text[n] == "\x1b":
                found = SEQUENCE.match(text, n)
                assert found, f"an unknown sequence: {text[n : n + 12]!r}"
                self._do(*found.groups())
                n = found.end()
                continue
            self._put(text[n])
            n += 1

    def _put(self, character: str) -> None:
        row, column = self.at
        if character == "\r":
            self.at = (row, 0)
        elif character == "\n":
            self.at = (row + 1, column)
            if row + 1 >= self.lines:
                self.scrolled += 1
                self.at = (self.lines - 1, column)
        else:
            assert character.isprintable(), f"a control character: {character!r}"
            assert column < self.columns, f"wider than the terminal: {self.line(row)!r}"
            self.cells[self.other][self.at] = character
            self.at = (row, column + width(character))

    def _do(self, private: str, numbers: str, letter: str) -> None:
        here = self.cells[self.other]
        match private + numbers + letter:
            case "?1049h" | "?1049l":
                self.other = letter == "h"
                self.cells[True] = {}
            case "?25h" | "?25l":
                self.cursor = letter == "h"
            case "H":
                self.at = (0, 0)
            case "2J":
                here.clear()
            case "J":
                for spot in [spot for spot in here if spot >= self.at]:
                    del here[spot]
            case _:
                assert letter == "m", f"an unknown sequence: {numbers}{letter}"

    def line(self, row: int) -> str:
        """Return a line of the screen in use."""
        cells = self.cells[self.other]
        return "".join(cells.get((row, n), " ") for n in range(self.columns)).rstrip()

    @property
    def text(self) -> str:
        """The screen in use."""
        return "\n".join(self.line(n) for n in range(self.lines))


def _own_terminal() -> None:
    """Give a child its terminal, and let it be interrupted also where the tests are not."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    heed_interrupts()


class Watching:
    """A live view in a terminal of its own."""

    def __init__(self, log: Path, columns: int, lines: int, term: str = "xterm") -> None:
        self.master, slave = pty.openpty()
        self._sized(slave, columns, lines)
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        self.screen = Screen(columns, lines)
        self.raw = ""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "cablewalk", "asrun", "watch", str(log), "--every", "0.5"],
            stdin=slave, stdout=slave, stderr=slave, start_new_session=True,
            env={**os.environ, "TERM": term, "PYTHONIOENCODING": "utf-8"},
            preexec_fn=_own_terminal,
        )  # fmt: skip

    def _sized(self, slave: int, columns: int, lines: int) -> None:
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))

    def resize(self, columns: int, lines: int) -> None:
        """Resize the window; what stood there is cut, as a terminal does."""
        self._sized(self.slave, columns, lines)
        self.screen = Screen(columns, lines)
        self.screen.other, self.screen.cursor = True, False

    def until(self, so: Callable[[Screen], bool]) -> str:
        """Read until the screen is so, and whole; return its text."""
        end = time.monotonic() + WAIT_S
        while time.monotonic() < end:
            self._read(0.1)
            if self.raw.endswith("\x1b[J") and so(self.screen):
                return self.screen.text
        raise AssertionError(f"not so after {WAIT_S} s:\n{self.screen.text}")

    def _read(self, seconds: float) -> None:
        while select.select([self.master], [], [], seconds)[0]:
            try:
                piece = os.read(self.master, 65536).decode()
            except OSError:
                return
            if not piece:
                return
            self.raw += piece
            self.screen.feed(piece)
            seconds = 0

    def end(self) -> int:
        """Wait for the process, and read what it wrote last."""
        code = self.process.wait(WAIT_S)
        self._read(0.2)
        return code

    def close(self) -> None:
        """End it if it still runs."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.slave)
        os.close(self.master)


def asrun(*arguments: object) -> None:
    """Run a command in a process of its own."""
    command = [sys.executable, "-m", "cablewalk", "asrun", *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture
def log(tmp_path: Path) -> Path:
    (tmp_path / "bench.yaml").write_text(BASELINE, encoding="utf-8")
    (tmp_path / "swap.yaml").write_text(PROCEDURE, encoding="utf-8")
    path = tmp_path / "a.log"
    asrun("open", path, tmp_path / "bench.yaml", tmp_path / "swap.yaml")
    return path


@pytest.fixture
def watching(log: Path) -> Iterator[Watching]:
    found = Watching(log, 100, 30)
    yield found
    found.close()


def test_it_follows_the_log_and_the_window_and_leaves_no_trace(
    watching: Watching, log: Path
) -> None:
    first = watching.until(lambda screen: "WHO, AND WHAT COMES NEXT" in screen.text)
    assert watching.screen.other and not watching.screen.cursor
    assert "EVERY SERVICE IS UP" in first and "0 of 8 planned actions over" in first
    assert "next s2/1 demate P1 (planned 0:02) - waits for s1" in first

    asrun("do", log, "s1", "--by", "another")
    second = watching.until(lambda screen: "DOWN NOW: 1" in screen.text)
    assert "1 of 8 planned actions over" in second and "EVERY SERVICE IS UP" not in second
    # Recorded a moment after PET 0:00; its clock allows an hour.
    by = r"reconnect no later than PET 1:0\d \(\d\d:\d\dZ\)"
    clock = rf"DOWN light +left (0:59|1:00) +{by} +dark 0:0\d of"
    assert re.search(clock, second), second
    assert "gus (gnd)" in second and "next s3/1 switch on SW1" in second
    assert "waits for s1" not in second

    watching.resize(34, 8)
    small = watching.until(lambda screen: "more lines" in screen.text)
    assert "DOWN light" in small and re.search("left (0:59|1:00)", small), (
        "what is urgent stands first"
    )
    assert max(map(len, small.splitlines())) <= 33
    assert not watching.screen.scrolled

    os.write(watching.master, b"\x03")
    assert watching.end() == 130
    screen = watching.screen
    assert screen.cursor and not screen.other, "the cursor is shown, on the shell's own screen"
    assert screen.text.strip() in ("", "^C"), "nothing is left there"
    assert termios.tcgetattr(watching.slave) == watching.before
    assert "Traceback" not in watching.raw


def test_a_signal_to_end_leaves_the_terminal_as_it_was(watching: Watching) -> None:
    watching.until(lambda screen: "WHO, AND WHAT COMES NEXT" in screen.text)
    watching.process.send_signal(signal.SIGTERM)
    assert watching.end() == 128 + signal.SIGTERM
    assert watching.screen.cursor and not watching.screen.other
    assert not watching.screen.text.strip()


def test_a_log_that_goes_away_is_told_and_what_was_known_stays(
    watching: Watching, log: Path
) -> None:
    watching.until(lambda screen: "WHO, AND WHAT COMES NEXT" in screen.text)
    aside = log.with_name("aside")
    log.rename(aside)
    # Taken away in the middle of a look, it may first be told in other words.
    gone = watching.until(
        lambda screen: "!! OLD:" in screen.text and "is not there" in " ".join(screen.text.split())
    )
    assert "WHO, AND WHAT COMES NEXT" in gone
    aside.rename(log)
    watching.until(lambda screen: "!! OLD:" not in screen.text)


def test_what_cannot_be_read_from_the_start_is_a_sentence(tmp_path: Path) -> None:
    found = Watching(tmp_path / "none.log", 1000, 24)
    try:
        assert found.end() == 2
        assert "\x1b" not in found.raw and "is not there" in found.raw
    finally:
        found.close()


def test_in_a_pipe_and_on_a_dumb_terminal_it_prints_once_and_plainly(log: Path) -> None:
    command = [sys.executable, "-m", "cablewalk", "asrun", "watch", str(log)]
    piped = subprocess.run(command, capture_output=True, text=True, timeout=WAIT_S, check=False)
    assert piped.returncode == 0
    dumb = Watching(log, 100, 30, term="dumb")
    try:
        assert dumb.end() == 0
    finally:
        dumb.close()
    for text in (piped.stdout, re.sub(r"\x1b\[[0-9;]*m", "", dumb.raw)):
        assert "\x1b" not in text and "WHO, AND WHAT COMES NEXT" in text


@pytest.mark.parametrize("columns", [1, NARROWEST, 40, 80, 100, 240])
def test_no_line_is_wider_than_the_window(log: Path, columns: int) -> None:
    asrun("do", log, "s1", "--by", "x")
    asrun("note", log, "--open", "\x1b[2J\x07 <b> \u202e 電纜電纜電纜電纜" + "wide" * 60)
    report = View(log).report()
    for lines in (2, 10, 1000):
        rows = wall_rows(report, columns, lines, trouble="it " + "cannot " * 30 + "be read")
        assert len(rows) <= max(2, lines - 1)
        widest = max(width(row.text) for row in rows)
        assert widest < max(columns, NARROWEST)
        assert all(row.text.isprintable() for row in rows)
    whole = [row.text for row in wall_rows(report, columns, 1000)]
    assert any("light" in line for line in whole) and any("bob" in line for line in whole)


def test_what_was_skipped_is_told_in_every_view(log: Path) -> None:
    asrun("do", log, "s1", "skipped", "-m", "no time", "--by", "x")
    report = View(log).report()
    wall = "\n".join(row.text for row in wall_rows(report, 100, 1000))
    assert "\nSKIPPED\n" in wall and "no time" in wall.split("\nSKIPPED\n")[1]
    page = html_of(report, 5)
    assert "<h2>Skipped</h2>" in page and "no time" in page.split("<h2>Skipped</h2>")[1]
