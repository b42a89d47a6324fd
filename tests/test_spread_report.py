"""The spread: figures by hand, the report, what cannot be sampled."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from small import BENCH, LAMP, baseline, procedure

from cablewalk.cli import commands
from cablewalk.formulas.three_point import beta_moments, triangular_moments
from cablewalk.reports.spread_rows import likely_keys
from cablewalk.reports.spread_sure import beyond_of
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.spread import Spread, spread
from cablewalk.timeline.spread_classical import classical, classical_outages
from cablewalk.timeline.spread_slip import slips
from cablewalk.timeline.spread_tally import Tally

RUNS = 20_000
Z = 4.5
"""Standard errors allowed: exceeded once in about 150,000 tries."""


def replayed(steps: str, more: str = "{}", base: str = BENCH, **head: Any) -> Account:
    return account(baseline(base, more), [procedure(steps, **head)], keep_going=True)


def sampled(steps: str, shape: str = "beta", more: str = "{}", **head: Any) -> Spread:
    return spread(replayed(steps, more, **head), [shape], RUNS, 7)


@pytest.mark.parametrize("shape", ["beta", "triangular"])
def test_one_after_the_other_adds_up(shape: str) -> None:
    """Means and variances of a chain add; the tolerance is the sampling error of each."""
    minutes = [2, 4, 12]
    found = sampled("[[{inspect: J1}, {inspect: J2}, {inspect: J3}]]", shape, minutes=minutes)
    moments = beta_moments if shape == "beta" else triangular_moments
    mean, variance = (3 * m for m in moments(*minutes))
    (tally,) = found.finish_pet
    assert tally.number == RUNS
    assert abs(tally.mean_s / 60 - mean) < Z * math.sqrt(variance / RUNS)
    # The variance of a sample variance is at most (kurtosis - 1) v^2 / n; 3 bounds the kurtosis
    # of these sums of three with room (a normal's is 3).
    assert abs((tally.deviation_s / 60) ** 2 - variance) < Z * variance * math.sqrt(3 / RUNS)


def test_two_that_merge_are_later_than_either() -> None:
    """The greater of two equal uniform-like sums: the classical figure is too hopeful."""
    found = sampled(
        "[{by: ada, do: [{inspect: J1}]}, {by: bob, do: [{inspect: J2}]},"
        " {by: [ada, bob], do: [{inspect: J3}]}]",
        minutes=[2, 4, 12],
    )
    figures = classical(found, 0)
    assert figures.solution.length == pytest.approx(2 * 60 * 5)
    assert figures.merge_s is not None
    assert figures.merge_s > 30
    both = [found.steps[0][n].critical / RUNS for n in (0, 1)]
    assert sum(both) == pytest.approx(1, abs=0.02), "ties aside, one of the two is critical"
    assert both[0] == pytest.approx(0.5, abs=Z * 0.5 / math.sqrt(RUNS) + 0.01)


def test_one_path_alone_merges_nothing() -> None:
    found = sampled("[[{inspect: J1}, {inspect: J2}]]", minutes=[2, 4, 12])
    assert classical(found, 0).merge_s is None


def test_chance_over_a_clock() -> None:
    """A triangular outage from 2 to 12 with mode 4: over 10 in (12-10)^2/((12-2)(12-4)) = 5 %."""
    more = "{services: {light: {clock: {allowed_min: 10, source: invented}}}}"
    plan = "[{loses: light, do: [{switch_off: SW1, minutes: [2, 4, 12]}, {switch_on: SW1}]}]"
    result = replayed(plan, more, LAMP, minutes=0)
    found = spread(result, ["triangular"], RUNS, 3)
    error = math.sqrt(0.05 * 0.95 / RUNS)
    # Durations are whole seconds: 0.5 s of a density of 0.04 a minute is 0.0004.
    assert abs(found.over[(0, 0)] / RUNS - 0.05) < Z * error + 0.0004


def test_how_often_an_outage_lasts_past_a_moment() -> None:
    """The same 5 % as over a clock of ten minutes; longer than at worst: never."""
    plan = "[{loses: light, do: [{switch_off: SW1, minutes: [2, 4, 12]}, {switch_on: SW1}]}]"
    found = spread(replayed(plan, "{}", LAMP, minutes=0), ["triangular"], RUNS, 3)
    (share,) = beyond_of(found).values()
    assert abs(share(600.9) - 0.05) < Z * math.sqrt(0.05 * 0.95 / RUNS) + 0.0004
    assert (share(0), share(720)) == (1, 0)


def test_slack_and_slips_by_hand() -> None:
    """Ada is dark for 8 min of her own; bob's 3 min beside it have 5 min of slack."""
    result = replayed(
        "[{by: ada, do: [{switch_off: SW1, minutes: 4}, {switch_on: SW1, minutes: 4}]},"
        " {by: bob, do: [{inspect: J3, minutes: 3}]}, {by: [ada, bob], do: [{inspect: J4}]}]",
        "{places: {bench: {covers: {COV: ~}}}, now: {}}",
        planned_outages={"light": "work"},
    )
    found = spread(result, ["beta"], 10, 1)
    assert [step.slack_likely_s / 60 for step in found.steps[0]] == [0, 5, 0]
    assert [step.critical for step in found.steps[0]] == [10, 0, 10]
    (only,) = slips(found.engine)
    assert (only.step, only.grows_s, only.new) == (0, 600, False)


