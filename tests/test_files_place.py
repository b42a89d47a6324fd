"""From an address to a line: the longest part that exists, made-up steps skipped."""

from __future__ import annotations

import pytest

from cablewalk.files.load import parse_baseline
from cablewalk.files.nodes import compose
from cablewalk.files.place import Source, digest, node_at
from cablewalk.files.refusals import line_at

TEXT = """\
# a remark
cablewalk: 1
places:
  BENCH:
    halves: {J1: pwr4 pin,
             J2: {interface: pwr4, wired: {1: SRC.hi}}}
    units:
      U: {kind: load,
          volts: 5}
    switches: [S1,
      S2]
harnesses:
  W1:
    - P1 pwr4 pin
    - P2 pwr4 pin
services:
  HEAT:
    kind: heat
    load: U
    clock:
      allowed_min: 5
' now ':
  on:
  - S1
  -
    S2
"""


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        ((), 2, 1),
        (("cablewalk",), 2, 1),
        (("places",), 3, 1),
        (("places", "BENCH", "halves", "J1"), 5, 14),
        (("places", "BENCH", "halves", "J1", "wired", 3), 5, 14),
        (("places", "BENCH", "halves", "J2", "wired", "dict[constrained-str,x]", "1"), 6, 44),
        (("places", "BENCH", "halves", "J2", "gender"), 6, 14),
        (("places", "BENCH", "halves", "J9"), 5, 5),
        (("places", "BENCH", "units", "U", "feeds", "self", "volts"), 9, 11),
        (("places", "BENCH", "switches", "S2", "label"), 11, 7),
        (("harnesses", "W1", "legs", "P2", "gender"), 15, 7),
        (("harnesses", "W1", 1), 15, 7),
        (("harnesses", "W1", 7), 13, 3),
        (("services", "HEAT", "strings", "only", "load", 0), 19, 5),
        (("services", "HEAT", "clocks", 0, "allowed_min"), 21, 7),
        (("services", "HEAT", "clocks", 0, "source"), 20, 5),
        (("places", "b d", "[key]"), 3, 1),
        (("now", "on", 1), 26, 5),
        (("elsewhere", 3), 2, 1),
    ],
)
def test_every_path_finds_its_line(path: tuple[str | int, ...], line: int, column: int) -> None:
    loaded = parse_baseline(TEXT.encode(), "b.yaml")
    assert loaded.source.line(path) == line
    assert loaded.source.position(path) == (line, column)


def test_the_tree_is_made_only_when_a_line_is_asked_for() -> None:
    source = parse_baseline(TEXT.encode(), "b.yaml").source
    assert source._root is None
    assert source.line(("places",)) == 3
    root = source._root
    assert root is not None
    assert source.line(("services",)) == 16
    assert source._root is root


def test_lines_are_counted_as_editors_do() -> None:
    text = 'a: "x\u2028y\x85z"\r\nb: 1\r\n'
    assert node_at(compose(text), ("b",)).start_mark.line == 3  # libyaml counts otherwise
    assert Source("s", text=text, readable=True).position(("b",)) == (2, 1)
    assert line_at("a\rb", 2) == 2
    assert line_at("\ufeffa", 1) == 1


def test_a_byte_order_mark_does_not_shift_columns() -> None:
    loaded = parse_baseline(b"\xef\xbb\xbf" + TEXT.encode(), "b.yaml")
    assert loaded.source.position(("cablewalk",)) == (2, 1)
    assert loaded.source.sha256 == digest(b"\xef\xbb\xbf" + TEXT.encode())


def test_without_text_there_is_no_line() -> None:
    assert Source("gone.yaml").line(()) is None
    assert Source("bad.yaml", pinned={(): 7}).line(()) == 7
    # FIPS 180-4 example: SHA-256 of "abc".
    assert digest(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
