"""Covers with their fasteners and what lies beneath; caps tethered, loose and electrical."""

from __future__ import annotations

import pytest
from small import LAMP, end, having, place, run, so, stands, words_at


def refusal(steps: str, more: str = "{}", base: str | None = None) -> str:
    result = run(steps, more) if base is None else run(steps, more, base)
    (finding,) = having(result, "refused")
    return finding.sentence()


# --- covers --------------------------------------------------------------------------------


def test_fasteners_are_counted() -> None:
    result = run("[[{release: {COV: 1}}, {release: {COV: 2}}, {fasten: {COV: 1}}]]")
    assert so(result, "COV", "part_fastened 2")


@pytest.mark.parametrize(
    ("actions", "state"),
    [
        ("{release: {COV: 4}}", "released"),
        ("{release: {COV: 3}}, {release: {COV: 1}}", "released"),
        ("{release: {COV: 3}}, {release: COV}", "released"),
        ("{release: {COV: 3}}, {fasten: {COV: 3}}", "fastened"),
        ("{release: COV}, {fasten: COV}", "fastened"),
    ],
)
def test_all_or_none_of_the_fasteners(actions: str, state: str) -> None:
    result = run(f"[[{actions}]]")
    assert not having(result, "refused")
    config = end(result)
    assert config.state_name(config.wiring.by_id["COV"]) == state


def test_more_fasteners_than_there_are() -> None:
    said = refusal("[[{release: {COV: 3}}, {release: {COV: 2}}]]")
    assert "has 1 fastener" in said
    assert "2 cannot be released" in said
    assert "at most 3" in refusal("[[{release: {COV: 3}}, {fasten: {COV: 4}}]]")


def test_a_part_fastened_cover_opens_only_when_released() -> None:
    said = refusal("[[{release: {COV: 3}}, {open: COV}]]")
    assert "COV is part_fastened" in said
    assert "release" in said


OPEN = "{release: COV}, {open: COV}"


@pytest.mark.parametrize(
    ("before", "state"),
    [
        ("{pull_aside: P1}", "pulled_aside"),
        ("{pick_up: P1}", "in_hand"),
        ("{pick_up: P1}, {let_go: P1}", "loose"),
        ("{pick_up: P2}, {restrain: P2}", "restrained"),
    ],
)
def test_a_cover_does_not_close_over_a_leg_out_of_its_path(before: str, state: str) -> None:
    said = refusal(f"[[{OPEN}, {before}, {{close: COV}}]]")
    assert "W1.main passes beneath COV" in said
    assert state in said
    assert "restore" in said


def test_nor_is_it_fitted_there() -> None:
    said = refusal("[[{release: COV}, {remove_cover: COV}, {pull_aside: P1}, {fit_cover: COV}]]")
    assert "pulled_aside" in said


def test_a_cover_closes_over_a_leg_put_back() -> None:
    result = run(
        f"[[{OPEN}, {{pull_aside: P1}}, {{restore: P1}}, {{close: COV}}, {{fasten: COV}}]]"
    )
    assert so(result, "COV", "fastened")


def test_a_cover_closes_over_a_packed_leg() -> None:
    more = "{places: {bench: {covers: {COV: {over_segments: W2.main}}}}}"
    assert not having(run(f"[[{OPEN}, {{close: COV}}]]", more), "refused")


def test_a_cover_is_fitted_only_at_its_own_place() -> None:
    said = refusal("[[{release: COV}, {remove_cover: COV}, {walk: hatch}, {fit_cover: COV}]]")
    assert "COV belongs to bench" in said
    assert "walk" in said


def test_a_removed_cover_goes_where_its_holder_goes() -> None:
    assert place(run("[[{release: COV}, {remove_cover: COV}, {walk: hatch}]]"), "COV") == "hatch"


def test_a_removed_cover_can_be_picked_up() -> None:
    """documents/actions.py: pick_up takes a leg, cap or removed cover in hand."""
    result = run("[[{pick_up: COV}]]", "{now: {removed: {COV: bench}}}")
    assert so(result, "COV", "removed ada")


def test_a_removed_cover_may_stand_under_held() -> None:
    """documents/now.py: held is 'cap or removed cover to the person who holds it'."""
    assert so(run("[[{wait: 1}]]", "{now: {held: {COV: ada}}}"), "COV", "removed ada")


