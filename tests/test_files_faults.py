"""What a model refuses: by how much, in what, and what to do, where that can be known."""

from __future__ import annotations

import pytest

from cablewalk.files.load import parse_baseline, parse_procedure
from cablewalk.findings import Finding

HEAD = "cablewalk: 1\nbaseline: B\n"


def told(text: str) -> Finding:
    """Return the one finding of a baseline's further lines, or of a procedure's."""
    if text.startswith("minutes"):
        raw = f"cablewalk: 1\nprocedure: W\nsteps: []\n{text}".encode()
        (finding,) = parse_procedure(raw, "p.yaml", 1).findings
    else:
        places = "" if text.startswith("places") else "places: {P: {}}\n"
        (finding,) = parse_baseline(f"{HEAD}{places}{text}".encode(), "b.yaml").findings
    return finding


COVER = "places: {P: {covers: {C: {fasteners: %s}}}}"
LENGTH = "paths: {T: {between: P P, length_m: %s}}"
UNIT = "places: {P: {units: {U: {kind: load, terminals: [a, b], %s}}}}"


@pytest.mark.parametrize(
    ("text", "difference", "way_out"),
    [
        (COVER % "1.5", "it lies between 1 and 2", "correct the value"),
        (COVER % "0", "1 below that", "correct the value"),
        (COVER % "-3", "4 below that", "take the minus away, or correct the value"),
        (COVER % "4 pcs", "'pcs' stands behind the number", "write 4 alone"),
        (COVER % "many", "", "correct the value"),
        (LENGTH % "0", "0 itself is not allowed", "correct the value"),
        (LENGTH % "2e6", "1,000,000 above that", "correct the value"),
        (LENGTH % "'1,5'", "a comma stands where a number has its point", "write 1.5 with a point"),
        (LENGTH % "'1,500'", "a comma stands where a number has its point", "or 1500"),
        ("places: {'a b.c': {}}", "' ', '.' cannot stand in it", "rename the key"),
        ("places: {_x: {}}", "it begins with '_'", "rename the key"),
        ("now: {along: {ab: P}}", "there is no '.' in it", "rename the key"),
        ("now: {along: {a.b.c: P}}", "there are several '.' in it", "rename the key"),
        ("places: {P: {label: %s}}" % ("x" * 230), "30 too many", "shorten it"),
        ("volts: 3", "it is a key of a feed and of a unit", "move it to a feed or a unit"),
        ("colour: red", "", "remove it, or check where it belongs"),
        ("interfaces: {a: [1, 1, 2]}", "3 contacts, but 2 names", "rename one of the two"),
        ("interfaces: {a: [1, shell]}", "every half has its shell already", "take 'shell' out"),
        (UNIT % "isolated: [[a], [a, c]]", "b (in no group); a (in more than one); c (no", "one"),
        (UNIT % "feeds: {F: {volts: 5, hi: a, ret: x}}", "", "add x to its terminals"),
        ("bags: [k, k]", "", "take one out"),
        ("harnesses: {W: [P1 a pin, P1 b pin]}", "'a pin' and 'b pin'", "rename one of the two"),
        ("harnesses: {W: [P1 a pin, P2 b pin]}", "P1 is a, P2 is b", "give its runs"),
        (
            "harnesses: {W: {legs: {P1: a pin, P2: a pin, P3: a pin}, "
            "segments: {s: {between: P1 n}, t: {between: n P2}}}}",
            "P3 is a leg at no such end",
            "correct 'between'",
        ),
        (
            "services: {S: {kind: k, need: 3, strings: {a: {lines: A.d to B.d}}}}",
            "2 more than there are",
            "lower need",
        ),
        (
            "minutes: {mate: [3, 2, 1]}",
            "likely is less than best and worst is less than likely",
            "in this order",
        ),
        ("minutes: {mat: 3}", "", "did you mean mate?"),
    ],
)
def test_difference_and_way_out(text: str, difference: str, way_out: str) -> None:
    finding = told(text)
    assert finding.expected
    assert way_out in finding.way_out
    if difference:
        assert difference in finding.difference
    else:
        assert finding.difference == ""


def test_the_offered_owner_of_a_key_takes_it() -> None:
    """What a message says bears a key does: the same key there is no fault."""
    assert "a cover" in told("places: {P: {fasteners: 4}}").difference
    assert parse_baseline(f"{HEAD}{COVER % '4'}\n".encode(), "b.yaml").findings == ()


def test_hostile_values_are_told_briefly() -> None:
    for text in ("9" * 5000, "1" * 30 + "," + "1" * 5000, "-" + "1" * 400, "4 " + "x" * 5000):
        finding = told(LENGTH % f"'{text}'")
        assert len(finding.sentence()) < 500
