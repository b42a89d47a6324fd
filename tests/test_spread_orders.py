"""The spread equals replaying each sampled order from scratch.

Random hardware, random work of three people side by side, random durations: each run is replayed
whole by the fold, its outages and clocks read by the rules of a single replay, and that is held
against what the tables say of the same run.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from generate import Bench, Dice, Driver, benches
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small import AJAR, BENCH, baseline, procedure, text_of
from test_demos import OUTPOST, SEABED
from test_demos import told as told_of

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Findings
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.order import LIKELY, predecessors, time_phase
from cablewalk.schedule.tasks import Task
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.clocks import read_clocks
from cablewalk.timeline.spells import outages_of
from cablewalk.timeline.spread_clocks import read
from cablewalk.timeline.spread_courses import Judge
from cablewalk.timeline.spread_engine import Engine
from cablewalk.timeline.spread_times import draw, streams, times_of
from cablewalk.units import seconds
from cablewalk.walk.fold import Fold
from cablewalk.walk.trace import Trace

Row = tuple[Any, ...]


def from_scratch(result: Account, durations: dict[tuple[int, int], int]) -> list[Row]:
    """Replay with these durations; return (service, lost by, from, to, retired, clocks) rows.

    A clock is what was used before, what this outage uses, and what is left, where it ran.
    """
    config = result.trace.start.copy()
    trace = Trace(result.trace.wiring, config.copy(), ())
    fold = Fold(trace, config, True)
    at = result.trace.phases[0].start_s
    for phase, old in enumerate(result.trace.phases):
        gap = seconds(old.plan.procedure.gap_min or 0) if phase else 0
        before = predecessors(old.plan, Findings())
        assert before is not None

        def length(task: Task) -> int:
            return durations[(task.phase, task.serial)]

        timed = time_phase(old.plan, before, at + gap, length)
        for moment in timed.moments:
            fold.moment(moment, timed.plan)
        trace.phases.append(timed)
        at = timed.end_s
    trace.end_s = at
    base = result.ground.baseline
    spells = outages_of(trace, base.now)
    readings = read_clocks(base, trace, spells)
    rows: list[Row] = []
    for n, spell in enumerate(spells):
        lost = spell.lost_by
        key = None if lost is None else (lost.task.phase, lost.task.serial, lost.begins)
        clocks = tuple(
            (r.used_before_s, r.used_s, r.margin_s if r.used_s else None) for r in readings[n]
        )
        rows.append((spell.service, key, spell.from_s, spell.to_s, spell.retired, clocks))
    return sorted(rows, key=repr)


def by_tables(result: Account, engine: Engine, times: Any) -> list[list[Row]]:
    """Return the same for every run, as the engine of the spread tells it."""
    rows: list[list[Row]] = [[] for _ in range(times.runs)]
    events = engine.network.events
    for told in engine.told(times):
        part, facts = told.part, told.facts
        readings = [read(k, part, told.course, facts, times) for k in range(len(facts.clocks))]
        for k, dark in enumerate(part.outages):
            key = None
            if dark.lost != NONE:
                event = events[dark.lost]
                key = (event.task.phase, event.task.serial, event.begins)
            is_last = k == len(part.outages) - 1
            for n, run in enumerate(part.rows):
                still = 0
                if is_last and dark.to_s is None and told.still_s is not None:
                    still = int(told.still_s[n])
                clocks = tuple(
                    (
                        int(r[k].before_s[n]),
                        int(r[k].used_s[n]),
                        seconds(clock.allowed_min) - int(r[k].total_s[n]) - still
                        if r[k].used_s[n]
                        else None,
                    )
                    for clock, r in zip(facts.clocks, readings, strict=True)
                )
                to_s = None if dark.to_s is None else int(dark.to_s[n])
                rows[run].append(
                    (facts.service, key, int(dark.from_s[n]), to_s, dark.retired, clocks)
                )
    return [sorted(each, key=repr) for each in rows]


def compare(base: Baseline, procedures: list[Procedure], runs: int, seed: int) -> Engine | None:
    result = account(base, procedures, keep_going=True)
    if result.trace.unusable:
        return None
    engine = Engine(result)
    shapes = [p.spread or "triangular" for p in procedures]
    durations = draw(engine.network, shapes, runs, streams(engine.network, seed))
    times = times_of(engine.network, result.trace.phases, durations)
    told = by_tables(result, engine, times)
    for run in range(runs):
        lengths = {
            (task.phase, task.serial): int(durations[k, run])
            for k, task in enumerate(engine.network.tasks)
        }
        assert told[run] == from_scratch(result, lengths), f"run {run}"
    assert not engine.given_up
    return engine


@st.composite
def work(draw: st.DrawFn) -> tuple[Bench, list[dict[str, Any]]]:
    """Return random hardware and a random plan that is possible in document order."""
    bench = draw(benches())
    driver = Driver(draw, bench.ground)
    dice = Dice(draw)
    names = {(driver.crews[0]): ["w1"], driver.crews[1]: ["w2"], driver.crews[3]: ["g"]}
    names[driver.crews[2]] = ["w1", "w2"]
    steps: list[dict[str, Any]] = []
    for number in range(dice.count(3, 9)):
        crew = dice.pick([driver.crews[0], driver.crews[1], driver.crews[0], *driver.crews[1:]])
        legal = driver.legal(crew)
        if not legal:
            continue
        telling = [v for v in legal if v in TELLING]
        verb = dice.pick(telling if telling and dice.chance(75) else sorted(legal))
        action, effect = dice.pick(legal[verb])
        for changes in (effect.begin, effect.end):
            driver.config.apply(changes)
            driver.continuity.update(changes)
        low, more, most = dice.count(0, 3), dice.count(0, 2), dice.count(0, 3)
        minutes = [low / 4, (low + more) / 4, (low + more + most) / 4]
        step: dict[str, Any] = {
            "id": f"s{number}",
            "by": names[crew],
            "do": [{**action.model_dump(exclude_unset=True), "minutes": minutes}],
        }
        if steps and dice.chance(35):
            step["after"] = [dice.pick(steps)["id"]]
        if steps and "after" not in step and dice.chance(10):
            step["lead_min"] = {dice.pick(steps)["id"]: dice.count(0, 2) / 4}
        if dice.chance(10):
            step["not_before"] = f"0:0{dice.count(0, 3)}"
        steps.append(step)
    return bench, steps


def verifies(dice: Dice, services: list[str], who: list[str], at: int) -> list[dict[str, Any]]:
    """Return steps in which somebody verifies some services, ``at`` for their ids."""
    found: list[dict[str, Any]] = []
    for name in services:
        for _ in range(dice.pick([0, 0, 1, 2])):
            low, more, most = dice.count(0, 3), dice.count(0, 2), dice.count(0, 6)
            minutes = [low / 4, (low + more) / 4, (low + more + most) / 4]
            do: list[dict[str, Any]] = [{"verify": name, "minutes": minutes}]
            if dice.chance(50):
                do.insert(0, {"wait": dice.count(0, 6) / 4})
            found.append({"id": f"v{at + len(found)}", "by": dice.pick(who), "do": do})
    return found


def dark_before(dice: Dice, services: list[str]) -> dict[str, float]:
    """Return minutes that some services are said to have been dark."""
    return {name: dice.pick([0.0, 2.5, 4.0]) for name in services if dice.chance(50)}


def clocks_before(dice: Dice, services: dict[str, Any]) -> dict[str, Any]:
    """Return what is said of how the clocks of some services stand."""
    used = {
        name: tuple(dice.pick([0.0, 0.5, 2.0]) for _ in row["clocks"])
        for name, row in services.items()
        if dice.chance(50)
    }
    demated = {name: dice.pick([None, 0.0, 1.5]) for name in services if dice.chance(50)}
    up = {name: dice.pick([0.25, 0.75, 3.0]) for name in services if dice.chance(50)}
    return {"used_min": used, "demated_min": demated, "up_min": up}


TELLING = ("demate", "mate", "switch_off", "switch_on", "fit_cap", "remove_cap", "seat", "lock")


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(work(), st.integers(0, 5), st.data())
def test_each_run_equals_its_replay(
    case: tuple[Bench, list[dict[str, Any]]], seed: int, data: st.DataObject
) -> None:
    bench, steps = case
    document = dict(bench.document)
    first = next(iter(document["services"]), "")
    leaning = data.draw(st.booleans())
    document["services"] = {
        name: {
            **row,
            **({"needs": [first]} if leaning and name != first else {}),
            "recovery_min": data.draw(st.sampled_from([0, 0, 0.5, 2])),
            "clocks": [
                {
                    "allowed_min": 3,
                    "source": "invented",
                    "starts": data.draw(st.sampled_from(["power_off", "demate"])),
                    "resets_after_up_min": data.draw(st.sampled_from([None, 0.5, 1])),
                }
                for _ in range(data.draw(st.integers(1, 2)))
            ],
        }
        for name, row in document["services"].items()
    }
    if data.draw(st.booleans()):
        dice, services = Dice(data.draw), list(document["services"])
        seen = [name for name in services if dice.chance(40)]
        dark = {"dark_min": dark_before(dice, services), "found_down": seen}
        document["now"] = {**document["now"], **dark}
        for step in verifies(dice, services, ["g", "w2"], len(steps)):
            steps.insert(dice.count(0, len(steps)), step)
    told = clocks_before(Dice(data.draw), document["services"])
    document["now"] = {**document["now"], **told}
    half = len(steps) // 2
    parts = [steps] if data.draw(st.booleans()) or half == 0 else [steps[:half], steps[half:]]
    known = [{step["id"] for step in part} for part in parts]
    for part, names in zip(parts, known, strict=True):
        for step in part:
            step["after"] = [name for name in step.get("after", []) if name in names]
            step["lead_min"] = {k: v for k, v in step.get("lead_min", {}).items() if k in names}
    procedures = [
        Procedure.model_validate(
            {
                "cablewalk": "1",
                "procedure": f"p{n}",
                "minutes": 1,
                "gap_min": 1 if n else None,
                "spread": data.draw(st.sampled_from(["beta", "triangular"])),
                "steps": part,
            }
        )
        for n, part in enumerate(parts)
    ]
    compare(Baseline.model_validate(document), procedures, 10, seed)


# -- four people at one lamp: nearly everything can happen in another order --------------

CROSSED = """
interfaces: {p3: 3}
places:
  bench:
    units:
      S1: {kind: source, terminals: hi ret d, feeds: {F1: {hi: hi, ret: ret, volts: 28,
           switches: [SW1, SW2]}}}
      S2: {kind: source, terminals: hi ret, feeds: {F2: {hi: hi, ret: ret, volts: 28,
           switches: SW3, parallel_with: F1}}}
      L1: {kind: load, terminals: hi ret d}
      L2: {kind: load, terminals: hi ret d}
    switches: [SW1, SW2, SW3]
    halves:
      A0: p3 socket S1.hi S1.ret S1.d
      B0: p3 socket S1.hi S1.ret S1.d
      C0: p3 socket S2.hi S2.ret
      A9: p3 socket L1.hi L1.ret L1.d
      B9: p3 socket L1.hi L1.ret L1.d
      C9: p3 socket L2.hi L2.ret L2.d
      D0: p3 socket L1.hi L1.ret L1.d
      D9: p3 socket L2.hi L2.ret L2.d
