"""The demos: the faulty one shows each planted fault and nothing else; the clean ones no error."""

from __future__ import annotations

from pathlib import Path

import pytest

from cablewalk.checks.run import Checked, check
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.findings import Severity
from cablewalk.timeline.account import account

CONFIGS = Path(__file__).resolve().parents[1] / "configs"

PLANTED = {
    ("unplanned-loss", "light2", ""): 1,
    ("live-contact", "W1-P1", ""): 2,
    ("live-exposed", "J1", ""): 2,
    ("few-inhibits", "W1-P1", ""): 2,
    ("unplanned-loss", "light1", ""): 2,
    ("bare-at-end", "W1-P2", ""): 3,
    ("refused", "W3-P1", ""): 4,
    ("verify-failed", "light1", "s2"): 4,
    ("down-at-end", "light1", "s2"): 4,
    ("bare-at-end", "J1", "s2"): 4,
    ("leg-loose-at-end", "W3-P1", "s2"): 4,
    ("down-at-end", "light2", ""): 5,
    ("inhibit-not-enough", "w1-dead", ""): 6,
    ("inhibit-idle", "w1-dead", ""): 6,
    ("inhibit-unverified", "w1-dead", ""): 6,
    ("waiver-idle", "J4", ""): 7,
}
"""(rule, first item, the skipped step it follows from) to the number of the mistake."""


def _checked(*names: str) -> Checked:
    base = load_baseline(CONFIGS / names[0])
    rest = [load_procedure(CONFIGS / name, n + 1) for n, name in enumerate(names[1:])]
    assert base.model is not None
    models = [loaded.model for loaded in rest if loaded.model is not None]
    assert len(models) == len(rest)
    found = account(base.model, models, True)
    assert not found.trace.unusable
    return check(found)


def test_the_faulty_demo_shows_each_planted_fault_and_nothing_else() -> None:
    result = _checked("faulty/bench.yaml", "faulty/swap.yaml")
    found = {(f.rule, f.items[0], f.because_of or "") for f in result.findings}
    assert found == set(PLANTED)
    assert len(result.findings) == len(PLANTED)
    assert result.waived == ()


@pytest.mark.parametrize(
    "names",
    [
        ("faulty/bench.yaml", "faulty/swap.yaml"),
        ("outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml"),
        ("seabed.yaml", "seabed-1.yaml", "seabed-2.yaml"),
    ],
)
def test_every_finding_of_a_demo_has_its_four_parts(names: tuple[str, ...]) -> None:
    for f in _checked(*names).findings:
        assert all((f.found, f.expected, f.difference, f.way_out)), f.sentence()


def test_no_redundancy_is_lost_by_putting_a_cold_string_back_to_standby() -> None:
    result = _checked("outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml")
    lost = [f for f in result.findings if f.rule == "redundancy-lost"]
    assert [(f.step, f.severity) for f in lost] == [("1-02", Severity.NOTE)]


def test_the_planted_faults_are_numbered_in_the_file() -> None:
    text = (CONFIGS / "faulty" / "swap.yaml").read_text(encoding="utf-8")
    for number in set(PLANTED.values()):
        assert f"# {number}: " in text
        assert f"#   {number}  " in text
    for rule, _item, _step in PLANTED:
        assert rule in text


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_the_clean_demo_has_no_error(count: int) -> None:
    outings = [f"outing-{n}.yaml" for n in range(1, count + 1)]
    result = _checked("outpost.yaml", *outings)
    assert [f.sentence() for f in result.findings if f.severity is Severity.ERROR] == []
    assert len(result.findings) < 12, "the clean demo stays readable"


def test_every_mate_of_the_clean_demo_that_power_could_reach_has_an_inhibit() -> None:
    result = _checked("outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml")
    assert sum(bool(t.reach) for t in result.case.survey.touches) >= 10
    assert not {f.rule for f in result.findings} & {"no-inhibit", "inhibit-not-enough"}


def test_the_shared_connector_of_the_heaters_is_found_and_waived() -> None:
    result = _checked("outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml")
    (one,) = result.waived
    assert one.finding.rule == "single-failure"
    assert "connector N2-P1/TP1-J2" in one.finding.found
