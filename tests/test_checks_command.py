"""``cablewalk check``: exit codes, the page, JSON, SARIF, ``--explain``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from cablewalk.checks.registry import RULES
from cablewalk.cli import commands
from cablewalk.reports.catalogue import REPORTS
from cablewalk.reports.sarif import uri

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
FAULTY = (str(CONFIGS / "faulty" / "bench.yaml"), str(CONFIGS / "faulty" / "swap.yaml"))
CLEAN = tuple(
    str(CONFIGS / name)
    for name in ("outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml")
)


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(commands, ["check", *arguments], prog_name="cablewalk")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def _sarif(path: Path, *documents: str) -> dict[str, Any]:
    run(*documents, "--sarif", str(path))
    log = json.loads(path.read_text(encoding="utf-8"))
    assert isinstance(log, dict)
    return log


def test_exit_codes(tmp_path: Path) -> None:
    assert run(*FAULTY).exit_code == 1
    assert run(*CLEAN).exit_code == 0
    assert run(CLEAN[0]).exit_code == 0
    assert run().exit_code == 2
    assert run(str(tmp_path / "none.yaml")).exit_code == 2
    assert run("--explain", "no-such-rule").exit_code == 2
    assert run(CLEAN[0], "--sarif", str(tmp_path)).exit_code == 2


def test_the_page_groups_by_severity_and_step() -> None:
    text = run(*FAULTY).stdout
    heads = [line for line in text.splitlines() if line[:1].isupper()]
    beneath = "(2 of them beneath the skipped step they follow from)"
    assert heads[:3] == ["CHECK of bench", f"ERRORS: 10 {beneath}", f"WARNINGS: 6 {beneath}"]
    assert "FINDINGS: 10 errors, 6 warnings" in text
    errors = text[text.index("ERRORS") : text.index("WARNINGS")]
    assert [line.strip() for line in errors.splitlines() if line.startswith("  step")] == [
        "step s1 of swap",
        "step s2 of swap",
    ]
    for part in ("found ", "expected ", "difference ", "way out ", "source "):
        assert part in errors


def test_what_follows_from_a_skipped_step_stands_beneath_it_once() -> None:
    text = run(*FAULTY).stdout
    assert text.count("light1 is still down at the end") == 1
    beneath = text[text.index("and what follows from it:") :]
    assert "down-at-end: light1 is still down at the end" in beneath


def test_waived_findings_are_listed_apart() -> None:
    text = run(*CLEAN).stdout
    waived = text[text.index("WAIVED: 1") :]
    assert "single-failure for roost-heat" in waived
    assert "demo programme office (invented)" in waived


def test_every_mate_with_its_feeds_and_inhibit_is_on_the_page() -> None:
    text = " ".join(run(*CLEAN).stdout.split())
    assert "1-32 demate L1-P1 / TP1-J1: FA1, FA2, FA3 inhibit w104-dead: enough" in text
    assert "proposed SW1 blocked" in " ".join(run(*FAULTY).stdout.split())


def test_a_gap_is_told_where_the_mate_is_listed(tmp_path: Path) -> None:
    """SW1 is off, but not yet blocked when the work begins: what would be enough does not hold."""
    swap = Path(FAULTY[1]).read_text(encoding="utf-8")
    swap = swap.replace("switch_off: SW2 ", "switch_off: SW1 ").replace(
        "requires: SW2 off", "requires: SW1 blocked"
    )
    path = tmp_path / "swap.yaml"
    path.write_text(swap, encoding="utf-8")
    text = " ".join(run(FAULTY[0], str(path)).stdout.split())
    assert "inhibit w1-dead: w1-dead does not hold from PET 0:02 to PET" in text
    assert "w1-dead: enough" not in text


def test_json_is_one_object_of_its_model() -> None:
    row = json.loads(run("--json", *FAULTY).stdout)
    report = REPORTS["check"].model_validate_json(json.dumps(row))
    assert report.model_dump(mode="json") == row
    assert {f["rule"] for f in row["findings"]} <= {r["id"] for r in row["rules"]}
    touch = next(t for t in row["touches"] if t["halves"][0] == "W1-P1")
    assert touch["could_reach"] == ["SRC1"]
    assert touch["live"] == ["SRC1"]
    assert touch["proposed"] == "SW1 blocked"
    assert touch["inhibits"] == ["w1-dead"]
    assert touch["left_alive"] == ["SRC1"]
    assert touch["verdict"] == "not enough from PET 0:02 to PET 0:04"


def test_explain_needs_no_document() -> None:
    for name, rule in RULES.items():
        result = run("--explain", name)
        assert result.exit_code == 0
        text = " ".join(result.stdout.split())
        assert name in text
        assert " ".join(rule.why.split()) in text
        assert " ".join(rule.source.split()) in text


def test_explain_offers_the_closest_rule() -> None:
    assert "did you mean bare-at-end" in run("--explain", "bare-at-ends").stderr


# --- SARIF 2.1.0 (OASIS, 2020); section numbers are the standard's -------------------------


def test_sarif_has_what_the_standard_asks_for(tmp_path: Path) -> None:
    log = _sarif(tmp_path / "x.sarif", *FAULTY)
    assert log["version"] == "2.1.0"  # 3.13.2
    (one,) = log["runs"]  # 3.13.4
    driver = one["tool"]["driver"]  # 3.18.2
    assert driver["name"] == "cablewalk"  # 3.19.8
    ids = [rule["id"] for rule in driver["rules"]]  # 3.49.3
    assert len(ids) == len(set(ids))
    for result in one["results"]:
        assert ids[result["ruleIndex"]] == result["ruleId"]  # 3.27.6
        assert result["level"] in {"none", "note", "warning", "error"}  # 3.27.10
        assert result["message"]["text"]  # 3.11.8
        (place,) = result["locations"]  # 3.27.12
        physical = place["physicalLocation"]
        assert physical["artifactLocation"]["uri"]  # 3.4.3
        assert physical["region"]["startLine"] >= 1  # 3.30.5


def test_sarif_tells_the_same_as_json(tmp_path: Path) -> None:
    log = _sarif(tmp_path / "x.sarif", *FAULTY)
    row = json.loads(run("--json", *FAULTY).stdout)
    assert [
        (r["ruleId"], r["level"], r["locations"][0]["physicalLocation"]["region"]["startLine"])
        for r in log["runs"][0]["results"]
    ] == [(f["rule"], f["severity"], f["line"]) for f in row["findings"]]


def test_sarif_suppresses_what_is_waived(tmp_path: Path) -> None:
    log = _sarif(tmp_path / "x.sarif", *CLEAN)
    (waived,) = [r for r in log["runs"][0]["results"] if "suppressions" in r]
    assert waived["ruleId"] == "single-failure"
    assert waived["suppressions"][0]["kind"] == "inSource"  # 3.35.2


def test_sarif_of_documents_that_cannot_be_used(tmp_path: Path) -> None:
    base = tmp_path / "bad name.yaml"
    base.write_text("cablewalk: 1\nbaseline: x\nplases: {}\n", encoding="utf-8")
    log = _sarif(tmp_path / "x.sarif", str(base))
    result = log["runs"][0]["results"][0]
    assert result["level"] == "error"
    assert result["ruleId"] in RULES
    assert (
        "bad%20name.yaml" in result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    )


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("configs/a.yaml", "configs/a.yaml"),
        ("a b#c.yaml", "a%20b%23c.yaml"),
        ("/x/y.yaml", "file:///x/y.yaml"),
    ],
)
def test_names_as_uris(name: str, expected: str) -> None:
    """RFC 3986: a blank and a number sign do not stand in a path."""
    assert uri(name) == expected


def test_two_inhibits_of_one_id_are_refused_with_both_lines(tmp_path: Path) -> None:
    swap = Path(FAULTY[1]).read_text(encoding="utf-8")
    more = "  - {id: w1-dead, requires: SW1 off, owner: ada, until: s3}\n\nwaivers:"
    path = tmp_path / "swap.yaml"
    path.write_text(swap.replace("\nwaivers:", more), encoding="utf-8")
    result = run(FAULTY[0], str(path))
    assert result.exit_code == 2
    told = [line for line in result.stderr.splitlines() if "duplicate-id" in line]
    lines = path.read_text(encoding="utf-8").splitlines()
    at = [n for n, line in enumerate(lines, start=1) if "id: w1-dead" in line]
    assert [f"swap.yaml:{n}: " in line for n, line in zip(at, told, strict=True)] == [True, True]
    assert "2 inhibits bear the id w1-dead" in told[0]


def test_steps_stand_in_the_order_of_the_plan() -> None:
    text = run(*CLEAN).stdout
    warnings = text[text.index("WARNINGS") : text.index("NOTES")]
    steps = [line.split()[1] for line in warnings.splitlines() if line.startswith("  step")]
    assert steps == ["1-34", "2-43"]
    notes = text[text.index("NOTES") : text.index("WAIVED")]
    steps = [line.split()[1] for line in notes.splitlines() if line.startswith("  step")]
    assert steps == ["1-02", "3-40"]
