"""Every fault of a document is told in parts: found, expected or difference, and a way out.

For each rule of reading documents the smallest document that breaks it. ``# here`` marks the line
that must be told; where a remark would change what is wrong, the line stands as a number. A rule
without an example fails, and so does a place in the code that makes such a finding without its
parts.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import NamedTuple

import pytest

from cablewalk.checks.told_elsewhere import DOCUMENT_RULES
from cablewalk.files.load import load_baseline, parse_baseline, parse_procedure
from cablewalk.files.place import Source
from cablewalk.findings import Finding, Severity
from cablewalk.timeline.account import account
from cablewalk.walk.run import ready

HEAD = "cablewalk: 1\nbaseline: B\n"
PLACE = HEAD + "places: {P: {}}\n"
LAMP = """\
cablewalk: 1
baseline: B
interfaces: {p2: 2, q2: {contacts: 2, family: other}}
places:
  P:
    units: {SRC: {kind: source, volts: 28}, LAMP: load}
    halves:
      J1: p2 socket SRC.hi SRC.ret
      J2: p2 pin LAMP.hi LAMP.ret
      JQ: q2 socket
    covers: {COV: {fasteners: 4}}
    switches: {SW1: }
harnesses: {W1: [P1 p2 pin, P2 p2 socket]}
people: {ada: outside}
services: {light: {kind: power, load: LAMP, feeds: SRC}}
"""
NOW = "now:\n  on: [SW1]\n"
FINE = LAMP + NOW + "  mated: {P1: J1, P2: J2}\n"
PROC = "cablewalk: 1\nprocedure: W\nminutes: 1\n"
TWO_STRINGS = """\
    units: {A: {kind: load, terminals: d}, B: {kind: load, terminals: d}}
services:
  data: # here
    kind: data
    strings: {a: {lines: A.d to B.d}, b: {lines: A.d to B.d}}
"""


class Example(NamedTuple):
    """The documents that break a rule, and what must be told."""

    baseline: str | bytes
    item: str
    """Words of the sentence that name what is wrong."""
    procedures: tuple[str, ...] = ()
    line: int = 0
    """Where no ``# here`` can stand."""
    difference: str = ""
    """Words of the difference, where there must be one."""
    way_out: str = ""
    """Words of the way out, where it can be known what was meant."""


def steps(text: str) -> tuple[str, ...]:
    """Return one procedure of these steps."""
    return (f"{PROC}steps:\n{text}",)


