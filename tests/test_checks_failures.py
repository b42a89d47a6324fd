"""Single failures: against removal by force on random hardware, and published examples."""

from __future__ import annotations

from typing import Any

import pytest
from generate import Bench, Driver, benches
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small import text_of

from cablewalk.checks.failures import Element, Failures, elements, takers
from cablewalk.continuity.graph import BARE
from cablewalk.continuity.services import Continuity
from cablewalk.continuity.verdict import Standing
from cablewalk.documents.baseline import Baseline
from cablewalk.replay.attempt import SWITCH
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.walk.run import ready

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


def _left(config: Configuration, dead_switch: int = NONE) -> set[int]:
    """Return the services that enough strings could carry: everything worked out afresh."""
    wiring = config.wiring
    continuity = Continuity(config)
    good: set[int] = set()
    for n in wiring.service_order:
        row = wiring.services[n]
        count = sum(
            continuity.verdicts[s].standing is not Standing.DOWN
            and (dead_switch == NONE or wiring.strings[s].selected_by != dead_switch)
            for s in row.strings
        )
        if count >= row.need:
            good.add(n)
    return good


def _by_force(start: Configuration, element: Element) -> set[int]:
    """Return the services left when an element is really taken away."""
    config = start.copy()
    wiring = config.wiring
    if element.kind == "switch":
        config.state[element.number] = SWITCH["off"]
        return _left(config, element.number)
    if element.kind == "feed":
        row = wiring.feeds[element.number]
        kept, row.input = row.input, (row.hi, row.hi)  # an input that is shorted feeds nothing
        try:
            return _left(config)
        finally:
            row.input = kept
    for half in element.pairs:
        mate = config.link[half]
        if mate != NONE:
            for one in (half, mate):
                config.state[one], config.link[one] = BARE, NONE
    return _left(config)


def _carried(config: Configuration) -> set[int]:
    """Return the services that are alive and carried, whatever those they need do."""
    return {n for n in _left(config) if config.life[n] == ALIVE}


def _with_needs(config: Configuration, alive: set[int], lost: set[int]) -> set[int]:
    lost = set(lost)
    for n in config.wiring.service_order:
        if n in alive and not lost.isdisjoint(config.wiring.services[n].needs):
            lost.add(n)
    return lost


@settings(max_examples=60, suppress_health_check=SLOW)
@given(benches(), st.data())
def test_against_removal_by_force(bench: Bench, data: Any) -> None:
    driver = Driver(data.draw, bench.ground)
    for _happened in driver.events(2, overlap=False):
        pass
    config = driver.config
    alive = _carried(config)
    failures = Failures(config)
    for element in failures.elements:
        expected = _with_needs(config, alive, alive - _by_force(config, element))
        assert set(failures.takes(element)) == expected, element
    assert failures.config == config, "trying leaves everything as it was"


BRIDGE = """
cablewalk: 1
baseline: bridge
interfaces: {p1: 1}
places:
  bench:
    halves: {S1: p1 socket S.x, S2: p1 socket S.x, T4: p1 socket T.x, T5: p1 socket T.x}
    units: {S: {kind: load, terminals: x}, T: {kind: load, terminals: x}}
harnesses:
  WA: [A1 p1 pin, A3 p1 pin, A4 p1 pin]
  WB: [B2 p1 pin, B3 p1 socket, B5 p1 pin]
services: {line: {kind: data, lines: S.x to T.x}}
now: {mated: {A1: S1, B2: S2, A3: B3, A4: T4, B5: T5}}
"""
EDGES = {"1": "A1", "2": "B2", "3": "A3", "4": "A4", "5": "B5"}
"""Edge of the bridge to the half at it: 1, 2 at the source, 3 the bridge, 4, 5 at the sink."""


def _alone(text: str, lost: str = "") -> set[str]:
    """Return the edges whose loss alone takes the line, one edge being lost already."""
    raw = text_of(text)
    if lost:
        del raw["now"]["mated"][EDGES[lost]]
    ground = ready(Baseline.model_validate(raw))
    failures = Failures(ground.config)
    # the line begins alive in the baseline
    names = {e.name.split("/")[0] for _, e in failures.single() if e.kind == "connector"}
    return {edge for edge, half in EDGES.items() if half in names}


def test_against_the_published_bridge() -> None:
    """Minimal cuts {1,2} {4,5} {1,3,5} {2,3,4}: check-values.md, R3 (theorem seen)."""
    assert _alone(BRIDGE) == set()
    cuts = [{"1", "2"}, {"4", "5"}, {"1", "3", "5"}, {"2", "3", "4"}]
    for lost in EDGES:
        after = [cut - {lost} for cut in cuts]
        assert _alone(BRIDGE, lost) == {edge for cut in after if len(cut) == 1 for edge in cut}