harnesses:
  WA: [A1 p3 pin, A2 p3 pin]
  WB: [B1 p3 pin, B2 p3 socket]
  WE: [E1 p3 pin, E2 p3 pin]
  WC: [C1 p3 pin, C2 p3 pin]
  WD: [D1 p3 pin, D2 p3 pin]
people: {ada: outside, bob: outside, gus: ground, ivy: inside}
services:
  one: {kind: power, need: 1, strings: {a: {load: L1, feeds: [F1], through: [A1]},
        b: {load: L1, feeds: [F1], through: [B1]}}}
  two: {kind: power, load: L2, feeds: [F2]}
  far: {kind: data, lines: S1.d to L2.d, needs: [one]}
  twin: {kind: data, need: 1, strings: {a: {lines: S1.d to L1.d through A1},
         b: {lines: S1.d to L1.d through B2}}}
  late: {kind: data, lines: L1.d to L2.d, begins: established}
now:
  on: [SW1, SW2, SW3]
  mated: {A1: A0, A2: A9, B1: B0, E1: B2, E2: B9, C1: C0, C2: C9, D1: D0, D2: D9}
"""
MATES = {"A1": "A0", "A2": "A9", "B1": "B0", "E1": "B2", "C1": "C0", "C2": "C9", "D1": "D0"}


@st.composite
def crossed(
    draw: st.DrawFn,
) -> tuple[dict[str, Any], dict[str, Any], list[dict[str, Any]]]:
    """Return what the baseline says of the services, which are dark, and four people's steps."""
    dice = Dice(draw)
    more = {
        name: {
            "recovery_min": dice.pick([0, 0, 0.5, 2]),
            "clocks": [
                {
                    "allowed_min": 3,
                    "source": "invented",
                    "starts": dice.pick(["power_off", "demate"]),
                    "resets_after_up_min": dice.pick([None, 0.5, 1]),
                }
            ],
        }
        for name in ("one", "two", "far", "twin", "late")
    }
    owner = {half: dice.pick(["ada", "bob"]) for half in MATES}
    switch = {name: dice.pick(["gus", "ivy"]) for name in ("SW1", "SW2", "SW3")}
    lines: dict[str, list[dict[str, Any]]] = {name: [] for name in ("ada", "bob", "gus", "ivy")}
    for half in MATES:
        for _ in range(dice.pick([0, 1, 1, 0])):
            lines[owner[half]].append({"demate": half})
            lines[owner[half]].append({"mate": {half: MATES[half]}})
    for name, who in switch.items():
        for n in range(dice.pick([0, 1, 2])):
            lines[who].append({"switch_on" if n % 2 else "switch_off": name})
    if dice.chance(20):
        lines["gus"].append({"retire": dice.pick(["one", "two", "late"])})
    said: dict[str, Any] = {}
    if dice.chance(60):
        seen = [name for name in more if dice.chance(30)]
        said = {"dark_min": dark_before(dice, list(more)), "found_down": seen}
        for seeing in verifies(dice, list(more), ["gus", "ivy"], 0):
            lines[seeing["by"]] += seeing["do"]
    steps: list[dict[str, Any]] = []
    while any(lines.values()):
        who = dice.pick([name for name, left in lines.items() if left])
        taken = [lines[who].pop(0) for _ in range(min(len(lines[who]), dice.count(1, 2)))]
        for action in taken:
            low, more_, most = dice.count(0, 3), dice.count(0, 2), dice.count(0, 3)
            if "wait" not in action:
                action["minutes"] = [low / 4, (low + more_) / 4, (low + more_ + most) / 4]
        step: dict[str, Any] = {"id": f"s{len(steps)}", "by": who, "do": taken}
        if steps and dice.chance(15):
            step["after"] = [dice.pick(steps)["id"]]
        steps.append(step)
    return more, said, steps


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(crossed(), st.integers(0, 5), st.sampled_from(["beta", "triangular"]))
def test_each_run_of_four_people_equals_its_replay(
    case: tuple[dict[str, Any], dict[str, Any], list[dict[str, Any]]], seed: int, shape: str
) -> None:
    more, said, steps = case
    raw = text_of(CROSSED)
    raw["now"] |= said
    for name, facts in more.items():
        raw["services"][name] |= facts
    base = Baseline.model_validate({"cablewalk": "1", "baseline": "crossed", **raw})
    document = {"cablewalk": "1", "procedure": "work", "minutes": 1, "spread": shape}
    plan = Procedure.model_validate({**document, "steps": steps})
    engine = compare(base, [plan], 10, seed)
    assert engine is not None
    assert not engine.refused, "each item is one person's: nothing is impossible in any order"


