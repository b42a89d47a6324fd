"""Loading: a model, or every fault in plain words with its line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cablewalk.files.describe import describe
from cablewalk.files.load import load_baseline, load_procedure, parse_procedure
from cablewalk.files.place import digest
from cablewalk.findings import Address, Finding, Severity

GOOD = "cablewalk: 1\nbaseline: B\nplaces: {P: {}}\n"


def test_a_good_file_is_a_model_with_its_source(tmp_path: Path) -> None:
    path = tmp_path / "b.yaml"
    path.write_text(GOOD, encoding="utf-8")
    loaded = load_baseline(path)
    assert loaded.findings == ()
    assert loaded.model is not None
    assert loaded.model.baseline == "B"
    assert loaded.source.name == str(path)
    assert loaded.source.sha256 == digest(path.read_bytes())
    assert loaded.source.line(("places", "P")) == 3


@pytest.mark.parametrize(
    ("name", "words"), [("none.yaml", "no such file"), ("", "is a directory"), ("a\0b", "null")]
)
def test_what_cannot_be_read_is_a_finding(tmp_path: Path, name: str, words: str) -> None:
    loaded = load_procedure(f"{tmp_path}/{name}", 2)
    (finding,) = loaded.findings
    assert loaded.model is None
    assert finding.rule == "unreadable"
    assert words in finding.found
    assert finding.address == Address(2)
    line = describe(finding, [loaded.source, loaded.source, loaded.source])
    assert line.isprintable()
    assert ": error: unreadable: the file cannot be read" in line


def test_a_file_without_rights_is_a_finding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, mode: str) -> None:
        raise PermissionError(13, os.strerror(13))

    monkeypatch.setattr(Path, "open", refuse)
    (finding,) = load_baseline(tmp_path / "b.yaml").findings
    assert finding.found == "the file cannot be read: permission denied"


def test_the_wrong_kind_of_document_is_told(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_text("cablewalk: 1\nprocedure: P1\nstepz: []\n", encoding="utf-8")
    loaded = load_baseline(path)
    (finding,) = loaded.findings
    assert finding.rule == "wrong-document"
    assert "is a procedure" in finding.found
    assert "baseline" in finding.expected
    assert loaded.source.line(finding.address.path) == 2
    path.write_text(GOOD, encoding="utf-8")
    (finding,) = load_procedure(path, 1).findings
    assert finding.rule == "wrong-document"
    assert "is a baseline" in finding.found


def test_faults_in_steps_name_the_step() -> None:
    loaded = parse_procedure(
        b"cablewalk: 1\nprocedure: P\nsteps:\n- id: s1\n- id: s2\n  do:\n  - matte: {A: B}\n",
        "p.yaml",
        0,
    )
    (unknown,) = (f for f in loaded.findings if f.rule == "unknown-key")
    assert unknown.step == "s2"
    assert describe(unknown, [loaded.source]).startswith(
        "p.yaml:7: error: unknown-key: step s2: the key 'matte' in steps/#2/do/#1 is not known; "
    )
    assert unknown.way_out == "did you mean 'mate'?"


def test_more_than_200_findings_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "b.yaml"
    path.write_text(GOOD + "".join(f"x{n}: 1\n" for n in range(1300)), encoding="utf-8")
    loaded = load_baseline(path)
    assert len(loaded.findings) == 201
    assert {f.rule for f in loaded.findings[:200]} == {"unknown-key"}
    assert loaded.findings[-1].found == "and 1,100 more findings in this file"


def test_describe_makes_everything_inert() -> None:
    loaded = parse_procedure(b"a: 1", "e\x1b[31m.yaml", 0)
    finding = Finding("r\n", Severity.WARNING, Address(0), "a\x07\u202eb", step="s\x9b1")
    assert describe(finding, [loaded.source]) == (
        r"e\x1b[31m.yaml:1: warning: r\n: step s\x9b1: a\x07\u202eb"
    )
    assert describe(Finding("r", Severity.NOTE, Address(4), "x"), []) == "document 4: note: r: x"
