"""Zones: thermostats, losses, limits, what is missing; against worked figures."""

from __future__ import annotations

import json
import xml.etree.ElementTree as Tree
from math import exp, inf, log
from typing import Any

import pytest
from click.testing import CliRunner
from small import LAMP, baseline, merged, procedure, text_of
from test_spread_findings import TWO

from cablewalk.cli import commands, inputs
from cablewalk.cli.thermal_page import zones_page
from cablewalk.documents.thermal import Heater, Thermal
from cablewalk.drawings.metrics import width_pt
from cablewalk.drawings.plot import zone_plot
from cablewalk.drawings.plot_axis import CUT, TimeAxis, kept
from cablewalk.files.place import Source
from cablewalk.findings import Finding, Severity
from cablewalk.formulas.thermal import ZERO_C_K, Law
from cablewalk.reports.outages import outages_report
from cablewalk.reports.thermal import zones_report
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.thermal import Zones, zones
from cablewalk.timeline.thermal_zone import (
    Model,
    TooFastError,
    followed,
    lacking,
    seconds_until,
)
from cablewalk.units import clock_down, clock_up, seconds

SVG = "{http://www.w3.org/2000/svg}"
WATCH_S = 1e-6
"""Closed forms on both sides: only rounding differs."""

H6 = """
source: own case H6
heat_capacity_j_per_k: 45000
conductance_w_per_k: 2
sink_c: -60
start_c: 20
heaters: {light: {power_w: 200}}
limit_low: {value_c: -20, source: own case H6}
"""
"""50 kg x 900 J/kgK, 2 W/K; 20 to -20 °C towards -60 °C: time constant 6.25 h; 4.3322 h."""


def replayed(thermal: str, steps: str, more: str = "{}", **head: Any) -> Account:
    """Replay steps on a lamp that is a zone's heater; one minute an action."""
    zone = {"services": "light", "thermal": text_of(thermal)}
    if thermal == "~":
        del zone["thermal"]
    document = merged({"places": {"bench": {"zones": {"Z": zone}}}}, text_of(more))
    return account(baseline(LAMP, json.dumps(document)), [procedure(steps, **head)])


def estimated(result: Account) -> Zones:
    return zones(result.ground.baseline, result.trace, result.outages, result.readings)


def found(result: Account) -> dict[str, Finding]:
    return {f.rule: f for f in estimated(result).findings}


DARK = "[[{switch_off: SW1}, {wait: 60}, {switch_on: SW1}], [{wait: 600}]]"


def test_loss_and_limit_of_the_worked_case() -> None:
    (zone,) = estimated(replayed(H6, DARK)).zones
    (loss,) = zone.losses
    assert loss.from_c == pytest.approx(20, abs=WATCH_S)
    assert loss.to_limit_s is not None
    assert loss.to_limit_s / 3600 == pytest.approx(4.3322, abs=5e-5)
    assert loss.cautious_s is None
    assert loss.estimated_by_s == pytest.approx(loss.at_s + loss.to_limit_s)


def test_lowest_and_recovery() -> None:
    """Dark for 62 min by the estimates of one minute an action; then 200 W towards 40 °C."""
    result = replayed(H6, DARK)
    (zone,) = estimated(result).zones
    (loss,) = zone.losses
    spell = result.outages[0]
    assert spell.to_s is not None
    dark = spell.to_s - spell.from_s
    cold = -60 + 80 * exp(-dark / 22_500)
    assert loss.lowest_c == pytest.approx(cold, abs=WATCH_S)
    assert loss.lowest_at_s == spell.to_s
    assert loss.recovered_s == pytest.approx(22_500 * log((40 - cold) / (40 - 20)), abs=0.01)
    assert not loss.lost_again_cold
    assert zone.lowest is not None
    assert zone.lowest[0] == pytest.approx(cold, abs=WATCH_S)


def test_the_lowest_of_an_outage_is_its_own() -> None:
    """Ten minutes dark, then an hour on, then an hour dark: that is not the first one's lowest."""
    steps = (
        "[[{switch_off: SW1}, {wait: 10}, {switch_on: SW1}, {wait: 60}, {switch_off: SW1},"
        " {wait: 60}]]"
    )
    result = replayed(H6, steps, minutes=1)
    (zone,) = estimated(result).zones
    first, second = zone.losses
    assert first.lowest_at_s == result.outages[0].to_s
    assert zone.lowest is not None
    assert zone.lowest == (second.lowest_c, second.lowest_at_s)
    assert first.lowest_c > second.lowest_c


