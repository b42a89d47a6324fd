"""What is kept up to date action by action equals what is judged anew; and other laws."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from small import BENCH, baseline, procedure

from cablewalk.continuity.live import Liveness
from cablewalk.continuity.services import Continuity, State
from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Findings
from cablewalk.replay.attempt import HALF, SWITCH
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.snapshot import now_of
from cablewalk.replay.start import start_configuration
from cablewalk.timeline.account import account
from cablewalk.walk.trace import Trace

MORE = """
interfaces: {p2: 2}
places:
  bench:
    halves:
      JR: p2 socket REL.out_hi REL.out_ret
      JS: p2 pin REL.in_hi REL.in_ret
      JA: p2 socket AUX.hi AUX.ret
    units: {REL: {kind: converter, volts: 12, switches: SW2}, AUX: {kind: store, volts: 28}}
harnesses: {W3: [M1 p2 pin, M2 p2 socket], W4: [K1 p2 pin, K2 p2 socket]}
caps: {CT: {on: JA, joins: ["1 2"]}}
services:
  light: {load: ~, feeds: ~, need: 1, needs: [data],
          strings: {a: {load: LAMP, feeds: [SRC]}, b: {load: LAMP, feeds: [REL]},
                    c: {load: LAMP, feeds: [AUX]}}}
  data: {kind: data, lines: SRC.hi to LAMP.hi, needs: []}
