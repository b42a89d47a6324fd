"""SARIF against the published schema of SARIF 2.1.0 (OASIS): see ``tests/sarif/README.md``."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from cablewalk.cli import commands

ROOT = Path(__file__).resolve().parents[1]
CONFIGS = ROOT / "configs"
SCHEMA = json.loads((ROOT / "tests" / "sarif" / "sarif-2.1.0-rtm.5.json").read_text("utf-8"))
VALIDATOR = jsonschema.Draft4Validator(
    SCHEMA, format_checker=jsonschema.Draft4Validator.FORMAT_CHECKER
)


def _log(path: Path, *documents: str | Path) -> Any:
    names = [str(d) for d in documents]
    result = CliRunner().invoke(commands, ["check", *names, "--sarif", str(path)])
    assert result.exit_code in (0, 1, 2)
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("sarif") / "x.sarif"
    return _log(path, CONFIGS / "faulty" / "bench.yaml", CONFIGS / "faulty" / "swap.yaml")


def test_the_schema_is_the_published_one() -> None:
    assert SCHEMA["$schema"] == "http://json-schema.org/draft-04/schema#"
    assert "SARIF) Version 2.1.0" in SCHEMA["title"]
    jsonschema.Draft4Validator.check_schema(SCHEMA)


def test_findings_are_valid(faulty: Any) -> None:
    assert len(faulty["runs"][0]["results"]) > 10
    VALIDATOR.validate(faulty)


def test_waived_findings_are_valid(tmp_path: Path) -> None:
    names = ("outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml")
    log = _log(tmp_path / "x.sarif", *(CONFIGS / name for name in names))
    assert any("suppressions" in result for result in log["runs"][0]["results"])
    VALIDATOR.validate(log)


def test_documents_that_cannot_be_used_are_valid(tmp_path: Path) -> None:
    base = tmp_path / "bad name.yaml"
    base.write_text("cablewalk: 1\nbaseline: x\nplases: {}\n", encoding="utf-8")
    log = _log(tmp_path / "x.sarif", base)
    assert log["runs"][0]["results"]
    VALIDATOR.validate(log)


def test_nothing_found_is_valid(tmp_path: Path) -> None:
    base = tmp_path / "empty.yaml"
    base.write_text("cablewalk: 1\nbaseline: x\nplaces: {bench: {}}\n", encoding="utf-8")
    log = _log(tmp_path / "x.sarif", base)
    assert log["runs"][0]["results"] == []
    VALIDATOR.validate(log)


def _no_text(log: Any) -> None:
    del log["runs"][0]["results"][0]["message"]["text"]


def _line_zero(log: Any) -> None:
    place = log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]
    place["region"]["startLine"] = 0


def _no_name(log: Any) -> None:
    del log["runs"][0]["tool"]["driver"]["name"]


def _unknown_level(log: Any) -> None:
    log["runs"][0]["results"][0]["level"] = "fatal"


def _own_key(log: Any) -> None:
    log["runs"][0]["results"][0]["step"] = "s1"


@pytest.mark.parametrize("spoil", [_no_text, _line_zero, _no_name, _unknown_level, _own_key])
def test_the_schema_refuses_what_the_standard_forbids(
    faulty: Any, spoil: Callable[[Any], None]
) -> None:
    """Else a schema that lets everything pass would make the tests above say nothing."""
    log = copy.deepcopy(faulty)
    spoil(log)
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(log)
