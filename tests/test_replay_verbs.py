"""Every verb of an action: done once where it can be, refused once where it cannot."""

from __future__ import annotations

import pytest
from small import AJAR, BENCH, having, run, so

from cablewalk.documents.actions import VERBS

BAG = "{take: W2}, {remove_cap: CN}"
OPEN = "{release: COV}, {open: COV}"

DONE: list[tuple[str, str, dict[str, str]]] = [
    # verb, actions (the last is the one meant), how things stand then
    ("mate", f"{BAG}, {{mate: {{N1: JN}}}}", {"N1": "mated JN", "JN": "mated N1"}),
    ("engage", "{take: W2}, {remove_cap: CN}, {engage: {N1: JN}}", {"JN": "part_engaged N1"}),
    ("seat", f"{BAG}, {{seat: {{N1: JN}}}}", {"N1": "unverified JN"}),
    ("lock", f"{BAG}, {{seat: {{N1: JN}}}}, {{lock: JN}}", {"N1": "mated", "JN": "mated"}),
    ("demate", "{demate: P1}", {"P1": "bare", "J1": "bare"}),
    ("park", f"{BAG}, {{park: {{N1: JP}}}}", {"N1": "parked"}),
    ("fit_cap", "{remove_cap: C3}, {fit_cap: {C3: J3}}", {"C3": "fitted J3", "J3": "capped C3"}),
    ("remove_cap", "{remove_cap: C3}", {"C3": "tethered J3", "J3": "bare"}),
    ("tether", "{take: CL}, {tether: CL}", {"CL": "tethered bench"}),
    ("pick_up", "{remove_cap: C3}, {pick_up: C3}", {"C3": "held ada"}),
    ("let_go", "{take: N1}, {let_go: N1}", {"N1": "loose bench"}),
    ("release", "{release: {COV: 3}}", {"COV": "part_fastened 1"}),
    ("fasten", "{release: COV}, {fasten: {COV: 2}}", {"COV": "part_fastened 2"}),
    ("open", OPEN, {"COV": "open"}),
    ("close", f"{OPEN}, {{close: COV}}", {"COV": "released"}),
    ("remove_cover", "{release: COV}, {remove_cover: COV}", {"COV": "removed ada"}),
    ("fit_cover", "{release: COV}, {remove_cover: COV}, {fit_cover: COV}", {"COV": "released"}),
    ("switch_off", "{switch_off: SW1}", {"SW1": "off"}),
    ("block", "{block: SW2}", {"SW2": "blocked"}),
    ("unblock", "{block: SW2}, {unblock: SW2}", {"SW2": "off"}),
    ("switch_on", "{switch_on: SW2}", {"SW2": "on"}),
    ("reset", "{found: {SW1: tripped}, reason: seen}, {reset: SW1}", {"SW1": "off"}),
    ("take", "{take: W2}", {"N1": "in_hand ada", "N2": "in_hand ada"}),
    ("pack", "{take: W2}, {pack: {W2: sack}}", {"N1": "packed sack", "N2": "packed sack"}),
    ("carry", "{carry: kit}", {"kit": "carried ada"}),
    ("leave", "{carry: kit}, {walk: hatch}, {leave: kit}", {"kit": "at_place hatch"}),
    ("hand_over", "{take: N1}, {hand_over: {N1: bob}, by: [ada, bob]}", {"N1": "in_hand bob"}),
    ("pull_aside", "{pull_aside: P1}", {"P1": "pulled_aside"}),
    ("restore", "{pull_aside: P1}, {restore: P1}", {"P1": "routed"}),
    ("tie", "{route: {W1.main: way}}, {tie: {W1.main: t1}}", {}),
    ("cut_tie", "{route: {W1.main: way}}, {tie: {W1.main: t1}}, {cut_tie: {W1.main: t1}}", {}),
    ("route", "{take: W2}, {route: {W2.main: way off}}", {"N1": "routed", "N2": "routed bench"}),
    ("restrain", "{take: N1}, {restrain: N1}", {"N1": "restrained bench"}),
    ("stow", "{take: N1}, {stow: {N1: sack}}", {"N1": "stowed sack"}),
    ("install", "{remove: PAN}, {install: PAN}", {"PAN": "installed"}),
    ("remove", "{remove: BOX}", {"BOX": "removed ada"}),
    ("walk", "{walk: {to: hatch, carrying: true}}", {"ada": "at hatch"}),
    ("inspect", "{inspect: P1}", {"P1": "mated J1"}),
    ("verify", "{verify: {SW1: on}}", {"SW1": "on"}),
    ("expect", "{expect: {P1: mated J1, light: up}}", {}),
    ("go_call", "{go_call: GO-1}", {}),
    ("wait", "{wait: 5}", {}),
    ("found", "{found: {P1: part_engaged}, reason: seen}", {"P1": "part_engaged J1"}),
    ("retire", "{retire: light}", {}),
]


@pytest.mark.parametrize(("verb", "actions", "then"), DONE, ids=[row[0] for row in DONE])
def test_done(verb: str, actions: str, then: dict[str, str]) -> None:
    base = BENCH if "COV" in actions else AJAR
    result = run(f"[[{actions}]]", "{services: {light: {}}}", base, minutes="0")
    assert not having(result, "refused"), having(result, "refused")[0].sentence()
    assert not having(result, "not-as-expected")
    assert result.trace.events[-1].task.verb == verb
    for name, words in then.items():
        assert so(result, name, words), f"{name} is not {words}"