MERGING = """
[{id: s1, by: ada, do: [{switch_off: SW1}]}, {id: s2, by: ada, do: [{inspect: J3}]},
 {id: s3, by: bob, after: [s1], do: [{inspect: J4}]},
 {id: s4, by: [ada, bob], do: [{switch_on: SW1, minutes: 1}]}]
"""


def test_classical_figures_of_an_outage_by_hand() -> None:
    """Means 5, 5 and 1 min one after the other; variances (10/6)^2 twice; two paths merge."""
    more = "{places: {bench: {covers: {COV: ~}}}, now: {}, services: {light: {recovery_min: 2}}}"
    head = {"minutes": [2, 4, 12], "planned_outages": {"light": "work"}}
    found = sampled(MERGING, "beta", more, **head)
    (figures,) = classical_outages(found, likely_keys(found)).values()
    assert figures.solution.length / 60 == pytest.approx(5 + 5 + 1 + 2)
    assert figures.solution.variance / 3600 == pytest.approx(2 * (10 / 6) ** 2)
    assert figures.merge_s is not None and figures.merge_s > 30
    alone = MERGING.replace("[ada, bob]", "ada")
    found = sampled(alone, "beta", more, **head)
    (figures,) = classical_outages(found, likely_keys(found)).values()
    assert figures.merge_s is None, "nothing merges: no more than the classical length"


def test_no_classical_figures_where_the_end_hangs_on_what_was_before_the_loss() -> None:
    """Bob, longer at work than ada, brings the light back: that she began it says nothing."""
    found = sampled(
        "[{id: s1, by: ada, do: [{switch_off: SW1}]},"
        " {id: s2, by: bob, do: [{inspect: J3}, {inspect: J4}]},"
        " {id: s3, by: [ada, bob], do: [{switch_on: SW1}]}]",
        "beta",
        "{places: {bench: {covers: {COV: ~}}}, now: {}}",
        minutes=[2, 4, 12],
        planned_outages={"light": "work"},
    )
    assert len(likely_keys(found)) == 1
    assert not classical_outages(found, likely_keys(found))


def test_a_slip_counts_where_in_its_step_it_hurts_most() -> None:
    """The light is back by the second of bob's three actions: late in the third does nothing."""
    result = replayed(
        "[{by: ada, do: [{switch_off: SW1}]},"
        " {by: bob, do: [{inspect: J3}, {switch_on: SW1}, {inspect: J4}]}]",
        "{places: {bench: {covers: {COV: ~}}}, now: {}}",
        planned_outages={"light": "work"},
    )
    grown = {slip.step: slip.grows_s for slip in slips(spread(result, ["beta"], 10, 1).engine)}
    assert grown[1] == 600


def test_nothing_varies() -> None:
    found = sampled("[[{switch_off: SW1}, {switch_on: SW1}]]")
    (tally,) = found.finish_pet
    assert {tally.at(share) for share in (0.1, 0.5, 0.9)} == {120}
    (row,) = found.outages.values()
    assert (row.runs, row.not_back, row.lasted.at(0.9)) == (RUNS, 0, 120)