# --- caps ----------------------------------------------------------------------------------


def test_a_tethered_cap_hangs_at_its_half() -> None:
    result = run("[[{remove_cap: C3}, {walk: hatch}]]")
    assert so(result, "C3", "tethered J3")
    assert place(result, "C3") == "bench"


def test_a_loose_cap_stays_in_hand() -> None:
    result = run("[[{take: W2}, {remove_cap: CU}, {walk: hatch}]]")
    assert so(result, "CU", "held ada")
    assert place(result, "CU") == "hatch"


def test_a_cap_off_another_half_stays_in_hand() -> None:
    """On its own tether only at its own half."""
    steps = "[[{take: CL}, {remove_cap: C3}, {fit_cap: {CL: J3}}, {remove_cap: CL}]]"
    assert so(run(steps), "CL", "held ada")


def test_a_held_cap_is_tethered_to_its_half_or_to_the_place() -> None:
    assert so(run("[[{remove_cap: C3}, {pick_up: C3}, {tether: C3}]]"), "C3", "tethered J3")
    steps = "[[{remove_cap: C3}, {pick_up: C3}, {walk: hatch}, {tether: C3}]]"
    assert so(run(steps), "C3", "tethered hatch")


def test_a_cap_someone_else_holds_is_not_fitted() -> None:
    steps = "[[{remove_cap: C3}, {pick_up: C3}], {by: bob, after: s1, do: [{fit_cap: {C3: J3}}]}]"
    said = refusal(steps)
    assert "C3 is held" in said
    assert "ada" in said


def test_a_cap_that_does_not_fit() -> None:
    assert "does not fit" in refusal("[[{take: CL}, {fit_cap: {CL: JQ}}]]")
    assert "does not fit" in refusal(
        "[[{take: W2}, {take: CL}, {remove_cap: CN}, {fit_cap: {CL: N1}}]]"
    )


def test_a_half_has_one_cap() -> None:
    said = refusal("[[{take: CL}, {fit_cap: {CL: J3}}]]")
    assert "J3 is capped" in said
    assert "remove_cap" in said


def test_a_lost_cap_is_nowhere() -> None:
    result = run("[[{found: {C3: lost}, reason: gone}, {fit_cap: {C3: J3}}]]")
    (finding,) = having(result, "refused")
    assert "C3 is lost" in finding.found
    assert so(result, "J3", "bare")


def test_caps_in_a_bag() -> None:
    result = run("[[{take: CL}, {pack: {CL: sack}}, {carry: sack}, {walk: hatch}]]")
    assert stands(result, "CL") == "packed sack"
    assert place(result, "CL") == "hatch"


BUS = """
interfaces: {p2: 2}
places:
  bench:
    halves: {J1: p2 socket A.x A.y}
    units: {A: {kind: load, terminals: x y}}
caps: {T: {on: J1, joins: ['1 2']}, E: {fits: p2 socket, terminals: r, wired: {1: r}}}
people: {ada: outside}
services:
  loop: {kind: data, lines: A.x to A.y}
now: {held: {E: ada}}
"""


def test_an_electrical_cap_makes_a_line_while_it_is_on() -> None:
    steps = "[{loses: loop, do: [{remove_cap: T}]}, [{fit_cap: {T: J1}}, {verify: loop}]]"
    result = run(steps, base=BUS)
    assert [words_at(result, at, "loop") for at in (None, "s1", "s2")] == ["up", "down", "up"]


def test_an_electrical_cap_of_another_make_makes_none() -> None:
    steps = "[{loses: loop, do: [{remove_cap: T}]}, [{fit_cap: {E: J1}}]]"
    assert words_at(run(steps, base=BUS), "s2", "loop") == "down"


def test_a_plain_cap_joins_nothing() -> None:
    more = "{caps: {T: {joins: '~'}}, now: {bare: []}}"
    result = run("[[{inspect: J1}]]", more, BUS)
    assert words_at(result, None, "loop") == "down"


def test_an_electrical_cap_on_a_live_half_is_a_finding_not_a_refusal() -> None:
    more = "{caps: {T: {on: J1, joins: ['1 2']}}, now: {mated: {P1: '~'}, loose: {P1: bench}}}"
    result = run("[[{remove_cap: T}]]", more, LAMP)
    assert not having(result, "refused")
    assert having(result, "live-contact")