HELD = """
places:
  bench:
    units: {S2: {kind: source, volts: 28, switches: SW2}, GLOW: load}
    halves: {K1: p2 socket S2.hi S2.ret, K2: p2 pin GLOW.hi GLOW.ret}
harnesses: {W3: [M1 p2 pin, M2 p2 socket]}
services:
  light: {recovery_min: 1, clock: {allowed_min: 8, source: invented}}
  glow: {kind: power, load: GLOW, feeds: S2, needs: light, recovery_min: 2,
         clock: {allowed_min: 8, source: invented}}
  third: {kind: power, load: GLOW, feeds: S2, needs: [light, glow], recovery_min: 0.5,
          clock: {allowed_min: 8, source: invented, resets_after_up_min: 1}}
now: {dark_min: {light: 3}, on: [SW1, SW2], mated: {P1: J1, P2: J2, M1: K1, M2: K2},
      off: ~}
"""


@pytest.mark.parametrize(
    ("ada", "gus"),
    [
        ("{switch_off: SW2}, {switch_on: SW2}", "{verify: light}"),
        ("{switch_off: SW1}, {switch_on: SW1}", "{verify: light}, {verify: light}"),
        ("{switch_off: SW1}", "{verify: light}"),
        ("{inspect: J3}, {retire: glow}, {switch_off: SW1}", "{verify: light}, {wait: 1}"),
        ("{inspect: J3}, {retire: light}", "{verify: light}"),
    ],
    ids=["what needs it is off", "it is off", "off for good", "needing retired", "retired"],
)
def test_what_is_held_dark_is_so_until_the_verify_of_its_own_order(ada: str, gus: str) -> None:
    """The verify may come before, amid or after what ada does, and fail for it."""
    plan = procedure(
        f"[{{by: ada, do: [{{inspect: J4}}, {ada}, {{inspect: J4}}]}},"
        f" {{by: gus, do: [{{wait: 2}}, {gus}]}}]",
        minutes=[1, 2, 6],
        spread="triangular",
    )
    engine = compare(baseline(AJAR, HELD), [plan], 150, 3)
    assert engine is not None
    told = [judge for facts, judge in engine._judges if facts.is_held]
    assert len(told) == 3
    assert not engine.refused