EXAMPLES: dict[str, Example] = {
    "bad-value": Example(
        PLACE + "paths:\n  T:\n    between: P P\n    length_m: -5 # here\n",
        "paths/T/length_m is '-5'", difference="5 below that", way_out="take the minus away",
    ),
    "wrong-type": Example(
        HEAD + "places:\n  P:\n    units:\n      U:\n        kind: source\n"
        "        volts: 28 V # here\n",
        "volts is '28 V'", difference="'V' stands behind the number", way_out="write 28 alone",
    ),
    "unknown-key": Example(
        HEAD + "places:\n  P:\n    fasteners: 4 # here\n",
        "the key 'fasteners' in places/P", difference="it is a key of a cover",
        way_out="move it to a cover",
    ),
    "missing-key": Example(
        PLACE + "services:\n  S: # here\n    lines: A.d to B.d\n",
        "services/S has no key 'kind'", difference="it has lines",
    ),
    "bad-key": Example("a: 1\n? [b, c] # here\n: 2\n", "where a key should be"),
    "and-more": Example(
        HEAD + "places: {}\n" + "".join(f"x{n}: 1\n" for n in range(203)),
        "and 3 more findings", line=1, difference="203 in all",
    ),
    "unknown-id": Example(
        FINE + "  people: {ada: Q} # here\n", "there is no place or person Q", way_out="there is",
    ),
    "unknown-state": Example(
        FINE, "COV cannot be 'mated'",
        steps("- id: s1\n  by: ada\n  do:\n  - expect: {COV: mated} # here\n"),
        difference="COV is a cover",
    ),
    "unknown-contact": Example(
        LAMP.replace("LAMP.ret\n", "LAMP.ret\n      JX: {interface: p2, gender: pin, wired: {3: "
        "SRC.hi}} # here\n") + NOW,
        "JX has no contact 3", difference="it has 2, numbered from 1",
    ),
    "unknown-terminal": Example(
        LAMP.replace("SRC.ret\n", "SRC.rat # here\n") + NOW,
        "SRC has no terminal rat", way_out="did you mean ret?",
    ),
    "duplicate-id": Example(
        FINE + "bags: [J1] # here\n", "J1 names a bag here, and a half already",
        difference="places/P/halves/J1",
    ),
    "duplicate-key": Example(
        "a: 1\nb:\n  c: 1\n  c: 2 # here\n", "'c' stands twice in b",
        difference="it stands first in line 3",
    ),
    "in-two-places": Example(
        FINE + "  off: [SW1] # here\n", "SW1 is said to be off here and on before",
        difference="now/on/#1",
    ),
    "strings-not-told-apart": Example(
        HEAD + "places:\n  P:\n" + TWO_STRINGS, "strings data.a and data.b",
        difference="A.d to B.d is in both",
    ),
    "needs-cycle": Example(
        FINE.replace(
            "light: {kind: power, load: LAMP, feeds: SRC}}",
            "light: {kind: power, load: LAMP, feeds: SRC},\n"
            "  a: {kind: k, load: LAMP, feeds: SRC, needs: b},\n"
            "  b: {kind: k, load: LAMP, feeds: SRC, needs: c},\n"
            "  c: {kind: k, load: LAMP, feeds: SRC, needs: a}} # here",
        ),
        "a and b and c need each other", difference="a needs b, b needs c, c needs a",
        way_out="that of c for a",
    ),
    "waits-for-itself": Example(
        FINE, "s1, s2",
        steps("- {id: s1, by: ada, after: s2, do: {verify: light}} # here\n"
              "- {id: s2, by: ada, do: {verify: light}}\n"),
        difference="document order",
    ),
    "no-minutes": Example(
        FINE, "nothing says how long 'verify' takes",
        ("cablewalk: 1\nprocedure: W\nminutes: {mate: 1}\nsteps:\n- id: s1\n  by: ada\n"
         "  do:\n  - verify: light # here\n",),
        difference="minutes for mate only", way_out="minutes: {verify",
    ),
    "no-gap": Example(
        FINE, "how long after W V begins",
        (PROC + "steps: []\n", "cablewalk: 1\nprocedure: V # here\nsteps: []\n"),
        way_out="add 'gap_min' to V",
    ),
    "nobody": Example(
        FINE, "nobody is named to verify", steps("- id: s1\n  do:\n  - verify: light # here\n"),
        way_out="by: ada",
    ),
    "cannot-mate": Example(
        FINE.replace("{P1: J1, P2: J2}", "\n    P2: JQ # here"), "P2 is said to be mated with JQ",
        difference="their family differs (p2 and other) and both have socket contacts",
        way_out="P2 fits J2",
    ),
    "cannot-fit": Example(
        FINE + "  fitted: {C: JQ} # here\ncaps: {C: {fits: p2 socket}}\n", "C does not fit JQ",
        difference="their family differs (p2 and other)", way_out="C fits J1",
    ),
    "cap-nowhere": Example(
        FINE + "caps:\n  C: {fits: p2 socket} # here\n", "the loose cap C",
        difference="belongs to no half", way_out="{C: PERSON}",
    ),
    "bag-nowhere": Example(
        HEAD + "places: {P: {}, Q: {}}\nbags: [kit]\nnow:\n  bags: # here\n", "where bag kit is",
        difference="there are 2", way_out="bags: {kit: PLACE}",
    ),
    "person-nowhere": Example(
        HEAD + "places: {P: {}, Q: {}}\npeople: {ada: outside}\nnow:\n  people: # here\n",
        "where ada is", difference="there are 2", way_out="people: {ada: PLACE}",
    ),
    "two-caps": Example(
        FINE + "caps:\n  C: JQ\n  D:\n    on: JQ # here\n", "D is a second cap on JQ",
        difference="the cap C, at caps/C",
    ),
    "too-many-wires": Example(
        FINE.replace("      JQ: q2 socket\n", "      JQ: q2 socket LAMP.hi - LAMP.ret # here\n"),
        "JQ is wired to 3 terminals", difference="1 too many: LAMP.ret",
    ),
    "too-many-contacts": Example(
        HEAD + "interfaces: # here\n  big: 2000\nplaces:\n  P:\n    halves:\n"
        + "".join(f"      J{n}: big pin\n" for n in range(251)),
        "502,000 contacts", difference="2,000 too many",
    ),
    "uneven-run": Example(
        FINE.replace("[P1 p2 pin, P2 p2 socket]}",
                     "{legs: {P1: p2 pin, P2: p2 socket}, runs: [\n  [P1.1-2, P2.1]]}} # here"),
        "P1.1-2 P2.1", difference="P1.1-2 is 2, P2.1 is 1", way_out="shorten to 1 each",
    ),
    "foreign-run": Example(
        FINE.replace("[P1 p2 pin, P2 p2 socket]}",
                     "{legs: {P1: p2 pin, P2: p2 socket}, runs: [\n  [P1.1, J1.1]]}} # here"),
        "the run names J1.1", difference="J1 is a half of P", way_out="did you mean P1?",
    ),
    "parking-half-wired": Example(
        FINE.replace("      JQ: q2 socket\n", "      JQ: {interface: q2, gender: pin, "
                     "parking: true, wired: [LAMP.hi]} # here\n"),
        "JQ is a parking half", difference="it is wired to LAMP.hi",
    ),
    "bad-yaml": Example("a: 1\nb: [1,\n  2\nc: 3\n", "'['", line=2, way_out="']'"),
    "wrong-document": Example(
        "cablewalk: 1\nprocedure: W # here\nsteps: []\n", "this file is a procedure",
        difference="none 'baseline'",
    ),
    "not-a-document": Example("# nothing\n- a # here\n", "the file is a list"),
    "several-documents": Example(
        "a: 1\n---  # here\nb: 2\n", "'---'", difference="was not read",
    ),
    "empty-file": Example("# only a remark\n", "holds nothing", line=1, difference="only remarks"),
    "unreadable": Example(
        b"a: 1\nb: caf\xe9\n", "byte 0xe9", line=2, difference="would be 'é' in Windows-1252",
    ),
    "too-large": Example(
        "a:\n" + "- x\n" * 500_000, "500,000 entries", line=499_997, difference="was read",
    ),
    "too-deep": Example("a: 1\nb: " + "[" * 900, "more than 40 deep", line=2,
        difference="was read",
    ),
    "tag": Example("a: 1\nb: !x y # here\n", "the tag '!x'"),
    "alias": Example("a: 1\nb: &x [1] # here\n", "the anchor '&x'"),
}  # fmt: skip