@pytest.mark.parametrize(
    ("watts", "low", "falls_on"), [(200, 15, False), (200, 18, False), (20, 18, True)]
)
def test_the_lowest_counts_on_while_it_recovers(watts: int, low: int, falls_on: bool) -> None:
    """Dark for ten minutes and what they take; 20 W settle at -50 °C, so it falls on for good.

    Above its lower set point what follows is the thermostat's doing, not the outage's.
    """
    thermal = H6.replace("power_w: 200}", f"power_w: {watts}, on_below_c: {low}, off_above_c: 25}}")
    result = replayed(thermal, DARK.replace("60", "10", 1), minutes=1)
    (zone,) = estimated(result).zones
    (loss,) = zone.losses
    back_s = result.outages[0].to_s
    assert back_s is not None
    if falls_on:
        assert loss.lowest_at_s == zone.to_s
    else:
        assert loss.lowest_at_s == back_s
        dark_s = back_s - loss.at_s
        assert loss.lowest_c == pytest.approx(-60 + (loss.from_c + 60) * exp(-dark_s / 22_500))


def test_one_deadline_for_one_clock() -> None:
    """Half a minute past: rounded down everywhere, in the outages, the zones and the plot."""
    clock = "{allowed_min: 90.75, starts: power_off, source: made up}"
    result = replayed(H6, DARK, f"{{services: {{light: {{clocks: [{clock}]}}}}}}", minutes=1)
    sources = [Source("b.yaml"), Source("p.yaml")]
    (loss,) = zones_report(result, sources).zones[0].losses
    (outage,) = outages_report(result, sources).outages
    assert loss.given_by_min == outage.reconnect_by_min
    assert loss.given_by_pet == outage.reconnect_by_pet
    assert loss.given_by_min is not None
    assert loss.given_by_pet is not None
    assert loss.given_by_pet.pet == clock_down(seconds(loss.given_by_min)) == "1:30"
    assert loss.estimated_by_pet is not None
    assert loss.estimated_by_min is not None
    assert loss.estimated_by_pet.pet == clock_down(seconds(loss.estimated_by_min))


def test_lost_again_before_it_is_warm() -> None:
    steps = (
        "[[{switch_off: SW1}, {wait: 60}, {switch_on: SW1}, {wait: 10}, {switch_off: SW1},"
        " {wait: 60}, {switch_on: SW1}]]"
    )
    (zone,) = estimated(replayed(H6, steps)).zones
    first, second = zone.losses
    assert first.lost_again_cold
    assert second.from_c < first.from_c
    assert second.to_limit_s is not None
    assert first.to_limit_s is not None
    assert second.to_limit_s < first.to_limit_s


def model(on: float | None, off: float | None, watts: float = 60) -> Model:
    law = Law(45_000.0, 0.5, ZERO_C_K - 60)
    return Model(law, {"a": Heater(power_w=watts, on_below_c=on, off_above_c=off)}, False)


A, NONE = frozenset({"a"}), frozenset[str]()


def test_a_thermostat_keeps_between_its_set_points() -> None:
    """Up means power available, not heater on: it cycles, each leg by the closed form."""
    track = followed(model(5, 10), 280.15, [(0.0, A)], 3e6)
    assert track.lowest(0, 3e6)[0] == pytest.approx(278.15)
    later = track.highest(1e5, 3e6)[0]
    assert later == pytest.approx(283.15)
    assert len(track.pieces) > 10
    cooling = 90_000 * log((283.15 - 213.15) / (278.15 - 213.15))
    warming = 90_000 * log((333.15 - 278.15) / (333.15 - 283.15))
    for piece, heaters in zip(track.pieces[2:-1], track.on[2:-1], strict=True):
        length = piece.to_s - piece.from_s
        assert length == pytest.approx(warming if heaters else cooling, rel=1e-9)


def test_a_track_agrees_with_small_steps() -> None:
    """Against stepping the same thermostat by small Euler steps: first order in the step."""
    power = [(0.0, A), (30_000.0, NONE), (60_000.0, A)]
    track = followed(model(5, 10, 40), 280.15, power, 120_000)
    kelvin, on, step = 280.15, False, 5.0
    for n in range(24_000):
        now = n * step
        if kelvin <= 278.15:
            on = True
        elif kelvin >= 283.15:
            on = False
        powered = now < 30_000 or now >= 60_000
        kelvin += step * ((40 if on and powered else 0) - 0.5 * (kelvin - 213.15)) / 45_000
        if n % 500 == 0:
            assert track.at(now + step) == pytest.approx(kelvin, abs=0.02)