def test_every_verb_is_done_once() -> None:
    assert {row[0] for row in DONE} == set(VERBS)


REFUSED: list[tuple[str, str, list[str], list[str]]] = [
    # verb, actions (the last cannot be done), words of what was found, words of the way out
    ("mate", f"{BAG}, {{mate: {{N1: J1}}}}", ["J1", "mated with", "P1"], ["demate"]),
    ("engage", (
        f"{BAG}, {{engage: {{N1: JN}}}}, {{engage: {{N1: JN}}}}"
    ), ["part_engaged"], ["seat"]),
    ("seat", f"{BAG}, {{mate: {{N1: JN}}}}, {{seat: {{N1: JN}}}}", ["N1", "mated"], ["demate"]),
    ("lock", "{lock: P1}", ["P1", "mated", "lock"], ["demate"]),
    ("demate", "{demate: J3}", ["J3", "capped", "demate"], ["remove_cap"]),
    ("park", f"{BAG}, {{park: {{N1: JN}}}}", ["JN", "parking"], []),
    ("fit_cap", "{take: CL}, {fit_cap: {CL: J1}}", ["J1", "mated"], ["demate"]),
    ("remove_cap", "{remove_cap: CL}", ["CL", "packed"], ["take"]),
    ("tether", "{tether: C3}", ["C3", "fitted"], []),
    ("pick_up", "{pick_up: C3}", ["C3", "fitted"], ["remove_cap"]),
    ("let_go", "{let_go: P1}", ["P1", "routed"], ["pull_aside"]),
    ("release", "{release: {COV: 5}}", ["COV", "4", "5"], []),
    ("fasten", "{fasten: COV}", ["COV", "fastened"], ["release"]),
    ("open", "{open: COV}", ["COV", "fastened"], ["release"]),
    ("close", "{close: COV}", ["COV", "fastened"], ["release"]),
    ("remove_cover", "{remove_cover: COV}", ["COV", "fastened"], ["release"]),
    ("fit_cover", "{fit_cover: COV}", ["COV", "fastened"], ["release"]),
    ("switch_off", "{walk: hatch}, {switch_off: SW1}", ["SW1", "bench", "hatch"], ["walk"]),
    ("block", "{block: SW1}", ["SW1", "on", "block"], ["switch_off"]),
    ("unblock", "{unblock: SW1}", ["SW1", "on"], ["switch_off"]),
    ("switch_on", "{block: SW2}, {switch_on: SW2}", ["SW2", "blocked"], ["unblock"]),
    ("reset", "{reset: SW1}", ["SW1", "on"], ["switch_off"]),
    ("take", "{take: P1}", ["P1", "routed"], ["pull_aside"]),
    ("pack", "{pack: {P1: kit}}", ["P1", "routed"], ["pick_up"]),
    ("carry", "{carry: kit}, {carry: kit}", ["kit", "carried"], ["leave"]),
    ("leave", "{leave: kit}", ["kit", "at_place"], ["carry"]),
    ("hand_over", "{take: N1}, {hand_over: {N1: bob}}", ["bob", "two workers"], []),
    ("pull_aside", "{pull_aside: N1}", ["N1", "packed"], ["take"]),
    ("restore", "{restore: P1}", ["P1", "routed"], ["pull_aside"]),
    ("tie", "{tie: {W1.main: t1}}", ["W1.main", "way", "t1"], ["route"]),
    ("cut_tie", "{cut_tie: {W1.main: t1}}", ["W1.main", "not tied", "t1"], ["tie"]),
    ("route", "{take: W2}, {route: {W2.main: off}}", ["off", "bench"], ["walk"]),
    ("restrain", "{restrain: N1}", ["N1", "packed"], ["take"]),
    ("stow", "{stow: {N1: bench}}", ["N1", "packed"], ["take"]),
    ("install", "{install: PAN}", ["PAN", "installed"], ["remove"]),
    ("remove", "{remove: BOX}, {remove: BOX}", ["BOX", "removed"], ["install"]),
    ("walk", "{walk: bob}", ["bob", "no vehicle"], []),
    ("inspect", "{inspect: JF}", ["JF", "far", "bench"], ["walk"]),
    ("verify", "{walk: hatch}, {verify: {SW1: on}}", ["SW1", "bench"], ["walk"]),
    ("found", "{found: {J1: capped}, reason: seen}", ["J1", "capped"], []),
]  # fmt: skip


@pytest.mark.parametrize(
    ("verb", "actions", "words", "legal"), REFUSED, ids=[row[0] for row in REFUSED]
)
def test_refused(verb: str, actions: str, words: list[str], legal: list[str]) -> None:
    result = run(f"[[{actions}]]", base=BENCH if "COV" in actions else AJAR)
    (finding,) = having(result, "refused")
    assert finding.found.startswith(f"{verb} is impossible")
    assert finding.expected
    assert finding.step == "s1"
    assert finding.address.path[:2] == ("steps", 0)
    assert not [word for word in words if word not in finding.found], finding.sentence()
    assert not [word for word in legal if word not in finding.way_out], finding.sentence()


def test_every_verb_that_can_be_impossible_is_refused_once() -> None:
    """Waiting, a GO call, an expectation and a retirement are always possible."""
    always = {"expect", "go_call", "wait", "retire"}
    assert {row[0] for row in REFUSED} == set(VERBS) - always