def told(example: Example) -> tuple[list[Finding], list[Source]]:
    """Return everything that is told of an example's documents, and the documents."""
    raw = example.baseline
    loaded = parse_baseline(raw if isinstance(raw, bytes) else raw.encode(), "b.yaml")
    sources, findings = [loaded.source], list(loaded.findings)
    procedures = []
    for n, text in enumerate(example.procedures, start=1):
        one = parse_procedure(text.encode(), f"p{n}.yaml", n)
        sources.append(one.source)
        findings.extend(one.findings)
        if one.model is not None:
            procedures.append(one.model)
    if loaded.model is not None and not findings:
        findings.extend(
            account(loaded.model, procedures).findings
            if procedures
            else ready(loaded.model).findings
        )
    return findings, sources


def place(example: Example) -> tuple[int, int]:
    """Return document and line of the one ``# here``."""
    if example.line:
        return 0, example.line
    for n, text in enumerate([example.baseline, *example.procedures]):
        lines = (text.decode() if isinstance(text, bytes) else text).split("\n")
        marked = [k for k, line in enumerate(lines, start=1) if "# here" in line]
        if marked:
            return n, marked[0]
    raise AssertionError("no line of the example is marked")


def test_every_rule_has_an_example() -> None:
    assert not set(DOCUMENT_RULES) - set(EXAMPLES)


@pytest.mark.parametrize("rule", EXAMPLES)
def test_the_parts_and_the_place(rule: str) -> None:
    example = EXAMPLES[rule]
    findings, sources = told(example)
    named = [f for f in findings if f.rule == rule and example.item in f.sentence()]
    assert named, [(f.rule, f.sentence()) for f in findings]
    others = {f.rule for f in findings if f.severity is Severity.ERROR} - {rule}
    assert others == ({"unknown-key"} if rule == "and-more" else set())
    finding = named[0]
    assert finding.expected or finding.difference
    assert finding.way_out
    assert example.difference in finding.difference
    assert example.way_out in finding.way_out
    parts = [p for p in (finding.found, finding.expected, finding.difference) if p]
    assert len(set(parts)) == len(parts), "a part repeats another"
    at = sources[finding.address.document].line(finding.address.path)
    assert (finding.address.document, at) == place(example)


def test_a_sound_document_is_told_nothing() -> None:
    """The example that the others are altered from breaks no rule of this table."""
    findings, _ = told(Example(FINE, ""))
    assert not {f.rule for f in findings} & set(DOCUMENT_RULES)


def test_a_file_of_nearly_that_name_is_offered(tmp_path: Path) -> None:
    (tmp_path / "bench.yaml").write_text(FINE, encoding="utf-8")
    (finding,) = load_baseline(tmp_path / "bnech.yaml").findings
    assert (finding.rule, finding.way_out) == ("unreadable", "did you mean bench.yaml?")
    (finding,) = load_baseline(tmp_path / "none" / "bench.yaml").findings
    assert "none' is not there either" in finding.difference


SOURCE = Path(__file__).resolve().parents[1] / "src" / "cablewalk"
MAKERS = {"error", "warning", "Finding"}


def lacking(text: str) -> list[int]:
    """Return the lines of calls that make a finding of a document rule without its parts."""
    wrong = []
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        first = node.args[0] if node.args else None
        if name not in MAKERS or not isinstance(first, ast.Constant):
            continue
        parts = {keyword.arg for keyword in node.keywords}
        if first.value in DOCUMENT_RULES and not (
            "way_out" in parts and parts & {"expected", "difference"}
        ):
            wrong.append(node.lineno)
    return wrong


def test_no_place_in_the_code_leaves_a_part_out() -> None:
    rooms = ("files", "replay", "schedule", "walk")
    paths = sorted(path for room in rooms for path in SOURCE.glob(f"{room}/*.py"))
    sites = {path.name: lacking(path.read_text(encoding="utf-8")) for path in paths}
    assert {name: lines for name, lines in sites.items() if lines} == {}
    assert lacking('error("two-caps", at, "two", expected="one")') == [1]