def test_too_weak_a_heater_falls_below_its_set_point() -> None:
    weak = model(5, 10, 20)  # settles at -20 °C
    assert seconds_until(weak, 280.15, [(0.0, A)], ZERO_C_K - 10, falling=True) < inf
    assert seconds_until(weak, 280.15, [(0.0, A)], ZERO_C_K - 25, falling=True) == inf
    assert seconds_until(model(5, 10), 280.15, [(0.0, A)], ZERO_C_K + 0, falling=True) == inf


def test_another_heater_holds_the_zone() -> None:
    two = Model(
        Law(45_000.0, 0.5, ZERO_C_K - 60),
        {"a": Heater(power_w=60), "b": Heater(power_w=60, on_below_c=0, off_above_c=4)},
        False,
    )
    b = frozenset({"b"})
    assert seconds_until(two, 290.0, [(0.0, b)], ZERO_C_K - 5, falling=True) == inf
    alone = seconds_until(two, 290.0, [(0.0, NONE)], ZERO_C_K - 5, falling=True)
    assert alone == pytest.approx(90_000 * log((290 - 213.15) / 55), rel=1e-9)


TWIN = """
places:
  bench:
    zones:
      Z:
        services: [light, other]
        thermal:
          source: own case
          heat_capacity_j_per_k: 45000
          conductance_w_per_k: 2
          sink_c: -60
          start_c: 20
          heaters: {light: {power_w: 400}, other: {power_w: 400}}
          limit_low: {value_c: -20, source: own case}
    units: {SRC2: {kind: source, volts: 28, switches: SW3}, LAMP2: load}
    switches: {SW3: }
    halves:
      J5: p2 socket SRC2.hi SRC2.ret
      J6: p2 pin LAMP2.hi LAMP2.ret
harnesses: {W3: [P3 p2 pin, P4 p2 socket]}
services: {other: {kind: power, load: LAMP2, feeds: SRC2}}
now: {on: [SW1, SW3], mated: {P3: J5, P4: J6}}
"""


def test_the_others_have_power_as_the_plan_gives_it() -> None:
    """The second of two heaters goes 60 min after the first: from there on nothing heats.

    By hand: 400 W hold 140 °C over the sink, so it warms from 20 °C towards 140 °C for an hour,
    and cools towards -60 °C then; time constant 22,500 s.
    """
    steps = (
        "[[{switch_off: SW1}, {wait: 59}], [{switch_off: SW3}, {wait: 59}], [{switch_on: SW3}],"
        " [{switch_on: SW1}]]"
    )
    result = account(baseline(LAMP, TWIN), [procedure(steps, minutes=1)])
    (zone,) = estimated(result).zones
    first, second = zone.losses
    gap = second.at_s - first.at_s
    warm = 140 - (140 - first.from_c) * exp(-gap / 22_500)
    assert second.from_c == pytest.approx(warm, abs=WATCH_S)
    # SW3 comes back after an hour: neither reaches -20 °C in that hour, and the other then warms.
    assert first.to_limit_s == inf
    alone = steps.replace(" [{switch_on: SW3}],", "")
    result = account(baseline(LAMP, TWIN), [procedure(alone, minutes=1)])
    first, second = estimated(result).zones[0].losses
    falls = 22_500 * log((warm + 60) / 40)
    assert first.to_limit_s == pytest.approx(gap + falls, abs=WATCH_S)
    page = zones_page(zones_report(result, [Source("b.yaml"), Source("p.yaml")])).text
    assert "the others have power as in the replay" in " ".join(page.split())
    # The first comes back and heats: the second alone never brings it to the limit.
    assert second.to_limit_s == inf


def test_a_thermostat_too_fast_to_follow() -> None:
    quick = Model(
        Law(1.0, 1.0, ZERO_C_K - 60),
        {"a": Heater(power_w=1000, on_below_c=5, off_above_c=5.1)},
        False,
    )
    with pytest.raises(TooFastError):
        followed(quick, 280.15, [(0.0, A)], 1e6)


# -- fitted samples ------------------------------------------------------------------------

FITTED = """
source: telemetry
sink_c: 20
measured: [{at_min: 0, measured_c: 34.6667}, {at_min: 80, measured_c: 31.7778}]
start_c: 34.6667
heaters: {light: {power_w: 5}}
limit_low: {value_c: 31.7778, source: me}
"""
"""The samples of O'Neil, *Advanced Engineering Mathematics* (2010), p. 9, in °C: 94.4 and 89.2 °F
in 68 °F, 80 min apart."""