def test_what_is_held_dark_while_hands_get_in_each_others_way_is_replayed() -> None:
    """Bob can take P1 off only once ada is done with it, and the verify falls anywhere."""
    plan = procedure(
        "[{by: ada, do: [{demate: P1}, {mate: {P1: J1}}]},"
        " {by: bob, do: [{wait: 6}, {demate: P1}, {mate: {P1: J1}}]},"
        " {by: gus, do: [{wait: 3}, {verify: light}, {wait: 2}, {verify: light}]}]",
        minutes=[1, 2, 6],
        spread="triangular",
    )
    engine = compare(baseline(AJAR, HELD), [plan], 60, 3)
    assert engine is not None
    services = engine.account.trace.wiring.services
    assert {"light", "glow"} <= {services[n].id for n in engine.mixed}
    assert engine.refused


def test_what_is_held_dark_and_has_too_many_orders_goes_along_the_likely_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("cablewalk.orders.table.SETS_AT_MOST", 2)
    steps = (
        "[{by: ada, do: [{wait: 5}, {switch_off: SW1}, {switch_on: SW1}]},"
        " {by: gus, do: [{wait: 2}, {verify: light}, {wait: 9}]}]"
    )
    result = account(baseline(AJAR, HELD), [procedure(steps, minutes=[1, 2, 6])])
    engine = Engine(result)
    services = result.trace.wiring.services
    assert "light" in [services[n].id for n in engine.not_judged]
    likely = [[task.durations_s[LIKELY]] for task in engine.network.tasks]
    times = times_of(engine.network, result.trace.phases, np.array(likely, np.int32))
    found = {
        (one.facts.service, int(dark.from_s[0]), None if dark.to_s is None else int(dark.to_s[0]))
        for one in engine.told(times)
        for dark in one.part.outages
    }
    assert found == {(s.service, s.from_s, s.to_s) for s in result.outages}
    by_hand = {("light", -3, 4), ("light", 5, 10), ("glow", 0, 12), ("third", 0, 12.5)}
    assert {(services[n].id, a / 60, b / 60) for n, a, b in found if b} == by_hand


