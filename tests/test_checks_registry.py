"""The registry: every rule fires and stays silent on its examples; every id is in it."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from rule_examples import checked, having, ids

from cablewalk.checks.registry import JUDGED, RULES, near, rules_table
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure

SOURCE = Path(__file__).resolve().parents[1] / "src" / "cablewalk"
KEBAB = re.compile(r"[a-z]+(-[a-z]+)+|refused|unreadable|nobody")
NO_RULES = {"re-routed", "bare-at-ends"}
"""Literals of that shape that are no rule ids."""


@pytest.mark.parametrize("name", JUDGED)
def test_fires(name: str) -> None:
    found = having(checked(RULES[name].fires), name)
    assert found
    assert max(f.severity for f in found) == RULES[name].severity


@pytest.mark.parametrize("name", JUDGED)
def test_the_address_is_in_the_document_it_names(name: str) -> None:
    result = checked(RULES[name].fires)
    for finding in having(result, name):
        number, path = finding.address.document, finding.address.path
        fields = (Procedure if number else Baseline).model_fields
        assert 0 <= number <= len(result.case.trace.phases)
        assert not path or path[0] in fields


@pytest.mark.parametrize("name", JUDGED)
def test_stays_silent(name: str) -> None:
    assert RULES[name].silent != RULES[name].fires
    assert name not in ids(checked(RULES[name].silent))


@pytest.mark.parametrize("name", JUDGED)
def test_without_the_rule_its_example_is_silent(name: str) -> None:
    """The finding comes from the rule itself, and from no other."""
    rest = {key: rule for key, rule in RULES.items() if key != name}
    assert name not in ids(checked(RULES[name].fires, rules=rest))


PARTS = ("found", "expected", "difference", "way_out")


@pytest.mark.parametrize("name", JUDGED)
def test_every_finding_has_its_four_parts(name: str) -> None:
    for text in (RULES[name].fires, RULES[name].silent):
        result = checked(text)
        for finding in (*result.findings, *(w.finding for w in result.waived)):
            lacking = [part for part in PARTS if not getattr(finding, part)]
            assert not lacking, f"{finding.rule}: {finding.sentence()}"


def _loaded_by_check() -> list[Path]:
    """Return the files of all modules that a check needs: what they find, check can print."""
    code = (
        "import sys, cablewalk.checks.run, cablewalk.files.load;"
        "print(*(m.__file__ for n, m in sys.modules.items() if n.startswith('cablewalk.')))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return [Path(name) for name in found.stdout.split()]


def _finding_rules() -> dict[str, str]:
    """Return rule-shaped literals in the places where findings are made, with their module."""
    found: dict[str, str] = {}
    for path in _loaded_by_check():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                for value in (*node.args, *(k.value for k in node.keywords)):
                    for each in ast.walk(value):
                        text = each.value if isinstance(each, ast.Constant) else None
                        if isinstance(text, str) and KEBAB.fullmatch(text):
                            found[text] = path.name
    return found


def test_every_rule_id_in_the_source_is_registered() -> None:
    found = _finding_rules()
    assert len(found.keys() & RULES.keys()) > 60, "the walk saw hardly a rule"
    missing = {t: m for t, m in found.items() if t not in RULES and t not in NO_RULES}
    assert not missing


def test_every_registered_id_occurs_in_the_source() -> None:
    text = "".join(
        p.read_text(encoding="utf-8")
        for p in SOURCE.rglob("*.py")
        if p.name not in ("replayed.py", "told_elsewhere.py")
    )
    assert [name for name in RULES if f'"{name}"' not in text] == []


@pytest.mark.parametrize("name", RULES)
def test_every_rule_explains_itself(name: str) -> None:
    rule = RULES[name]
    assert all((rule.title, rule.source, rule.why, rule.satisfy))


def test_close_names() -> None:
    assert near("bare-at-ends")[0] == "bare-at-end"
    assert near("zzzzzzz") == []


def test_the_table_has_every_judged_rule() -> None:
    table = rules_table()
    assert all(f"| `{name}` |" in table for name in JUDGED)
    assert len(table.splitlines()) == len(JUDGED) + 2