def test_two_samples_instead_of_a_conductance() -> None:
    (zone,) = estimated(replayed(FITTED, DARK)).zones
    (loss,) = zone.losses
    assert loss.to_limit_s is not None
    assert loss.to_limit_s / 60 == pytest.approx(80, abs=0.01)
    assert zone.model is not None
    assert zone.model.fitted_s == pytest.approx(4800 / log(26.4 / 21.2), rel=1e-4)
    assert zone.model.holds
    assert loss.recovered_s is None, "without heat capacity nothing tells how fast it warms"


def test_samples_that_do_not_cool_are_not_judged() -> None:
    odd = FITTED.replace("31.7778}]", "36}]")
    (zone,) = estimated(replayed(odd, DARK)).zones
    assert zone.track is None
    assert "do not approach the sink" in zone.missing[0]


# -- what is missing, and what is past -----------------------------------------------------


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("heat_capacity_j_per_k: 45000", "heat_capacity_j_per_k"),
        ("conductance_w_per_k: 2", "conductance_w_per_k"),
        ("sink_c: -60", "sink_c"),
        ("start_c: 20", "start_c"),
        ("heaters: {light: {power_w: 200}}", "what light heats it with"),
    ],
)
def test_what_is_missing_is_named(line: str, named: str) -> None:
    result = replayed(H6.replace(line, ""), DARK)
    (zone,) = estimated(result).zones
    assert zone.track is None
    assert any(named in text for text in zone.missing)
    assert found(result)["zone-not-judged"].severity is Severity.NOTE


def test_no_thermal_data() -> None:
    (zone,) = estimated(replayed("~", DARK)).zones
    assert zone.missing == ("thermal data are missing",)


def test_radiation_needs_its_space() -> None:
    thermal = Thermal(source="x", heat_capacity_j_per_k=1, radiating_m2=1, start_c=0)
    assert lacking(thermal) == ["space_c"]


def test_no_limit_is_not_judged() -> None:
    result = replayed(H6.replace("limit_low:", "limit_high:").replace("-20", "90"), DARK)
    (zone,) = estimated(result).zones
    assert zone.losses[0].to_limit_s is None
    assert "limit_low is missing" in found(result)["limit-not-given"].found


def test_biot_too_large_gives_no_number() -> None:
    """Above 0.1 a mass is not at one temperature (Incropera & DeWitt, 5.2): Çengel 4-2 has 0.89."""
    result = replayed(H6 + "biot: 0.89", DARK)
    (zone,) = estimated(result).zones
    assert zone.track is None
    assert found(result)["biot-too-large"].source.startswith("Incropera")
    (zone,) = estimated(replayed(H6 + "biot: 0.1", DARK)).zones
    assert zone.track is not None


@pytest.mark.parametrize("start", ["-20", "-35"])
def test_past_its_limit_at_the_start(start: str) -> None:
    result = replayed(H6.replace("start_c: 20", f"start_c: {start}"), "[[{switch_off: SW1}]]")
    finding = found(result)["past-limit-at-start"]
    assert finding.severity is Severity.ERROR
    assert finding.address.path[-1] == "start_c"
    assert "°C" in finding.found


def test_measured_past_its_limit() -> None:
    result = replayed(FITTED.replace("value_c: 31.7778", "value_c: 33"), DARK)
    finding = found(result)["past-limit-at-start"]
    assert finding.address.path[-1] == "measured"
    assert "was measured at" in finding.found


def test_too_cold_by_the_plan() -> None:
    result = replayed(H6, DARK.replace("60", "360"))
    finding = found(result)["zone-too-cold"]
    assert finding.severity is Severity.WARNING
    assert "estimate, not for go/no-go" in finding.found


def test_a_heater_of_another_service() -> None:
    result = replayed(H6.replace("{light:", "{lihgt:"), DARK)
    assert found(result)["heater-not-listed"].severity is Severity.ERROR


CLOCK = "services: {light: {clock: {allowed_min: MIN, source: flight rule 3}}}"


@pytest.mark.parametrize(("minutes", "warned"), [("200", False), ("300", True)])
def test_a_given_clock_outranks(minutes: str, warned: bool) -> None:
    """4.3322 h are 259.9 min: a clock of 300 governs, and the estimate is told as a question."""
    result = replayed(H6, DARK, CLOCK.replace("MIN", minutes))
    assert ("estimate-before-clock" in found(result)) == warned
    from cablewalk.timeline.thermal import given_by_s

    (loss,) = estimated(result).zones[0].losses
    assert given_by_s(result.readings[loss.outage]) == loss.at_s + int(minutes) * 60


