"""Hostile text wherever text may stand: inert in a terminal, whole in JSON, harmless elsewhere."""

from __future__ import annotations

import csv
import io
import json
import string
import sys
import unicodedata
import xml.etree.ElementTree as ElementTree
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from abuse import bench, commands, write
from click.testing import CliRunner

from cablewalk.cli import commands as cablewalk

HOSTILE = {
    "escapes": "\x1b[2J\x1b]0;owned\x07\x1b[31mred\x9b1m\x08\x08\x7f\x0e",
    "bidi": "\u202egnp.exe\u2066\u2069\u200f\u061c",
    "invisible": "a\u200b\u200d\ufeff\u00ad\u2060b\u2028c\u2029d",
    "markup": "<script>alert(1)</script><b onload=x>&amp;&#27;</b>-->]]><!--",
    "markdown": "| a | b |\n|---|\n[x](javascript:1) `c` ![i](u) # h <img src=x onerror=1>",
    "formula": "=cmd|' /C calc'!A0",
    "dot": 'x"]; evil [label=<<b>y</b>>]; "\\',
    "backslash": "ends in a backslash\\",
    "braces": "{{ x }} ${HOME} %s %n {0} $(id) `id`",
    "emoji": "\U0001f9d1\u200d\U0001f680 \U0001f1e6\U0001f1fa e\u0301\u0323",
    "lines": "first\r\nsecond\rthird\u0085fourth\x0bfifth\x0csixth",
}


@cache
def per_category() -> dict[str, str]:
    """Return a few characters of each Unicode category that a file can hold."""
    found: dict[str, list[str]] = {}
    for code in range(sys.maxunicode + 1):
        chars = found.setdefault(unicodedata.category(chr(code)), [])
        if len(chars) < 40:
            chars.append(chr(code))
    del found["Cs"]  # no file in UTF-8 holds a lone surrogate
    return {name: f"x{''.join(chars)}y" for name, chars in found.items()}


def run(arguments: list[str]) -> Any:
    """Run a command in this process; it must end by itself, with an exit code that is known."""
    done = CliRunner().invoke(cablewalk, arguments)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code in (0, 1), done.output
    return done


def texts() -> dict[str, str]:
    return {**HOSTILE, **{f"category {name}": text for name, text in per_category().items()}}


def test_there_is_text_of_every_category() -> None:
    assert len(per_category()) == 29


@pytest.mark.parametrize("name", texts())
def test_every_report_is_inert(name: str, tmp_path: Path) -> None:
    text = texts()[name]
    for arguments in commands(write(tmp_path, *bench(text))):
        if arguments[0] not in cablewalk.list_commands(None):  # type: ignore[arg-type]
            continue
        done = run(arguments)
        for line in done.stdout.splitlines():
            assert line.isprintable() or arguments[-2:] == ["--format", "csv"], (
                arguments[0],
                line,
            )
        if "--json" in arguments:
            json.loads(done.stdout)


def test_json_holds_the_text_whole(tmp_path: Path) -> None:
    for name in ("escapes", "bidi", "markup", "emoji", "formula"):
        paths = write(tmp_path, *bench(HOSTILE[name]))
        report = json.loads(run(["replay", "--json", *paths]).stdout)
        assert report["baseline"]["title"] == HOSTILE[name].strip()


@pytest.mark.parametrize("name", texts())
def test_csv_keeps_its_columns_and_no_cell_is_a_formula(name: str, tmp_path: Path) -> None:
    paths = write(tmp_path, *bench(texts()[name]))
    for what in ("before", "after", "difference"):
        out = run(["tables", *paths, "--what", what, "--format", "csv"]).stdout
        rows = list(csv.reader(io.StringIO(out, newline="")))
        assert len(rows) > 1
        assert len({len(row) for row in rows}) == 1
        for row in rows:
            for cell in row:
                assert not cell.startswith(("=", "+", "@", "\t", "\r"))
                assert "\x1b" not in cell


