"""Bad input at the level of loading: a sentence with the right line, never a traceback."""

from __future__ import annotations

import time

import pytest

from cablewalk.files.describe import describe
from cablewalk.files.load import parse_baseline, parse_procedure
from cablewalk.findings import Finding, Severity

HEAD = "cablewalk: 1\nbaseline: B\n"


def _findings(raw: str | bytes) -> list[tuple[int | None, Finding]]:
    data = raw.encode() if isinstance(raw, str) else raw
    loaded = parse_baseline(data, "b.yaml")
    assert loaded.model is None
    for finding in loaded.findings:
        text = describe(finding, [loaded.source])
        assert text.isprintable()
        assert len(text) < 1000
        for part in (finding.found, finding.expected, finding.way_out):
            assert part
        for jargon in ("pydantic", "validation", "dict[", "constrained", "Input should", "tuple"):
            assert jargon not in text
    return [(loaded.source.line(f.address.path), f) for f in loaded.findings]


@pytest.mark.parametrize(
    ("raw", "line", "rule", "words"),
    [
        ("", 1, "empty-file", "holds nothing"),
        ("# only a remark\n---\n", 1, "empty-file", "holds nothing"),
        (b"a: 1\n\x00\x01\x02", 2, "unreadable", "binary"),
        (b"\x7fELF\x02", 1, "bad-yaml", "U+007F"),
        (b"a: 1\nb: \xff", 2, "unreadable", "0xff"),
        ("\ufeffa: 1".encode("utf-16"), 1, "unreadable", "UTF-8"),
        ("a: 1\nb: \x1b[31m", 2, "bad-yaml", "U+001B"),
        ("- a\n- b\n", 1, "not-a-document", "a list"),
        ("\n\njust words\n", 3, "not-a-document", "'just words'"),
        ("a: 1\nb: 2\na: 3\n", 3, "duplicate-key", "'a' stands twice in the file"),
        ("a:\n  b: 1\n  'b': 2\n", 3, "duplicate-key", "'b' stands twice in a"),
        ('a: {b: 1, " b": 2}\n', 1, "duplicate-key", "'b' stands twice in a"),
        ("a: 1\nb: " + "[" * 10_000, 2, "too-deep", "nested more than 40"),
        ("a: 1\nb:\n" + "".join(f"{' ' * n}b:\n" for n in range(1, 900)), 42, "too-deep", "40"),
        ("- " * 5000, 1, "too-deep", "40"),
        ("a: 1\nb: !!python/object:os.system x\n", 2, "tag", "os.system"),
        ("a: 1\nb: ! x\n", 2, "tag", "'!'"),
        ("a: 1\nb: &x [1]\n", 2, "alias", "'&x'"),
        ("a: 1\n---\nb: 2\n", 2, "several-documents", "---"),
        ("a: 1\n? [b, c]\n: 2\n", 2, "bad-key", "key"),
        ("a: 1\nb: c: d\n", 2, "bad-yaml", "':'"),
        ("a: 1\n\tb: 2\n", 2, "bad-yaml", "tab"),
        ("a: 1\nb: 'x\nc: 2\n", 2, "bad-yaml", "quote"),
        ("a: 1\nb: [1,\n  2\nc: 3\n", 2, "bad-yaml", "'['"),
        ("a: 1\nb: @x\n", 2, "bad-yaml", "'@'"),
        ("a: 1\nb\nc: 2\n", 2, "bad-yaml", "no ':'"),
    ],
)
def test_what_is_refused_before_the_model(
    raw: str | bytes, line: int, rule: str, words: str
) -> None:
    at, finding = _findings(raw)[0]
    assert (at, finding.rule) == (line, rule)
    assert words in finding.found
    assert finding.severity is Severity.ERROR


def test_an_alias_bomb_is_refused_at_once() -> None:
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 40)]
    begin = time.perf_counter()
    found = _findings("\n".join(lines))
    assert time.perf_counter() - begin < 5
    assert {f.rule for _, f in found if f.rule != "and-more"} == {"alias"}
    assert [at for at, _ in found[:3]] == [1, 2, 2]


def test_every_duplicate_key_is_told_with_its_own_line() -> None:
    found = _findings("a: 1\nb:\n  c: 1\n  c: 2\na: 2\nd: 1\nd: 2\n")
    assert [(at, f.rule) for at, f in found] == [(n, "duplicate-key") for n in (4, 5, 7)]