def test_a_zone_begins_as_its_first_service_comes_alive() -> None:
    more = "{services: {light: {begins: established}}, now: {on: [], off: SW1}}"
    result = replayed(H6, "[[{wait: 30}, {switch_on: SW1}, {wait: 60}]]", more)
    (zone,) = estimated(result).zones
    assert zone.from_s == 31 * 60
    assert zone.lowest is not None
    assert zone.lowest[0] == pytest.approx(20)


def test_recovery_min_delays_the_heat() -> None:
    slow = "services: {light: {recovery_min: 30}}"
    plain, late = (estimated(replayed(H6, DARK, more)).zones[0] for more in ("{}", slow))
    assert plain.lowest is not None
    assert late.lowest is not None
    assert late.lowest[1] - plain.lowest[1] == 30 * 60
    assert late.lowest[0] < plain.lowest[0]


# -- the command ---------------------------------------------------------------------------

DEMO = ["configs/outpost.yaml", "configs/outing-1.yaml"]


def test_the_demo_by_command(tmp_path: Any) -> None:
    result = CliRunner().invoke(commands, ["zones", *DEMO, "--plot", str(tmp_path), "--json"])
    assert result.exit_code == 0, result.output
    report = json.loads(result.stdout)
    assert report["standing"] == "estimate, not for go/no-go"
    losses = [loss for zone in report["zones"] for loss in zone["losses"]]
    assert losses
    for loss in losses:
        assert loss["governs"] == "given clock"
        assert loss["estimated_by_min"] > loss["from_min"]
    plot = (tmp_path / "Z-CAM.svg").read_text(encoding="utf-8")
    assert "not for go/no-go" in plot
    again = CliRunner().invoke(commands, ["zones", *DEMO, "--plot", str(tmp_path)])
    assert again.exit_code == 2
    assert "is there already" in again.output


def test_the_zones_tell_how_sure_they_are_as_the_outages_do() -> None:
    """The same draws: the same P90 and chances; the temperatures stay those of likely minutes."""
    runs = ["--runs", "400", "--json"]
    told, outages = (
        json.loads(CliRunner().invoke(commands, [name, *DEMO, *runs]).stdout)
        for name in ("zones", "outages")
    )
    (loss,) = (loss for zone in told["zones"] for loss in zone["losses"])
    (row,) = (row for row in outages["outages"] if row["service"] == loss["service"])
    assert loss["dark_p90_min"] == row["p90_min"] > loss["dark_min"]
    assert loss["chance_over_clock"] == row["chance_over"] == 0
    assert loss["chance_over_estimate"] == 0
    assert (told["runs"], told["not_sampled"]) == (400, "")
    assert told["zones"] == outages["zones"]
    page = CliRunner().invoke(commands, ["zones", *DEMO, *runs[:2]]).stdout
    assert "P90 " + clock_up(round(60 * row["p90_min"])) + " dark" in page
    assert "Temperatures are by likely minutes; P90 and shares come from 400 samples" in page


def test_the_zones_say_that_nothing_was_sampled() -> None:
    done = CliRunner().invoke(commands, ["zones", *DEMO, "--runs", "0", "--json"])
    told = json.loads(done.stdout)
    assert (told["runs"], told["not_sampled"]) == (None, "--runs 0")
    (loss,) = (loss for zone in told["zones"] for loss in zone["losses"])
    assert loss["dark_p90_min"] is loss["chance_over_clock"] is None
    page = CliRunner().invoke(commands, ["zones", *DEMO, "--runs", "0"]).stdout
    assert "All minutes are likely minutes; how sure they are was not sampled: --runs 0." in page
    assert "P90" not in page