@pytest.mark.parametrize("name", texts())
def test_markdown_keeps_its_table_and_no_markup(name: str, tmp_path: Path) -> None:
    paths = write(tmp_path, *bench(texts()[name]))
    out = run(["tables", *paths, "--format", "markdown"]).stdout
    assert "<script" not in out and "<img" not in out and "<b " not in out
    width = 0
    for line in out.splitlines():
        if not line.startswith("|"):
            width = 0
            continue
        bars = line.replace("\\|", "").count("|")
        assert width in (0, bars), line
        width = bars


@pytest.mark.parametrize("name", texts())
def test_a_picture_is_well_formed_and_runs_nothing(name: str, tmp_path: Path) -> None:
    paths = write(tmp_path, *bench(texts()[name]))
    run(["draw", *paths, "--out", str(tmp_path / "out"), "--what", "before"])
    (file,) = (tmp_path / "out").glob("*.svg")
    root = ElementTree.fromstring(file.read_text(encoding="utf-8"))
    for node in root.iter():
        assert node.tag.rpartition("}")[2] not in ("script", "foreignObject", "iframe", "img")
        assert not [key for key in node.attrib if key.lower().startswith("on")]
        link = node.attrib.get("{http://www.w3.org/1999/xlink}href", "")
        assert not link.lower().startswith("javascript")


@pytest.mark.parametrize("name", texts())
def test_no_such_text_gets_into_an_id(name: str, tmp_path: Path) -> None:
    """An id is letters, digits, '_' and '-' of ASCII: all else is refused, and told inert."""
    allowed = {*string.ascii_letters, *string.digits, "_", "-"}
    odd = [char for char in dict.fromkeys(texts()[name]) if char not in allowed]
    if name in ("category Lu", "category Ll", "category Nd", "category Pc", "category Pd"):
        odd.append("\N{FULLWIDTH LATIN SMALL LETTER A}")
    assert odd
    for char in odd:
        baseline, procedure = bench()
        baseline["places"]["deck"]["switches"] = {f"SW{char}X": None, "SW": None}
        paths = write(tmp_path, baseline, procedure)
        done = CliRunner().invoke(cablewalk, ["outages", *paths])
        assert done.exit_code == 2, (char, done.output)
        assert done.stdout == ""
        assert all(map(str.isprintable, done.stderr.splitlines())), done.stderr


@pytest.mark.parametrize("name", ["escapes", "bidi", "invisible", "markup"])
@pytest.mark.parametrize(
    "given",
    [
        ["{}"],
        ["--{}"],
        ["outages", "{}", "{}"],
        ["outages", "BASELINE", "PHASE", "--get-aheads", "{}"],
        ["outages", "BASELINE", "PHASE", "{}"],
        ["outages", "BASELINE", "PHASE", "--{}"],
        ["trace", "BASELINE", "--of", "{}"],
        ["trace", "BASELINE", "PHASE", "--of", "P1", "--at", "{}"],
        ["tables", "BASELINE", "PHASE", "--format", "{}"],
        ["tables", "BASELINE", "PHASE", "--from", "{}"],
        ["check", "--explain", "{}"],
        ["check", "BASELINE", "--sarif", "/nowhere/{}"],
        ["draw", "BASELINE", "PHASE", "--out", "/dev/null/{}"],
        ["machines", "{}"],
        ["schema", "{}"],
    ],
    ids=lambda given: " ".join(given),
)
def test_what_is_given_on_the_command_line_is_inert(
    name: str, given: list[str], tmp_path: Path
) -> None:
    baseline, phase = write(tmp_path, *bench())
    text = HOSTILE[name].replace("/", "")
    files = {"BASELINE": baseline, "PHASE": phase}
    done = CliRunner().invoke(cablewalk, [files.get(word, word.format(text)) for word in given])
    assert isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code == 2, done.output
    assert done.stderr
    assert all(map(str.isprintable, done.stderr.splitlines())), done.stderr
