"""What is asked of one item: where it goes, what rides on it, what losing it would do.

Expectations are worked out by hand from the two small baselines below, all names invented; what a
loss would do is also compared with replays in which it really happens.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
import yaml

from cablewalk.continuity.services import State
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.timeline.account import Account, account
from cablewalk.walk.courses import courses
from cablewalk.walk.harness_tree import HarnessTree
from cablewalk.walk.questions import Answer, answer
from cablewalk.walk.scene import Scene, Spot, find_spot, scene_at
from cablewalk.walk.subject import Subject, find_subject
from cablewalk.walk.ways import open_ends

BENCH = """
cablewalk: 1
baseline: bench
interfaces: {p4: 4, d1: 1}
places:
  bench:
    switches: [KM, K1, K2]
    units:
      SRC:
        kind: source
        terminals: a1 r1 a2 r2
        isolated: [[a1, r1], [a2, r2]]
        feeds:
          FA: {hi: a1, ret: r1, volts: 28, switches: [KM, K1]}
          FB: {hi: a2, ret: r2, volts: 28, switches: [KM, K2]}
      HTR: {kind: load, terminals: h1 r1 h2 r2, isolated: [[h1, r1], [h2, r2]]}
      LOG: {kind: load, terminals: x}
      TEE: {kind: load, terminals: x}
    halves:
      J1: p4 socket SRC.a1 SRC.r1 SRC.a2 SRC.r2
      J2: p4 pin HTR.h1 HTR.r1 HTR.h2 HTR.r2
      J9: p4 socket
      JP: {interface: p4, gender: socket, parking: true}
      D1: d1 socket LOG.x
      D2: d1 socket TEE.x
      D3: d1 socket
    covers: {CV: {fasteners: 2, over: [J2], over_segments: [W2.main]}}
  far: {halves: {J8: p4 socket}}
harnesses:
  W1: [P1 p4 pin, P2 p4 socket]
  W2: [Q1 d1 pin, Q2 d1 pin]
  W3: [R1 p4 pin, R2 p4 socket]
caps: {C9: J9}
bags: [kit]
people: {ada: outside}
services:
  heat:
    {kind: heater, need: 1,
     strings: {a: {load: HTR.h1 HTR.r1, feeds: FA}, b: {load: HTR.h2 HTR.r2, feeds: FB}}}
  tlm: {kind: telemetry, needs: heat, lines: LOG.x to TEE.x}
now:
  on: [KM, K1, K2]
  open: [CV]
  mated: {P1: J1, P2: J2, Q1: D1, Q2: D2}
  packed: {W3: kit}
  bags: {kit: bench}
  people: {ada: bench}
"""
"""A heater of two strings that ride in one harness, and a telemetry line that needs the heat."""

TREE = """
cablewalk: 1
baseline: tree
interfaces: {d2: 2}
places:
  bench:
    units:
      HUB: {kind: load, terminals: x y}
      FAR: {kind: load, terminals: x}
      BOX: {kind: load, terminals: y}
    halves: {H1: d2 socket HUB.x HUB.y, H2: d2 socket FAR.x, H3: d2 socket}
harnesses:
  W:
    legs: {A1: d2 pin, A2: d2 pin, A3: {hard_wired: BOX}, A4: d2 pin}
    runs: [A1.1 A2.1 A4.1, A1.2 BOX.y A4.2]
    segments:
      s1: {between: A1 near}
      s2: {between: near split}
      s3: {between: split A2}
      s4: {between: split A3}
      s5: {between: near A4}
people: {ada: outside}
services:
  x: {kind: data, lines: HUB.x to FAR.x}
  y: {kind: data, lines: HUB.y to BOX.y}
now: {mated: {A1: H1, A2: H2}, people: {ada: bench}}
"""
"""One harness of four legs, one of them hard-wired, with two breakouts.

    A1 --s1-- near --s2-- split --s3-- A2
               \\--s5-- A4    \\--s4-- A3 (wired to BOX)