def test_the_zones_tell_what_is_dark_in_some_samples_only(tmp_path: Any) -> None:
    """Bob has SW1 off in the twelfth minute; ada has SW2 on before that, by likely minutes."""
    zone = {"services": ["light"], "thermal": text_of(H6)}
    base = merged(
        {"cablewalk": "1", "baseline": "small", **text_of(TWO)},
        {"places": {"bench": {"zones": {"Z": zone}}}},
    )
    work = {
        "cablewalk": 1, "procedure": "w", "minutes": 1, "spread": "beta",
        "steps": text_of(
            "[{id: on, by: ada, do: [{inspect: K2, minutes: [7, 8, 19]}, {switch_on: SW2}]}, "
            "{id: out, by: bob, do: [{wait: 11}, {switch_off: SW1}]}]"
        ),
    }  # fmt: skip
    files = []
    for name, document in (("b", base), ("p", work)):
        files.append(str(tmp_path / f"{name}.yaml"))
        (tmp_path / f"{name}.yaml").write_text(json.dumps(document), encoding="utf-8")
    done = CliRunner().invoke(commands, ["zones", *files, "--json"])
    told = json.loads(done.stdout)
    assert not told["zones"][0]["losses"]
    (row,) = told["in_some_runs"]
    assert (row["service"], row["lost_by_step"]) == ("light", "out")
    assert 0 < row["chance"] < 0.5
    page = " ".join(CliRunner().invoke(commands, ["zones", *files]).stdout.split())
    assert f"light is dark in {100 * row['chance']:.1f} % of the samples, by step out" in page
    assert "not in these temperatures" in page


def test_plots_of_no_zones_are_none(tmp_path: Any) -> None:
    """It is said so, and no folder is made for nothing."""
    files = [tmp_path / "b.yaml", tmp_path / "p.yaml"]
    work = {"cablewalk": 1, "procedure": "w", "minutes": 1,
            "steps": [{"id": "s1", "by": "ada", "do": [{"wait": 5}]}]}  # fmt: skip
    bare = {"cablewalk": "1", "baseline": "small", **text_of(LAMP)}
    for file, document in zip(files, (bare, work), strict=True):
        file.write_text(json.dumps(document), encoding="utf-8")
    out = tmp_path / "plots"
    result = CliRunner().invoke(commands, ["zones", *map(str, files), "--plot", str(out)])
    assert result.exit_code == 0, result.output
    assert "no plot is written: no zone has a temperature estimate" in result.stderr
    assert not out.exists()


def test_the_page_keeps_predicted_and_measured_apart() -> None:
    result = CliRunner().invoke(commands, ["zones", *DEMO])
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert any(line.strip().startswith("PREDICTED") for line in lines)
    assert any(line.strip().startswith("MEASURED") for line in lines)
    assert not [line for line in lines if len(line) > 100]


def test_plots_need_no_colour_and_no_more_than_svg(tmp_path: Any) -> None:
    """Grey only; well-formed; a hostile label does no harm."""
    account_of = replayed(H6, DARK, "places: {bench: {zones: {Z: {label: '<b>&\"'}}}}")
    sources = [Source("b.yaml"), Source("p.yaml")]
    report = zones_report(account_of, sources)
    text = zone_plot(report.zones[0], report.phases)
    Tree.fromstring(text)
    assert "<b>" not in text
    colours = {w for part in text.split('"') for w in [part] if part.startswith("#")}
    assert all(len(set(c[1:])) == 1 for c in colours if len(c) == 4 and c != "#dark")


def test_the_demo_plot_is_cut_between_its_outings(tmp_path: Any) -> None:
    """Three outings, days apart: each outage is wide enough to read, and no two labels overlap."""
    three = ["configs/outpost.yaml", *(f"configs/outing-{n}.yaml" for n in (1, 2, 3))]
    result = CliRunner().invoke(commands, ["zones", *three, "--plot", str(tmp_path)])
    assert result.exit_code == 0, result.output
    outages = json.loads(CliRunner().invoke(commands, ["outages", *three, "--json"]).stdout)
    by = {row["service"]: row["reconnect_by_pet"] for row in outages["outages"]}
    for zone, service, stretches in (("Z-CAM", "cam-heat", 3), ("Z-VALVE", "valve-heat", 4)):
        root = Tree.fromstring((tmp_path / f"{zone}.svg").read_text(encoding="utf-8"))
        assert len(list(root.iter(f"{SVG}polyline"))) == stretches
        (bar,) = [r for r in root.iter(f"{SVG}rect") if (r.get("fill") or "").endswith("-dark)")]
        assert float(bar.get("width", 0)) > 30
        told = ["".join(node.itertext()) for node in root.iter(f"{SVG}text")]
        pet = by[service]
        deadline = f"reconnect by P{pet['phase_number']} {pet['pet']} (clock)"
        assert any(deadline in text for text in told)
        boxes = [_box(node) for node in root.iter(f"{SVG}text")]
        for n, one in enumerate(boxes):
            for other in boxes[:n]:
                assert not _overlap(one, other), (told[n], one, other)