now: {mated: {M1: JA, M2: JS, P1: J1, P2: J2}, loose: {K1: bench, K2: bench}}
"""
HARDWARE: Baseline = baseline(BENCH, MORE)
HALVES = [
    "P1",
    "P2",
    "N1",
    "N2",
    "M1",
    "M2",
    "K1",
    "K2",
    "J1",
    "J2",
    "J3",
    "JN",
    "JA",
    "JR",
    "JS",
    "JP",
    "JB",
]
CAPS = ["C3", "CN", "CL", "CU", "CT"]
LEGS = ["P1", "P2", "N1", "N2", "M1", "W1", "W2", "W3"]


def pairs(verb: str, left: list[str], right: list[str]) -> st.SearchStrategy[str]:
    choose = st.tuples(st.sampled_from(left), st.sampled_from(right))
    return choose.map(lambda two: f"{verb}: {{{two[0]}: {two[1]}}}")


def ones(verbs: list[str], items: list[str]) -> st.SearchStrategy[str]:
    choose = st.tuples(st.sampled_from(verbs), st.sampled_from(items))
    return choose.map(lambda two: f"{two[0]}: {two[1]}")


ACTION = st.one_of(
    pairs("mate", HALVES[:8], HALVES),
    pairs("engage", HALVES[:8], HALVES),
    pairs("seat", HALVES[:8], HALVES),
    ones(["demate", "lock", "inspect"], HALVES),
    pairs("fit_cap", CAPS, HALVES),
    ones(["remove_cap", "pick_up", "tether", "take"], CAPS),
    ones(["take", "pick_up", "let_go", "restrain", "pull_aside", "restore"], LEGS),
    pairs("pack", ["CL", *LEGS], ["kit", "sack"]),
    pairs("stow", LEGS, ["kit", "bench", "hatch"]),
    ones(["switch_on", "switch_off", "block", "unblock"], ["SW1", "SW2"]),
    ones(["release", "fasten", "open", "close", "remove_cover", "fit_cover"], ["COV"]),
    ones(["install", "remove"], ["BOX", "PAN", "AUX", "REL"]),
    ones(["carry", "leave"], ["kit", "sack"]),
    ones(["walk"], ["hatch", "bench", "arm"]),
    ones(["verify"], ["light", "data"]),
    pairs("route", ["W1.main", "W2.main", "N1"], ["way"]),
    pairs("tie", ["W1.main", "W2.main"], ["t1"]),
    pairs("cut_tie", ["W1.main", "W2.main"], ["t1"]),
    st.just("retire: data"),
)
STEP = st.tuples(st.sampled_from(["ada", "bob"]), st.lists(ACTION, min_size=1, max_size=4))
WORK = st.lists(STEP, min_size=1, max_size=8)


def replayed(work: list[tuple[str, list[str]]]) -> Trace:
    steps = [f"{{by: {who}, do: [{', '.join(f'{{{a}}}' for a in do)}]}}" for who, do in work]
    result = account(HARDWARE, [procedure(f"[{', '.join(steps)}]")], keep_going=True)
    assert not result.trace.unusable, [f.sentence() for f in result.findings]
    return result.trace


def final(trace: Trace) -> Configuration:
    assert trace.end is not None
    return trace.end


@settings(max_examples=60)
@given(WORK)
def test_services_kept_equal_services_judged_anew(work: list[tuple[str, list[str]]]) -> None:
    """At every moment, not only at the end."""
    trace = replayed(work)
    config = trace.start.copy()
    views = list(trace.start_views)
    for event in trace.events:
        config.apply(event.changes)
        for shift in event.shifts:
            views[shift.service] = shift.after
        anew = Continuity(config)
        assert [v.state for v in views] == anew.states
        standing = [
            anew.verdicts[s].standing for row in config.wiring.services for s in row.strings
        ]
        assert [s for v in views for s in v.strings] == standing
        assert [list(v.unproven) for v in views] == [anew.unproven(n) for n in range(len(views))]


@settings(max_examples=60)
@given(WORK)
def test_replay_leaves_no_claims_and_can_be_written_out(work: list[tuple[str, list[str]]]) -> None:
    config = final(replayed(work))
    assert {config.state_name(p) for p in config.wiring.ids("person")} == {"idle"}
    findings = Findings()
    again = HARDWARE.model_copy(update={"now": now_of(config)})
    assert start_configuration(again, config.wiring, findings) == config
    assert not findings.has_errors, [f.sentence() for f in findings]


@settings(max_examples=60)
@given(WORK)
def test_links_of_pairs_point_at_one_another(work: list[tuple[str, list[str]]]) -> None:
    config = final(replayed(work))
    for half in config.wiring.ids("half"):
        mate = config.link[half]
        assert (mate < 0) == (config.state_name(half) == "bare")
        if mate >= 0:
            assert config.link[mate] == half
            assert config.wiring.items[mate].kind in ("half", "cap")


@settings(max_examples=40)
@given(WORK)
def test_taking_a_join_away_brings_no_service_up(work: list[tuple[str, list[str]]]) -> None:
    """True of services with no unwanted join: a part of a short may well bring one back."""
    config = final(replayed(work))
    wiring = config.wiring
    before = Continuity(config)
    if any(t.rule for v in before.verdicts for t in v.troubles):
        return
    for half in wiring.ids("half"):
        mate = config.link[half]
        if mate <= half:
            continue
        parted = config.copy()
        bare = HALF["bare"]
        parted.link[half] = parted.link[mate] = -1
        parted.state[half] = parted.state[mate] = bare
        after = Continuity(parted)
        for n, state in enumerate(after.states):
            assert state is State.DOWN or before.states[n] is not State.DOWN


@settings(max_examples=40)
@given(WORK)
def test_whoever_joins_more_makes_no_less_live(work: list[tuple[str, list[str]]]) -> None:
    """With every switch of unknown state, what was live is live still."""
    config = final(replayed(work))
    unknown = config.copy()
    for switch in config.wiring.ids("switch"):
        unknown.state[switch] = SWITCH["unknown"]
    was, then = Liveness(config), Liveness(unknown)
    for island in range(1, len(config.wiring.sites)):
        assert set(was.of(island)) <= set(then.of(island))


def test_the_hardware_is_sound() -> None:
    trace = replayed([("ada", ["verify: light"])])
    assert [v.words for v in trace.start_views] == ["reduced", "up"]