"""


def replayed(text: str, steps: Sequence[Any] = (), **rest: Any) -> Account:
    """Return what a replay of one procedure with these steps (s1, s2 …) makes of a baseline."""
    baseline = Baseline.model_validate(yaml.load(text, Loader=yaml.BaseLoader))
    if not steps:
        return account(baseline)
    rows = [{"id": f"s{n}", "by": "ada", "do": do} for n, do in enumerate(steps, start=1)]
    head = {"cablewalk": "1", "procedure": "job", "minutes": "1"}
    procedure = Procedure.model_validate({**head, "steps": rows, **rest})
    return account(baseline, [procedure])


def scene_of(text: str, steps: Sequence[Any] = (), at: str | None = None) -> Scene:
    found = replayed(text, steps)
    spot = None
    if at is not None:
        there = find_spot(found.trace, found.procedures, at)
        assert isinstance(there, Spot)
        spot = there
    return scene_at(found.ground.baseline, found.trace, spot)


def ask(scene: Scene, text: str) -> Answer:
    subject = find_subject(scene.wiring, text)
    assert isinstance(subject, Subject), subject
    return answer(scene, subject)


def riding(scene: Scene, text: str) -> list[str]:
    """Return the strings that ride on something."""
    return [scene.wiring.strings[r.string].id for r in ask(scene, text).riders]


def lost(scene: Scene, text: str) -> dict[str, str]:
    """Return service to the state it would have, for each that would stand otherwise."""
    loss = ask(scene, text).loss
    assert loss is not None
    return {scene.wiring.services[row.service].id: str(row.after) for row in loss.services}


# -- where it goes --------------------------------------------------------------------


def test_a_contact_goes_island_by_island() -> None:
    scene = scene_of(BENCH)
    wiring = scene.wiring
    (way,) = ask(scene, "J1.3").ways
    names = [
        ([wiring.terminals[t].name for t in wiring.island_terminals[stop.island]],
         [wiring.contact(*site) for site in wiring.sites[stop.island]])
        for stop in way.stops
    ]  # fmt: skip
    assert names == [
        (["SRC.a2"], ["J1.3"]),
        ([], ["P1.3", "P2.3"]),
        (["HTR.h2"], ["J2.3"]),
    ]
    assert [stop.before for stop in way.stops] == [None, 0, 1]
    assert [stop.near and wiring.contact(*stop.near) for stop in way.stops] == [
        None,
        "J1.3",
        "P2.3",
    ]
    assert all(stop.sure for stop in way.stops)


def test_a_half_has_a_way_for_each_contact() -> None:
    scene = scene_of(BENCH)
    assert [way.name for way in ask(scene, "P1").ways] == [
        "P1.1",
        "P1.2",
        "P1.3",
        "P1.4",
        "P1.shell",
    ]


def test_a_doubtful_join_is_told() -> None:
    scene = scene_of(BENCH, [[{"demate": "P1"}], [{"engage": {"P1": "J1"}}]], "s2")
    (way,) = ask(scene, "J1.3").ways
    assert [stop.sure for stop in way.stops] == [True, False, False]
    assert riding(scene, "J1") == [], "a string rides only where a join is beyond doubt"


def test_an_open_end_is_told() -> None:
    scene = scene_of(BENCH, [[{"demate": "P1"}]], "s1")
    (way,) = ask(scene, "J1.3").ways
    assert len(way.stops) == 1
    assert [scene.wiring.contact(*end) for end in open_ends(scene.config, way)] == ["J1.3"]


def test_a_parking_half_joins_nothing() -> None:
    (way,) = ask(scene_of(BENCH), "JP.1").ways
    assert way.stops == ()


# -- what rides on it -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("item", "strings"),
    [
        ("J1", ["heat.a", "heat.b"]),
        ("P2", ["heat.a", "heat.b"]),
        ("W1", ["heat.a", "heat.b"]),
        ("W1.main", ["heat.a", "heat.b"]),
        ("J1.3", ["heat.b"]),
        ("P2.1", ["heat.a"]),
        ("HTR.h1", ["heat.a"]),
        ("FB", ["heat.b"]),
        ("K2", ["heat.b"]),
        ("KM", ["heat.a", "heat.b"]),
        ("SRC", ["heat.a", "heat.b"]),
        ("LOG", ["tlm"]),
        ("CV", ["heat.a", "heat.b", "tlm"]),
        ("W2", ["tlm"]),
        ("W3", []),
        ("heat", ["heat.a", "heat.b"]),
        ("heat.b", ["heat.b"]),
    ],
)
def test_riders(item: str, strings: list[str]) -> None:
    assert riding(scene_of(BENCH), item) == strings


def test_a_line_is_named_and_told_from_end_to_end() -> None:
    scene = scene_of(BENCH)
    wiring = scene.wiring
    (rider,) = ask(scene, "J1.3").riders
    (course,) = rider.courses
    assert course.line == "SRC.a2 to HTR.h2"
    contacts = [
        (wiring.contact(a, n), wiring.contact(b, n)) for step in course.joins for a, b, n in step
    ]
    assert contacts == [("J1.3", "P1.3"), ("P2.3", "J2.3")]


@pytest.mark.parametrize(
    ("item", "strings"),
    [
        ("W.s1", ["x", "y"]),
        ("W.s2", ["x", "y"]),
        ("W.s3", ["x"]),
        ("W.s4", ["y"]),
        ("W.s5", []),
        ("A1", ["x", "y"]),
        ("A2", ["x"]),
        ("A3", ["y"]),
        ("A4", []),
        ("W", ["x", "y"]),
    ],
)
def test_riders_of_a_branch(item: str, strings: list[str]) -> None:
    assert riding(scene_of(TREE), item) == strings


def test_the_sides_of_a_segment() -> None:
    scene = scene_of(TREE)
    wiring = scene.wiring
    tree = HarnessTree(scene.baseline, wiring, wiring.by_id["W"])
    sides = tree.sides(wiring.by_id["W.s2"])
    assert {frozenset(wiring.items[leg].id for leg in side) for side in sides} == {
        frozenset({"A1", "A4"}),
        frozenset({"A2", "A3"}),
    }


def test_a_switch_that_selects_a_cold_string_is_told() -> None:
    text = BENCH.replace("feeds: FB}", "feeds: FB, cold: true, selected_by: K2}")
    scene = scene_of(text.replace("on: [KM, K1, K2]", "on: [KM, K1]\n  off: [K2]"))
    (rider,) = ask(scene, "K2").riders
    assert (scene.wiring.strings[rider.string].id, rider.how) == ("heat.b", "is selected by it")


# -- what losing it would do ----------------------------------------------------------


@pytest.mark.parametrize(
    ("item", "services"),
    [
        ("J1", {"heat": "down", "tlm": "down"}),
        ("J1.3", {"heat": "down", "tlm": "down"}),
        ("W1", {"heat": "down", "tlm": "down"}),
        ("W1.main", {"heat": "down", "tlm": "down"}),
        ("K2", {"heat": "reduced", "tlm": "reduced"}),
        ("FB", {"heat": "reduced", "tlm": "reduced"}),
        ("KM", {"heat": "down", "tlm": "down"}),
        ("SRC", {"heat": "down", "tlm": "down"}),
        ("W2", {"tlm": "down"}),
        ("CV", {"heat": "down", "tlm": "down"}),
        ("J9", {}),
        ("C9", {}),
    ],
)
def test_losses(item: str, services: dict[str, str]) -> None:
    assert lost(scene_of(BENCH), item) == services


@pytest.mark.parametrize("item", ["heat", "heat.a", "HTR.h1"])
def test_some_things_cannot_be_lost(item: str) -> None:
    assert ask(scene_of(BENCH), item).loss is None


@pytest.mark.parametrize(
    ("item", "action"),
    [
        ("P1", {"demate": "P1"}),
        ("J2", {"demate": "P2"}),
        ("Q1", {"demate": "Q1"}),
        ("K1", {"switch_off": "K1"}),
        ("KM", {"switch_off": "KM"}),
    ],
)
def test_a_loss_is_what_a_replay_of_it_does(item: str, action: dict[str, str]) -> None:
    scene = scene_of(BENCH)
    after = scene_of(BENCH, [[action]], "s1")
    services = scene.wiring.services
    expected = {
        service.id: str(after.views[n].state)
        for n, service in enumerate(services)
        if after.views[n].state is not scene.views[n].state
    }
    assert expected, "the action is to do something"
    assert lost(scene, item) == expected


@pytest.mark.parametrize(
    ("item", "services"),
    [
        ("W.s1", {"x": "down", "y": "down"}),
        ("W.s2", {"x": "down", "y": "down"}),
        ("W.s3", {"x": "down"}),
        ("W.s4", {"y": "down"}),
        ("W.s5", {}),
    ],
)
def test_a_cut_segment_loses_what_rides_on_it_alone(item: str, services: dict[str, str]) -> None:
    assert lost(scene_of(TREE), item) == services


def test_a_cut_leaves_what_goes_through_a_named_contact_on_its_side() -> None:
    text = TREE.replace("lines: HUB.x to FAR.x", "lines: HUB.x to FAR.x through A1.1")
    scene = scene_of(text.replace("A2: H2", "A4: H2"))
    assert [str(state) for state in scene.continuity.states] == ["up", "up"]
    assert lost(scene, "W.s2") == {"y": "down"}
    assert lost(scene, "W.s5") == {"x": "down"}


def test_a_feed_is_lost_alone_and_also_while_it_is_off() -> None:
    text = BENCH.replace("feeds: FB}", "feeds: FB, cold: true, selected_by: K2}")
    scene = scene_of(text.replace("on: [KM, K1, K2]", "on: [KM, K1]\n  off: [K2]"))
    assert scene.continuity.states[0] is State.UP, "the spare is available"
    assert lost(scene, "FB") == {"heat": "reduced", "tlm": "reduced"}
    assert lost(scene, "FA") == {"heat": "down", "tlm": "down"}


@pytest.mark.parametrize("item", ["J1", "W1", "W1.main", "K1", "FA", "SRC", "CV", "C9"])
def test_a_question_alters_nothing(item: str) -> None:
    scene = scene_of(BENCH)
    before, sites = scene.config.copy(), [list(row) for row in scene.wiring.sites]
    verdicts = list(scene.continuity.verdicts)
    ask(scene, item)
    assert scene.config == before
    assert scene.wiring.sites == sites
    assert scene.continuity.verdicts == verdicts


# -- what can mate, what is shared ----------------------------------------------------


def test_what_can_mate() -> None:
    scene = scene_of(BENCH)
    items = scene.wiring.items
    rows = [(items[m.half].id, m.mated, m.here, m.obstacles) for m in ask(scene, "P1").matches]
    assert rows == [
        ("J1", True, True, ()),
        ("J9", False, True, ("capped with C9",)),
        ("JP", False, True, ()),
        ("P2", False, True, ("mated with J2",)),
        ("R2", False, True, ("packed in kit",)),
        ("J8", False, False, ()),
    ]
    assert ask(scene, "P1").obstacles == ("mated with J1",)
    assert ask(scene, "W1").matches == []


def test_a_cover_stands_in_the_way() -> None:
    scene = scene_of(BENCH.replace("  open: [CV]\n", ""))
    assert ask(scene, "J2").obstacles == ("mated with P2", "under CV, which is fastened")


def test_redundant_strings_that_share() -> None:
    scene = scene_of(BENCH)
    (row,) = ask(scene, "W1").shared
    assert [scene.wiring.strings[s].id for s in row.strings] == ["heat.a", "heat.b"]
    assert row.others == ()
    assert ask(scene, "K2").shared == []
    assert ask(scene, "J1.3").shared == []


def test_what_the_strings_of_a_service_share() -> None:
    rows = ask(scene_of(BENCH), "heat").shared
    assert {row.item for row in rows} == {
        "P1 / J1",
        "P2 / J2",
        "harness W1",
        "segment W1.main",
        "unit SRC",
        "switch KM",
    }
    assert {row.item for row in ask(scene_of(BENCH), "heat.a").shared} == {r.item for r in rows}


def test_every_made_line_has_a_course() -> None:
    scene = scene_of(BENCH)
    assert [c.line for c in courses(scene)] == [
        "SRC.a1 to HTR.h1",
        "SRC.r1 to HTR.r1",
        "SRC.a2 to HTR.h2",
        "SRC.r2 to HTR.r2",
        "LOG.x to TEE.x",
    ]


# -- names and steps ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("J11", "nothing here is called 'J11'; did you mean J1?"),
        ("J1.9", "J1 has no contact '9'; there is: 1, 2, 3, 4, shell"),
        ("HTR.h3", "HTR has no terminal 'h3'; did you mean h2?"),
        ("W1.man", "W1 has no segment 'man'; did you mean main?"),
        ("kit", "'kit' is a bag; one can ask about"),
        ("", "nothing here is called ''"),
    ],
)
def test_an_unknown_name(text: str, words: str) -> None:
    found = find_subject(scene_of(BENCH).wiring, text)
    assert isinstance(found, str)
    assert found.startswith(words)


def _spot(found: Account, text: str) -> Spot | str:
    return find_spot(found.trace, found.procedures, text)


def test_an_unknown_step() -> None:
    found = replayed(BENCH, [[{"demate": "P1"}]])
    assert _spot(found, "s2") == "there is no step 's2'; did you mean s1?"
    assert _spot(found, "jab/s1") == "there is no step 'jab/s1'; did you mean job/s1?"
    assert _spot(found, "job/s1") == _spot(found, "s1")


def test_a_step_that_was_not_reached() -> None:
    found = replayed(BENCH, [[{"demate": "Q1"}], [{"demate": "Q1"}], [{"demate": "P1"}]])
    assert isinstance(_spot(found, "s1"), Spot)
    for step in ("s2", "s3"):
        words = _spot(found, step)
        assert isinstance(words, str)
        assert "the replay stopped at step 's2', because Q1 is bare" in words


def test_a_step_that_does_nothing_stands_after_those_before() -> None:
    steps = [[{"demate": "Q1"}], [], [{"demate": "P1"}]]
    assert lost(scene_of(BENCH, steps, "s2"), "Q1") == {}
    assert riding(scene_of(BENCH, steps, "s2"), "W1") == ["heat.a", "heat.b"]
    assert riding(scene_of(BENCH, steps, "s2"), "W2") == []
    assert riding(scene_of(BENCH, steps, "s3"), "W1") == []


def test_a_step_id_of_two_procedures_must_say_which() -> None:
    baseline = replayed(BENCH).ground.baseline
    head = {"cablewalk": "1", "minutes": "1", "gap_min": "5"}
    phases = [
        Procedure.model_validate(
            {**head, "procedure": name, "steps": [{"id": "s1", "by": "ada", "do": [{"demate": p}]}]}
        )
        for name, p in (("one", "P1"), ("two", "Q1"))
    ]
    found = account(baseline, phases)
    assert _spot(found, "s1") == "2 procedures have a step 's1'; say one/s1 or two/s1"
    scenes = []
    for name in ("one/s1", "two/s1"):
        spot = _spot(found, name)
        assert isinstance(spot, Spot)
        scenes.append(scene_at(baseline, found.trace, spot))
    assert [riding(scene, "W2") for scene in scenes] == [["tlm"], []]
