"""The demos in ``configs/`` and the faulty pair: what each must show, read from its documents.

Every count and feature is asserted from the loaded documents, or from their replay.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from cablewalk.checks.run import check
from cablewalk.cli import commands
from cablewalk.documents.actions import Action
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.hardware import Half
from cablewalk.documents.procedure import Procedure, Step
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.findings import Severity
from cablewalk.timeline.account import Account, account
from cablewalk.walk.scene import Scene, find_spot, scene_at
from cablewalk.walk.subject import Subject, find_subject
from cablewalk.walk.what_if import what_if_lost

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
OUTPOST = ("outpost", "outing-1", "outing-2", "outing-3")
SEABED = ("seabed", "seabed-1", "seabed-2")
FAULTY = ("faulty/bench", "faulty/swap")
CLEAN = [pytest.param(names, id=names[0]) for names in (OUTPOST, SEABED)]


def files(names: tuple[str, ...]) -> list[str]:
    return [str(CONFIGS / f"{name}.yaml") for name in names]


@cache
def documents(names: tuple[str, ...]) -> tuple[Baseline, list[Procedure]]:
    first, *rest = files(names)
    base = load_baseline(first)
    phases = [load_procedure(path, n) for n, path in enumerate(rest, 1)]
    assert base.model is not None, base.findings
    assert all(phase.model for phase in phases), [phase.findings for phase in phases]
    return base.model, [phase.model for phase in phases if phase.model]


@cache
def told(names: tuple[str, ...], keep_going: bool = False) -> Account:
    base, phases = documents(names)
    return account(base, phases, keep_going)


def fixed(base: Baseline) -> dict[str, Half]:
    """Return the fixed halves of panels, units and places."""
    found: dict[str, Half] = {}
    for place in base.places.values():
        found.update(place.halves)
        carried = [panel.halves for panel in place.panels.values()]
        carried += [unit.halves for unit in place.units.values()]
        for halves in carried:
            found.update(halves)
    return found


def steps(phase: Procedure) -> Iterator[Step]:
    yield from phase.steps
    for ahead in phase.get_aheads:
        yield from ahead.steps


def actions(*phases: Procedure) -> list[Action]:
    return [action for phase in phases for step in steps(phase) for action in step.do]


def order(phase: Procedure, verb: str, item: str) -> int:
    """Return when an action begins in the replay, in seconds."""
    at = [
        event.time_s
        for event in told(OUTPOST).trace.events
        if event.begins
        and event.task.verb == verb
        and item in str(event.task.action.argument)
        and event.task.phase == documents(OUTPOST)[1].index(phase)
    ]
    assert at, f"{verb} {item} is not in {phase.procedure}"
    return at[0]


# -- both demos -------------------------------------------------------------------------------


@pytest.mark.parametrize("names", CLEAN)
@pytest.mark.parametrize("command", ["outages", "replay", "check"])
def test_a_demo_is_clean(names: tuple[str, ...], command: str) -> None:
    done = CliRunner().invoke(commands, [command, *files(names)])
    assert done.exit_code == 0, done.output
    found = told(names)
    assert not found.trace.refused
    assert not [f for f in found.findings if f.severity is not Severity.NOTE]
    checked = check(found)
    assert not [f for f in checked.findings if f.severity is Severity.ERROR]
    assert all(spell.to_s is not None for spell in found.outages), "something stays dark"


@pytest.mark.parametrize("names", CLEAN)
def test_each_phase_follows_the_one_before(names: tuple[str, ...]) -> None:
    base, phases = documents(names)
    before = base.baseline
    for phase in phases:
        assert phase.assumes == before
        before = phase.procedure


@pytest.mark.parametrize("names", CLEAN)
def test_every_step_has_the_workers_words(names: tuple[str, ...]) -> None:
    for phase in documents(names)[1]:
        for step in steps(phase):
            if not step.mark:
                assert step.by and step.say and step.indication and step.cautions, step.id


# -- the outpost --------------------------------------------------------------------------------


def test_the_outpost_is_as_large_as_it_must_be() -> None:
    base, phases = documents(OUTPOST)
    halves = fixed(base)
    legs = [leg for harness in base.harnesses.values() for leg in harness.legs.values()]
    used = [half.interface for half in halves.values()]
    used += [leg.interface for leg in legs if leg.interface]
    assert len(halves) >= 40
    assert len(base.harnesses) >= 16
    assert sum(len(h.legs) >= 3 for h in base.harnesses.values()) >= 6
    assert sum(len(base.interfaces[name].contacts) for name in used) >= 300  # shells not counted
    assert len(base.services) >= 20
    assert len({service.kind for service in base.services.values()}) >= 5
    assert len(actions(*phases)) >= 90
    assert len(phases) == 3


def test_the_outpost_has_four_columns_and_the_outside_workers_swap_roles() -> None:
    base, phases = documents(OUTPOST)
    kinds = sorted(person.kind for person in base.people.values())
    assert kinds == ["ground", "inside", "outside", "outside"]
    held = {tuple(sorted(phase.roles.items())) for phase in phases}
    outside = {name for name, person in base.people.items() if person.kind == "outside"}
    who = {role: {phase.roles[role] for phase in phases} for role in phases[0].roles}
    assert [role for role, people in who.items() if people == outside] == ["ev1", "ev2"]
    assert len(held) == 2


def test_legacy_harnesses_lie_under_fastened_covers_and_carry_anothers_heater() -> None:
    base, _ = documents(OUTPOST)
    under = {
        half for place in base.places.values() for c in place.covers.values() for half in c.over
    }
    assert base.now.mated["L1-P1"] in under
    assert base.now.mated["L7-P1"] in under
    opened = {*base.now.open, *base.now.removed, *base.now.released, *base.now.part_fastened}
    assert not opened
    # L7 feeds the lamp; the heater of the valve rides in the same connector.
    assert {loss("L7-P1", None)} == {frozenset({"lamp-power", "valve-heat"})}
    assert "tank-heat" in {
        string.rpartition(".")[0] or string for string in strings_on("L1-P1", None)
    }


def loss(half: str, step: str | None) -> frozenset[str]:
    """Return the services that demating a half would take down."""
    scene, subject = _scene(half, step)
    found = what_if_lost(scene, subject)
    assert found is not None
    return frozenset(
        scene.wiring.services[s.service].id for s in found.services if s.after.name == "DOWN"
    )


def strings_on(half: str, step: str | None) -> set[str]:
    """Return the strings that demating a half would take away."""
    scene, subject = _scene(half, step)
    found = what_if_lost(scene, subject)
    assert found is not None
    return {scene.wiring.strings[s].id for row in found.services for s, _, _ in row.strings}


def _scene(half: str, step: str | None) -> tuple[Scene, Subject]:
    base, phases = documents(OUTPOST)
    trace = told(OUTPOST).trace
    spot = None if step is None else find_spot(trace, phases, step)
    assert not isinstance(spot, str)
    subject = find_subject(trace.wiring, half)
    assert isinstance(subject, Subject)
    return scene_at(base, trace, spot), subject


def test_two_redundant_strings_ride_in_one_connector() -> None:
    base, _ = documents(OUTPOST)
    service = base.services["roost-heat"]
    assert len(service.strings) == 2 and service.need == 1
    at_the_end = documents(OUTPOST)[1][-1].steps[-1].id
    assert {"roost-heat.a", "roost-heat.b"} <= strings_on("R-J1", at_the_end)
    assert "roost-heat" in loss("R-J1", at_the_end)


def test_a_cold_standby_string_is_selected_before_the_hot_one_goes() -> None:
    base, phases = documents(OUTPOST)
    (cold,) = [s for s in base.services["tank-heat"].strings.values() if s.cold]
    assert cold.selected_by in base.now.off
    assert cold.selected_by is not None
    first = phases[0]
    assert order(first, "switch_on", cold.selected_by) < order(first, "switch_off", "RPC-A2")
    assert "tank-heat" not in {
        told(OUTPOST).ground.wiring.services[spell.service].id for spell in told(OUTPOST).outages
    }


def test_existing_cabling_is_pulled_aside_first_and_put_back() -> None:
    base, phases = documents(OUTPOST)
    first = phases[0]
    (aside,) = {a.pull_aside for a in actions(first) if a.pull_aside}
    assert aside in base.now.mated
    assert order(first, "pull_aside", aside) < order(first, "demate", "L1-P2")
    assert order(first, "demate", "L1-P2") < order(first, "restore", aside)


def test_ties_come_before_connectors() -> None:
    _, phases = documents(OUTPOST)
    for phase in phases:
        for action in actions(phase):
            if action.tie is None:
                continue
            harness, _, leg = next(iter(action.tie)).partition(".")
            mates = [a for a in actions(phase) if a.mate and leg in a.mate]
            aheads = [a for ahead in phase.get_aheads for s in ahead.steps for a in s.do]
            if mates and action not in aheads:
                first = order(phase, "tie", f"{harness}.{leg}")
                assert first < order(phase, "mate", f"'{leg}'"), leg
    assert sum(a.tie is not None for a in actions(*phases)) >= 6


def test_cables_are_handed_over_one_by_one() -> None:
    _, phases = documents(OUTPOST)
    for phase in phases:
        for step in phase.steps:
            handed = [a for a in step.do if a.hand_over]
            assert all(len(a.hand_over or ()) == 1 for a in handed)
            assert all(len(a.by or step.by) == 2 for a in handed)
    assert sum(a.hand_over is not None for a in actions(*phases)) >= 2


def test_the_buss_end_terminator_moves() -> None:
    base, phases = documents(OUTPOST)
    cap = base.caps["TERM"]
    assert cap.electrical and not cap.tethered
    ends = [base.now.fitted["TERM"]]
    for phase in phases:
        ends += [a.fit_cap["TERM"] for a in actions(phase) if a.fit_cap and "TERM" in a.fit_cap]
    assert len(set(ends)) >= 2 and ends[0] != ends[-1]
    users = [s for s in base.services.values() for x in s.strings.values() if x.terminated_by]
    assert len(users) == 2


def test_a_harness_only_passes_beneath_a_cover() -> None:
    base, phases = documents(OUTPOST)
    passing = {
        segment.partition(".")[0]
        for place in base.places.values()
        for cover in place.covers.values()
        for segment in cover.over_segments
    }
    touched = str([action.argument for action in actions(*phases)])
    only = [h for h in passing if not any(leg in touched for leg in base.harnesses[h].legs)]
    assert only == ["L6"]


def test_legs_are_stowed_for_a_unit_that_arrives_in_phase_three() -> None:
    base, phases = documents(OUTPOST)
    assert "ROOST" in base.now.absent
    assert [p.procedure for p in phases if any(a.install == "ROOST" for a in actions(p))] == [
        "outing-3"
    ]
    stowed = [leg for a in actions(phases[1]) if a.stow for leg in a.stow]
    assert stowed
    moved = str([a.argument for a in actions(phases[2])])
    assert all(any(leg in moved for leg in (s, s.partition("-")[0])) for s in stowed)
    arriving = {name for name, s in base.services.items() if s.arrives_with == "ROOST"}
    assert arriving <= {
        told(OUTPOST).ground.wiring.services[turn.service].id
        for turn in told(OUTPOST).turns
        if turn.kind == "established"
    }


def test_a_bag_is_left_outside() -> None:
    found = told(OUTPOST)
    wiring, after = found.ground.wiring, found.trace.start.copy()
    for event in found.trace.events:
        if event.task.phase == 0:
            after.apply(event.changes)
    outside = {wiring.items[b].id: wiring.items[after.place_of(b)].id for b in wiring.ids("bag")}
    assert outside["BAG-2"] == "gallery"
    assert outside["BAG-1"] == "hatch"


def test_there_are_get_aheads_and_they_are_possible() -> None:
    base, phases = documents(OUTPOST)
    assert all(phase.get_aheads for phase in phases)
    every = account(base, phases, False, 9)
    assert not every.findings.has_errors
    entered = [(phase, name) for phase, name in every.trace.get_aheads]
    assert {phase for phase, _ in entered} == {0, 1, 2}


def test_an_outage_or_a_leg_lasts_over_a_gap_only_as_planned() -> None:
    _, phases = documents(OUTPOST)
    assert all(phase.gap_min for phase in phases[1:])
    planned = {name for phase in phases for name in phase.planned_outages}
    listed = {name for phase in phases for step in steps(phase) for name in step.loses}
    wiring = told(OUTPOST).ground.wiring
    assert {wiring.services[s.service].id for s in told(OUTPOST).outages} <= planned | listed


# -- the sea bed --------------------------------------------------------------------------------


def test_one_vehicle_has_the_only_hands_on_the_sea_bed() -> None:
    base, phases = documents(SEABED)
    assert sorted(p.kind for p in base.people.values()) == ["ground", "inside", "vehicle"]
    (rov,) = [name for name, person in base.people.items() if person.kind == "vehicle"]
    hands = {"mate", "seat", "park", "demate", "lock", "pick_up", "route", "install", "remove_cap"}
    wiring = told(SEABED).ground.wiring
    for event in told(SEABED).trace.events:
        if event.task.verb in hands:
            assert event.task.workers == (rov,)
    assert wiring.items[wiring.by_id[rov]].role == "vehicle"
    assert len(phases) == 2


def test_every_wet_mate_is_made_dead_and_waited_for() -> None:
    _, phases = documents(SEABED)
    mates = 0
    for phase in phases:
        for step in phase.steps:
            for n, action in enumerate(step.do):
                assert action.mate is None, "a wet mate is seated, and its lock looked at"
                if action.seat or action.park:
                    mates += 1
                    waiting = step.do[n + 1]
                    assert waiting.wait == 20
                    assert waiting.reason.startswith("practice: ")
                    # Then the indicator: the flag is looked at, the state verified.
                    after = step.do[n + 2 : n + 4]
                    leg = next(iter(action.seat or action.park or {}))
                    assert any(
                        a.lock == leg or (isinstance(a.verify, dict) and leg in a.verify)
                        for a in after
                    ), f"{step.id}: nothing checks {leg}"
    assert mates == 8
    rules = {finding.rule for finding in told(SEABED).findings}
    assert not rules & {"live-contact", "live-exposed"}


def test_halves_are_parked_and_one_comes_back_a_dive_later() -> None:
    base, phases = documents(SEABED)
    parking = {name for name, half in fixed(base).items() if half.parking}
    used = [pair for a in actions(*phases) if a.park for pair in a.park.items()]
    assert len(used) == 3
    assert {place for _, place in used} <= parking
    mated = [a.seat for a in actions(phases[1]) if a.seat]
    assert {"W2-P1": "N-J2"} in mated
    assert dict(used)["W2-P1"] == "N-K1"


def test_shore_power_takes_long_to_come_back() -> None:
    base, _ = documents(SEABED)
    assert base.services["node-power"].recovery_min == 45
    wiring = told(SEABED).ground.wiring
    (dark,) = [s for s in told(SEABED).outages if wiring.services[s.service].id == "node-power"]
    back = [
        e.time_s
        for e in told(SEABED).trace.events
        if not e.begins and e.task.action.switch_on == "SH-LINE"
    ]
    assert dark.to_s == back[0] + 45 * 60


def test_the_columns_outage_runs_over_the_gap_between_the_dives() -> None:
    found = told(SEABED)
    wiring = found.ground.wiring
    (dark,) = [s for s in found.outages if wiring.services[s.service].id == "column-data"]
    first, second = found.trace.phases
    assert dark.from_s < first.end_s
    assert dark.to_s is not None
    assert dark.to_s > second.start_s >= first.end_s + 12 * 3600


# -- the faulty pair ----------------------------------------------------------------------------


def test_the_faulty_pair_makes_the_mistakes_it_says() -> None:
    done = CliRunner().invoke(commands, ["outages", "--keep-going", *files(FAULTY)])
    assert done.exit_code == 1
    found = told(FAULTY, True)
    rules = [(f.rule, f.step) for f in found.findings if f.severity is Severity.ERROR]
    assert rules == [
        ("unplanned-loss", "s1"),
        ("unplanned-loss", "s1"),
        ("live-contact", "s1"),
        ("live-exposed", "s1"),
        ("refused", "s2"),
        ("verify-failed", "s3"),
    ]


def test_check_finds_what_the_faulty_procedure_lists() -> None:
    """Each mistake is numbered in the file's head, with the rules that find it."""
    checked = check(told(FAULTY, True))
    head = (CONFIGS / "faulty" / "swap.yaml").read_text(encoding="utf-8").split("cablewalk: 1")[0]
    for finding in checked.findings:
        if finding.severity is not Severity.NOTE:
            assert finding.rule in head, finding.rule
    seen = {finding.rule for finding in checked.findings}
    words = {word.strip(",;") for word in head.split()}
    known = {word for word in words if word in seen}
    assert len(known) >= 10