TWO_STRINGS = """
harnesses: {W3: [A1 p2 pin, A2 p2 pin], W4: [B1 p2 pin, B2 p2 pin]}
places:
  bench:
    halves: {K1: p2 socket SRC.hi SRC.ret, K2: p2 socket LAMP.hi LAMP.ret,
             L1: p2 socket SRC.hi SRC.ret, L2: p2 socket LAMP.hi LAMP.ret}
now: {mated: {A1: K1, A2: K2, B1: L1, B2: L2, P1: ~, P2: ~}, bare: [J1, J2, P1, P2],
      loose: {P1: bench, P2: bench}}
services:
  light: {load: ~, feeds: ~, need: 1, clock: {allowed_min: 4, source: invented},
          strings: {a: {load: LAMP, feeds: [SRC], through: [A1]},
                    b: {load: LAMP, feeds: [SRC], through: [B1]}}}
"""


def test_two_strings_are_down_together_in_some_orders_only() -> None:
    """Ada is done with one string before bob begins with the other, unless she is slow."""
    plan = procedure(
        "[{by: ada, do: [{demate: A1}, {mate: {A1: K1}}]},"
        " {by: bob, do: [{wait: 9}, {demate: B1}, {mate: {B1: L1}}]}]",
        minutes=[2, 4, 9],
        spread="beta",
    )
    engine = compare(baseline(BENCH, TWO_STRINGS), [plan], 120, 3)
    assert engine is not None
    assert not engine.account.outages, "nominally one string is always left"