MANY = (
    HEAD
    + """\
place: {}
places:
  P:
    lable: x
    covers:
      C1: {fasteners: 1.5}
      C2:
        fasteners: many
        captive: perhaps
      C3: {fasteners: 0}
    units:
      U1: {kind: source, volts: -5}
      U2: {kind: source, volts: nan}
      U3: {kind: source, volts: 1e999}
      U4: {kind: source,
        volts: .inf}
      U5: {kind: sauce}
      U6:
    halves:
      "a b": p pin
      J1: p
      J2: {interface: p}
      J3: {interface: p, gender: pin, wired: {1: nowhere}}
      J4: {interface: p, gender: pin, wired: SRC.hi}
paths:
  T1: {between: P, length_m: 1}
  T2: {between: P Q R, length_m: [1]}
harnesses:
  W1:
  - P1 a pin
  - P2 a pine
caps: [C]
services:
  S: {kind: k, load: U, feeds: F,
    clock: {allowed_min: -1}}
now:
  mated: P1
  mate: {}
  dark_min:
    S: "-3"
"""
)


def test_every_fault_of_a_model_is_told_with_its_line() -> None:
    found = _findings(MANY)
    told = sorted((at or 0, f.rule) for at, f in found)
    assert told == [
        (3, "unknown-key"),
        (6, "unknown-key"),
        (8, "wrong-type"),
        (10, "wrong-type"),
        (11, "wrong-type"),
        (12, "bad-value"),
        (14, "bad-value"),
        (15, "bad-value"),
        (16, "bad-value"),
        (18, "wrong-type"),
        (19, "bad-value"),
        (20, "wrong-type"),
        (22, "bad-value"),
        (23, "bad-value"),
        (24, "missing-key"),
        (25, "bad-value"),
        (26, "wrong-type"),
        (28, "wrong-type"),
        (29, "bad-value"),
        (29, "wrong-type"),
        (33, "bad-value"),
        (34, "wrong-type"),
        (37, "bad-value"),
        (37, "missing-key"),
        (39, "wrong-type"),
        (40, "unknown-key"),
        (42, "bad-value"),
    ]
    by_line = {(at, f.rule): f for at, f in found}
    for at, near in ((3, "places"), (6, "label"), (40, "mated")):
        assert by_line[at, "unknown-key"].way_out == f"did you mean '{near}'?"
    assert by_line[19, "bad-value"].way_out == "did you mean 'source'?"
    assert by_line[14, "bad-value"].expected == "a number greater than 0"
    assert by_line[24, "missing-key"].found == "places/P/halves/J2 has no key 'gender'"
    assert by_line[23, "bad-value"].expected == "a half is written 'interface gender [terminal …]'"
    assert by_line[26, "wrong-type"].expected == "a group of keys ('key: value') or a list"


def test_keys_that_stand_in_short_place_are_offered() -> None:
    (_, unit), (_, service) = _findings(
        HEAD
        + "places: {P: {units: {U: {kind: source, volt: 5}}}}\n"
        + "services: {S: {kind: k, load: U, feeds: F, trough: P1}}\n"
    )
    assert unit.way_out == "did you mean 'volts'?"
    assert service.way_out == "did you mean 'through'?"


def test_yaml_1_1_traps_survive_as_text() -> None:
    text = (
        HEAD
        + "interfaces: {on: [on, off, 010, yes]}\n"
        + "places:\n  no: {label: 6:30, where: 1.10}\n  010: {label: ~}\n"
        + "now: {on: [no, 010]}\n"
    )
    model = parse_baseline(text.encode(), "b.yaml").model
    assert model is not None
    assert model.interfaces["on"].contacts == ("on", "off", "010", "yes")
    assert (model.places["no"].label, model.places["no"].where) == ("6:30", "1.10")
    assert model.places["010"].label == "~"
    assert model.now.on == ("no", "010")


def test_huge_texts_are_clipped_and_escapes_are_inert() -> None:
    huge = "\u202e\\e[2J" + "x" * 1_000_000
    ((at, finding),) = _findings(f'{HEAD}places:\n  P:\n    label: "{huge}"\n')
    assert at == 5
    assert "characters)" in finding.found
    assert r"\u202e\x1b[2J" in finding.found
    assert finding.expected == "at most 200 characters"
    assert _findings(f'{HEAD}places: {{}}\n? "{huge}"\n: 1\n')[0][0] == 4
    assert _findings(f'{HEAD}places:\n  "{"y" * 900}": {{}}\n')[0][0] == 4
    assert _findings("a: 1\nb: &" + "z" * 100_000 + " c\n")[0][0] == 2


def test_an_empty_procedure_and_a_bad_time() -> None:
    loaded = parse_procedure(b"cablewalk: 1\nprocedure: P\nstart_pet: 5\nsteps:\n", "p.yaml", 1)
    told = [
        (f.address.document, loaded.source.line(f.address.path), f.rule) for f in loaded.findings
    ]
    assert told == [(1, 3, "bad-value"), (1, 4, "missing-key")]
    assert loaded.findings[0].expected == "a time of the form H:MM"
    assert loaded.findings[1].found == "the file has no key 'steps'"