def test_the_same_seed_gives_the_same() -> None:
    steps = "[[{switch_off: SW1}, {switch_on: SW1}]]"
    result = replayed(steps, minutes=[1, 2, 5])
    one, same, other = (spread(result, ["beta"], 500, seed) for seed in (1, 1, 2))
    assert one.finish_pet[0].counts.tolist() == same.finish_pet[0].counts.tolist()
    assert one.finish_pet[0].counts.tolist() != other.finish_pet[0].counts.tolist()


def test_tally() -> None:
    import numpy as np

    tally = Tally()
    tally.add(np.array([], np.int32))
    with pytest.raises(ValueError, match="nothing"):
        tally.at(0.5)
    for values in ([5, 7, 7], [-2], [30]):
        tally.add(np.array(values, np.int32))
    assert tally.number == 5
    assert [tally.at(q) for q in (0.2, 0.21, 0.6, 0.9, 1)] == [-2, 5, 7, 30, 30]
    assert tally.mean_s == pytest.approx(47 / 5)
    assert [tally.over(limit) for limit in (-3, -2, 7, 29, 30)] == [5, 4, 1, 1, 0]


# -- the command ----------------------------------------------------------------------

FILES = {
    "base": """
cablewalk: 1
baseline: small
interfaces: {p2: 2}
places:
  bench:
    halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin LAMP.hi LAMP.ret}
    units: {SRC: {kind: source, volts: 28, switches: SW1}, LAMP: load}
    switches: {SW1: }
harnesses: {W1: [P1 p2 pin, P2 p2 socket]}
people: {ada: outside, bob: outside}
services: {light: {kind: power, load: LAMP, feeds: SRC, clock: {allowed_min: 6, source: made up}}}
now: {on: [SW1], mated: {P1: J1, P2: J2}}
""",
    "work": """
cablewalk: 1
procedure: work
minutes: [1, 2, 5]
steps:
- {id: s1, by: ada, loses: light, do: [{switch_off: SW1}, {switch_on: SW1}]}
""",
    "stuck": """
cablewalk: 1
procedure: stuck
minutes: 1
spread: beta
steps:
- {id: s1, by: ada, do: [{mate: {P1: J1}}]}
""",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in FILES.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def run(folder: Path, command: str, *arguments: str) -> Result:
    files = [str(folder / f"{a}.yaml") if a in FILES else a for a in arguments]
    return CliRunner().invoke(commands, [command, *files])


def test_a_procedure_says_how_its_minutes_vary(folder: Path) -> None:
    for command, more in (("spread", ()), ("outages", ("--runs", "9"))):
        done = run(folder, command, "base", "work", *more)
        assert done.exit_code == 2
        assert "work.yaml:3: error: no-spread: work does not say how" in done.stderr


def test_what_stops_is_not_sampled(folder: Path) -> None:
    done = run(folder, "spread", "base", "stuck")
    assert done.exit_code == 2
    assert "stopped at step s1" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_page_and_the_object_agree(folder: Path) -> None:
    arguments = ("base", "work", "--shape", "triangular", "--runs", "2000")
    page = run(folder, "spread", *arguments)
    assert page.exit_code == 0, page.stderr
    data = json.loads(run(folder, "spread", *arguments, "--json").stdout)
    (row,) = data["spread_outages"]
    assert row["service"] == "light"
    assert row["likely_min"] == 4
    assert row["chance"] == 1
    (clock,) = row["clocks"]
    assert 0.1 < clock["chance_over"] < 0.5
    assert f"{100 * clock['chance_over']:.1f} % of 0:06" in page.stdout
    assert row["growths"] == [{"phase": "work", "step": "s1", "grows_min": 10.0}]
    assert "not judged: phase_limits.consumables is not given" in page.stdout


def test_outages_with_runs(folder: Path) -> None:
    plain = json.loads(run(folder, "outages", "base", "work", "--json").stdout)
    assert plain["runs"] is None
    assert plain["outages"][0]["p90_min"] is None
    text = FILES["work"].replace("minutes:", "spread: triangular\nminutes:")
    (folder / "work.yaml").write_text(text, encoding="utf-8")
    done = json.loads(run(folder, "outages", "base", "work", "--json", "--runs", "2000").stdout)
    (row,) = done["outages"]
    assert done["runs"] == 2000
    assert row["chance"] == 1
    assert row["p90_min"] > row["duration_min"]
    assert 0.1 < row["chance_over"] < 0.5
    page = run(folder, "outages", "base", "work", "--runs", "2000").stdout
    assert "overruns its clock of 0:06 in" in page


def told_of(folder: Path, command: str, *names: str) -> tuple[str, dict[str, Any]]:
    more = ("--runs", "200")
    page = run(folder, command, "--keep-going", *names, *more)
    assert not page.stderr
    return " ".join(page.stdout.split()), json.loads(
        run(folder, command, "--keep-going", *names, "--json", *more).stdout
    )


TWO = """
cablewalk: 1
procedure: two
minutes: [1, 2, 5]
spread: triangular
planned_outages: {light: bench}
steps:
- {id: s1, by: ada, do: [{demate: P1}, {mate: {P1: J1}}]}
- {id: s2, by: bob, do: [{demate: P2}, {mate: {P2: J2}}]}
"""
IN_THE_WAY = """
cablewalk: 1
procedure: way
minutes: [1, 2, 5]
spread: triangular
planned_outages: {light: bench}
steps:
- {id: s1, by: ada, do: [{demate: P1}, {mate: {P1: J1}}]}
- {id: s2, by: bob, do: [{wait: 7}, {demate: P1}, {mate: {P1: J1}}]}
"""


def test_an_outage_in_some_runs_only_says_why_it_has_no_figures(folder: Path) -> None:
    """Neither line is left out: a dash and why. Likely, s1 is first; in some runs s2 is."""
    late = TWO.replace("{demate: P1}", "{inspect: P1}, {demate: P1}")
    late = late.replace("{demate: P2}", "{inspect: P2}, {demate: P2}")
    (folder / "two.yaml").write_text(late, encoding="utf-8")
    page, data = told_of(folder, "spread", "base", str(folder / "two.yaml"))
    rare = next(row for row in data["spread_outages"] if row["likely_min"] is None)
    assert (rare["service"], rare["lost_by_step"]) == ("light", "s2")
    assert 0 < rare["chance"] < 1
    told = page[page.index("OUTAGES IN SOME RUNS ONLY") : page.index("STEPS by the share")]
    rows = told.split("light s")
    (own,) = [row for row in rows if row.startswith("2 ")]
    assert "classical -, for it does not occur by likely estimates" in own
    assert "ten late" in own
    assert told.count("classical") == told.count("ten late") == len(rows) - 1


@pytest.mark.parametrize("command", ["spread", "outages"])
def test_a_limit_of_the_search_for_orders_is_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """Too many reachable sets, and too many orders to replay: both say so and name the services."""
    (folder / "two.yaml").write_text(TWO, encoding="utf-8")
    (folder / "way.yaml").write_text(IN_THE_WAY, encoding="utf-8")
    two, way = str(folder / "two.yaml"), str(folder / "way.yaml")
    page, data = told_of(folder, command, "base", two)
    assert "too many orders" not in page
    assert (data["not_judged_in_own_order"], data["runs_given_up"]) == ([], 0)
    monkeypatch.setattr("cablewalk.orders.table.SETS_AT_MOST", 3)
    page, data = told_of(folder, command, "base", two)
    assert "!! JUDGED ALONG THE LIKELY ORDER ONLY, too many orders: light" in page
    assert data["not_judged_in_own_order"] == ["light"]
    monkeypatch.setattr("cablewalk.timeline.spread_engine.ORDERS_AT_MOST", 1)
    page, data = told_of(folder, command, "base", way)
    given_up = data["runs_given_up"]
    assert 0 < given_up < 200
    assert data["given_up_services"] == ["light"]
    assert f"!! {given_up} OF 200 RUNS NOT JUDGED, too many orders" in page
    assert "for light chances may be too low by" in page