def _k_of_n(need: int, strings: int, lost: int) -> dict[int, list[Element]]:
    halves = "".join(f"JS{n}: p1 socket S{n}.x, JT{n}: p1 socket T{n}.x, " for n in range(strings))
    units = "".join(
        f"S{n}: {{kind: load, terminals: x}}, T{n}: {{kind: load, terminals: x}}, "
        for n in range(strings)
    )
    rows = "".join(f"s{n}: {{lines: S{n}.x to T{n}.x}}, " for n in range(strings))
    cables = "".join(f"W{n}: [A{n} p1 pin, B{n} p1 pin], " for n in range(strings))
    mated = "".join(f"A{n}: JS{n}, B{n}: JT{n}, " for n in range(strings) if n >= lost)
    text = (
        f"{{cablewalk: 1, baseline: b, interfaces: {{p1: 1}}, places: {{bench: {{halves: "
        f"{{{halves}}}, units: {{{units}}}}}}}, harnesses: {{{cables}}}, services: "
        f"{{v: {{kind: data, need: {need}, strings: {{{rows}}}}}}}, now: {{mated: {{{mated}}}}}}}"
    )
    return takers(ready(Baseline.model_validate(text_of(text))).config)


def test_against_three_of_four() -> None:
    """3 of 4 (MIL-HDBK-338B, check-values.md R1): one loss is borne, a second is not."""
    assert _k_of_n(3, 4, 0) == {}
    (found,) = _k_of_n(3, 4, 1).values()
    assert {e.name for e in found if e.kind == "harness"} == {"W1", "W2", "W3"}
    assert _k_of_n(3, 4, 2) == {}, "what is down already is taken by nothing"


@pytest.mark.parametrize("need", [1, 2])
def test_a_service_with_two_to_spare(need: int) -> None:
    assert _k_of_n(need, need + 2, 1) == {}
    assert len(_k_of_n(need, need + 2, 2)) == 1


COVERED = """
cablewalk: 1
baseline: tray
interfaces: {p1: 1}
places:
  bench:
    halves: {JS0: p1 socket S0.x, JT0: p1 socket T0.x, JS1: p1 socket S1.x, JT1: p1 socket T1.x}
    units:
      S0: {kind: load, terminals: x}
      T0: {kind: load, terminals: x}
      S1: {kind: load, terminals: x}
      T1: {kind: load, terminals: x}
    covers:
      LID: {fasteners: 2, over: [JS0], over_segments: UNDER}
harnesses: {W0: [A0 p1 pin, B0 p1 pin], W1: [A1 p1 pin, B1 p1 pin]}
services:
  v: {kind: data, need: 1, strings: {a: {lines: S0.x to T0.x}, b: {lines: S1.x to T1.x}}}
now: {mated: {A0: JS0, B0: JT0, A1: JS1, B1: JT1}}
"""


def test_strings_beneath_one_cover() -> None:
    """One string's connector and the other's cable lie beneath the same cover."""
    both = takers(
        ready(Baseline.model_validate(text_of(COVERED.replace("UNDER", "W1.main")))).config
    )
    assert [[e.kind for e in found] for found in both.values()] == [["cover"]]
    one = takers(
        ready(Baseline.model_validate(text_of(COVERED.replace("UNDER", "W0.main")))).config
    )
    assert one == {}


BRANCHED = COVERED.replace(
    "W1: [A1 p1 pin, B1 p1 pin]",
    "W1: {legs: {A1: p1 pin, B1: p1 pin, D1: p1 pin}, segments: "
    "{a: {between: A1 x}, trunk: {between: x y}, b: {between: B1 y}, d: {between: D1 y}}}",
)


@pytest.mark.parametrize(
    ("under", "found"), [("W1.trunk", ["cover"]), ("W1.a", ["cover"]), ("W1.d", None)]
)
def test_a_cover_over_a_trunk_takes_its_harness_and_one_over_a_leg_that_leg(
    under: str, found: list[str] | None
) -> None:
    both = takers(ready(Baseline.model_validate(text_of(BRANCHED.replace("UNDER", under)))).config)
    assert [[e.kind for e in each] for each in both.values()] == ([found] if found else [])


def test_every_pair_is_one_element() -> None:
    config = ready(Baseline.model_validate(text_of(BRIDGE))).config
    names = [e.name for e in elements(config) if e.kind == "connector"]
    assert sorted(names) == ["A1/S1", "A3/B3", "A4/T4", "B2/S2", "B5/T5"]