def _box(node: Tree.Element) -> tuple[float, float, float]:
    """Return (left, right, y) of a text."""
    size = float(node.get("font-size", 12))
    wide = width_pt("".join(node.itertext()), size, bold=node.get("font-weight") == "bold")
    x = float(node.get("x", 0))
    left = {"start": x, "middle": x - wide / 2, "end": x - wide}[node.get("text-anchor", "start")]
    return left, left + wide, float(node.get("y", 0))


def _overlap(one: tuple[float, float, float], other: tuple[float, float, float]) -> bool:
    return abs(one[2] - other[2]) < 9 and one[0] < other[1] and other[0] < one[1]


def test_what_is_cut_of_an_axis() -> None:
    """By hand: two phases of 200 and 100 min, 4000 apart; a mark near the first's end joins it."""
    spans = kept([(0, 200), (4200, 4300), (215, 255)], (0, 4300))
    assert spans == [(0, 255), (4200, 4300)]
    assert kept([(0, 100), (150, 200)], (0, 230)) == [(0, 230)]
    assert kept([], (0, 100)) == [(0, 100)]
    axis = TimeAxis(spans, 0, 355 + CUT)
    assert [axis.x(at) for at in (0, 255, 4200, 4300)] == [0, 255, 255 + CUT, 355 + CUT]
    assert axis.cuts == [(255, 255 + CUT)]
    assert axis.x(1000) == 255 + CUT / 2
    assert not axis.shows(1000)
    assert axis.shows(4250)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("heaters: {light: {power_w: 200, on_below_c: 5}}", "two set points"),
        ("heaters: {light: {power_w: 9, on_below_c: 5, off_above_c: 5}}", "on_below_c is below"),
        ("measured: [{at_min: 0, measured_c: 5}]", "two samples"),
        ("measured: [{at_min: 0, measured_c: 5}, {at_min: 9, measured_c: 4}]", "stand instead"),
        ("limit_high: {value_c: -30, source: x}", "limit_low is below"),
        ("limit_low: {value_c: -20}", "source"),
        ("start_c: -300", "273"),
        ("source: ''", "name their source"),
    ],
)
def test_bad_thermal_data(change: str, words: str) -> None:
    key = change.partition(":")[0]
    raw = merged({k: v for k, v in text_of(H6).items() if k != key}, text_of(change))
    with pytest.raises(ValueError, match=words):
        Thermal.model_validate(raw)


def test_the_chance_to_be_late_by_the_estimate() -> None:
    """What is asked of the samples is the time from the loss to the estimate's latest moment."""
    arguments = ["outages", *DEMO, "--estimates", "--json"]
    done = json.loads(CliRunner().invoke(commands, [*arguments, "--runs", "400"]).stdout)
    (loss,) = (loss for row in done["zones"] for loss in row["losses"])
    assert loss["chance_over_estimate"] == 0.0, "nearly six hours are enough for one"
    plain = json.loads(CliRunner().invoke(commands, [*arguments, "--runs", "0"]).stdout)
    assert [x["chance_over_estimate"] for row in plain["zones"] for x in row["losses"]] == [None]
    run = inputs.replayed(DEMO[0], tuple(DEMO[1:]), False, 0)
    asked: list[float] = []

    def share(limit_s: float) -> float:
        asked.append(limit_s)
        return 0.25

    beyond = dict.fromkeys(range(len(run.account.outages)), share)
    report = zones_report(run.account, run.sources, beyond)
    (row,) = (row for zone in report.zones for row in zone.losses)
    assert row.chance_over_estimate == 0.25
    assert row.estimated_by_min is not None
    assert asked == [pytest.approx((row.estimated_by_min - row.from_min) * 60, abs=1)]


SLOW = "{services: {light: {recovery_min: 120}}}"


def test_the_estimate_goes_on_while_a_heater_recovers() -> None:
    """On again after 62 min, the last act of the plan; with power only 120 min later."""
    steps = "[[{switch_off: SW1}, {wait: 60}, {switch_on: SW1}]]"
    result = replayed(H6, steps, SLOW)
    (zone,) = estimated(result).zones
    (loss,) = zone.losses
    spell = result.outages[0]
    assert spell.to_s == result.trace.end_s + 7200
    assert zone.to_s == loss.lowest_at_s == spell.to_s
    cold = -60 + 80 * exp(-(spell.to_s - spell.from_s) / 22_500)
    assert loss.lowest_c == pytest.approx(cold, abs=WATCH_S)
    assert zone.lowest == (loss.lowest_c, loss.lowest_at_s)