def test_what_is_possible_in_one_order_only_is_replayed() -> None:
    """Bob mates J3 with what ada takes off it: impossible where he comes first."""
    plan = procedure(
        "[{by: ada, do: [{remove_cap: C3}]}, {by: bob, do: [{wait: 3}, {inspect: J3},"
        " {fit_cap: {C3: J3}}]}, {by: gus, do: [{switch_off: SW1}, {switch_on: SW1}]}]",
        minutes=[1, 2, 6],
        spread="triangular",
    )
    engine = compare(baseline(), [plan], 60, 3)
    assert engine is not None
    assert engine.variable
    assert engine.refused


@pytest.mark.parametrize("phases", [1, 2])
def test_equal_times_go_by_the_schedule(phases: int) -> None:
    """Nothing varies: all is one order, full of ties."""
    plan = procedure(
        "[{by: [ada, bob], do: [{inspect: J1}]}, {by: ada, do: [{switch_off: SW1}]},"
        " {by: bob, do: [{demate: P2}, {mate: {P2: J2}}]}, {by: gus, do: [{switch_on: SW1}]}]",
        spread="beta",
    )
    rest = plan.model_copy(update={"procedure": "again", "gap_min": 3.0})
    engine = compare(baseline(), [plan, rest][:phases], 3, 1)
    assert engine is not None


WIDE = """
[{by: ada, do: [{demate: A1}, {mate: {A1: K1}}, {demate: A1}, {mate: {A1: K1}}]},
 {by: bob, do: [{demate: B1}, {mate: {B1: L1}}, {demate: B1}, {mate: {B1: L1}}]}]
"""


@pytest.mark.parametrize("settled", [{"TABLE": 0}, {"TABLE": 0, "_FORMS": ()}, {"FEW": 0}, {}])
def test_orders_are_told_apart_the_same_however_coded(
    monkeypatch: pytest.MonkeyPatch, settled: dict[str, object]
) -> None:
    """Codes looked up or sorted, or no codes at all where they would be too long."""
    for name, value in settled.items():
        monkeypatch.setattr(f"cablewalk.timeline.spread_courses.{name}", value)
    plan = procedure(WIDE, minutes=[0.1, 0.2, 0.5], spread="triangular")
    engine = compare(baseline(BENCH, TWO_STRINGS), [plan], 150, 5)
    assert engine is not None
    judges = [judge for _, judge in engine._judges if isinstance(judge, Judge)]
    (judge,) = (judge for judge in judges if judge.grouping.later)
    assert judge.orders > 8, "several orders, some of them with ties, came about"


@pytest.mark.parametrize("names", [OUTPOST, SEABED], ids=["outpost", "seabed"])
def test_with_the_likely_minutes_a_demo_has_the_outages_of_its_replay(
    names: tuple[str, ...],
) -> None:
    """Recoveries of what a service needs included: the sea-bed node takes 45 minutes to start."""
    plan = told_of(names)
    engine = Engine(plan)
    likely = [[task.durations_s[LIKELY]] for task in engine.network.tasks]
    times = times_of(engine.network, plan.trace.phases, np.array(likely, np.int32))
    found = {
        (one.facts.service, int(dark.from_s[0]), None if dark.to_s is None else int(dark.to_s[0]))
        for one in engine.told(times)
        for dark in one.part.outages
    }
    assert found == {(s.service, s.from_s, s.to_s) for s in plan.outages}
    late = {s.service for s in plan.outages if s.restored_by and s.to_s != s.restored_by.time_s}
    assert late or names == OUTPOST