def test_reconnect_by_the_estimate_takes_off_the_recovery() -> None:
    """4.3322 h to the limit, two of which it recovers."""
    (zone,) = estimated(replayed(H6, DARK, SLOW)).zones
    (loss,) = zone.losses
    assert loss.may_last_s == loss.to_limit_s is not None
    assert loss.estimated_by_s is not None
    assert (loss.estimated_by_s - loss.at_s) / 3600 == pytest.approx(2.3322, abs=5e-5)


def test_a_zone_has_no_power_while_what_its_heater_needs_recovers() -> None:
    """The heater itself recovers at once, but counts as back only when what it needs does."""
    more = (
        "{services: {main: {kind: power, load: LAMP, feeds: SRC, recovery_min: 120}, "
        "light: {needs: main}}}"
    )
    result = replayed(H6, DARK, more)
    (zone,) = estimated(result).zones
    (loss,) = zone.losses
    spell = result.outages[loss.outage]
    assert spell.to_s is not None
    assert spell.to_s - spell.from_s == 62 * 60 + 7200
    assert loss.lowest_at_s == spell.to_s
    cold = -60 + 80 * exp(-(spell.to_s - spell.from_s) / 22_500)
    assert loss.lowest_c == pytest.approx(cold, abs=WATCH_S)


def test_back_later_than_the_limit_may_be_reached_is_a_warning() -> None:
    """From 20 °C 4.33 h to the limit; from the lower set point, 5 °C, 3.03 h: dark for 3:22."""
    watched = H6.replace("{power_w: 200}", "{power_w: 400, on_below_c: 5, off_above_c: 21}")
    steps = "[[{switch_off: SW1}, {wait: 200}, {switch_on: SW1}], [{wait: 60}]]"
    told = found(replayed(watched, steps))
    finding = told["zone-may-be-too-cold"]
    assert "zone-too-cold" not in told
    assert finding.severity is Severity.WARNING
    hours = 6.25 * log(65 / 40)
    assert f"at {clock_down(int(hours * 3600))} and light is back at 3:22" in finding.found
    assert finding.source == "own case H6"
    short = steps.replace("200", "60")
    assert "zone-may-be-too-cold" not in found(replayed(watched, short))


THERMOSTAT_FITTED = """
source: own case
sink_c: -40
start_c: 12
heaters: {light: {power_w: 60, on_below_c: 10, off_above_c: 15}}
limit_low: {value_c: -20, source: own case}
measured: [{at_min: 0, measured_c: 5}, {at_min: 60, measured_c: 0}]
"""
"""Two samples tell how fast it cools; how fast it warms nobody says."""


def test_a_recovery_nobody_can_know_is_not_never() -> None:
    result = replayed(THERMOSTAT_FITTED, DARK)
    (zone,) = estimated(result).zones
    assert [loss.recovered_s for loss in zone.losses] == [None]
    note = found(result)["zone-not-judged"]
    assert note.severity is Severity.NOTE and "heat_capacity_j_per_k is missing" in note.found
    known = replayed(THERMOSTAT_FITTED + "heat_capacity_j_per_k: 20000\n", DARK)
    (zone,) = estimated(known).zones
    assert zone.losses[0].recovered_s is not None
    assert "zone-not-judged" not in found(known)


@pytest.mark.parametrize(
    ("points", "way_out"),
    [
        ("", "a set point at which its heater goes off"),
        (
            ", on_below_c: 45, off_above_c: 50",
            "a set point below 50 °C at which its heater goes off",
        ),
    ],
)
def test_too_hot_names_the_set_point_there_is(points: str, way_out: str) -> None:
    hot = H6.replace("power_w: 200", f"power_w: 900{points}")
    hot += "limit_high: {value_c: 40, source: own case}\n"
    assert found(replayed(hot, "[[{wait: 600}]]"))["zone-too-hot"].way_out == way_out


def test_a_loss_before_the_replay_is_told_as_outages_tells_it() -> None:
    """Off in the baseline, and dark for 15 minutes: down at -0:15 in both tables."""
    more = "{now: {on: ~, off: [SW1], dark_min: {light: 15}}}"
    result = replayed(H6, "[[{wait: 60}, {switch_on: SW1}]]", more)
    (loss,) = zones_report(result, [Source("b.yaml"), Source("p.yaml")]).zones[0].losses
    assert (loss.from_min, loss.from_pet.pet) == (-15, "-0:15")
