"""YAML to plain data: all scalars text, and the same data as the C base loader makes."""

from __future__ import annotations

import gc
from typing import Any

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from cablewalk.files.nodes import gc_paused, parse
from cablewalk.files.refusals import MAX_BYTES, MAX_DEPTH, MAX_FAULTS

TRAPS = """\
on: off
no: yes
time: 6:30
octal: 010
version: 1.10
empty:
tilde: ~
null: null
quoted: ''
list: [on, , 'x']
nested: {a: , b: {c: [[], {}]}}
date: 2001-01-01
hex: 0x1F
sexagesimal: 190:20:30
merge: {<<: x}
inf: .inf
text: |
  two
  lines
folded: >-
  one
  line
10: ten
" padded ": x
"""


def test_every_scalar_is_text_and_only_the_plain_empty_one_is_nothing() -> None:
    assert parse(TRAPS.replace("list: [on, , 'x']", "list: [on, 'x']").encode(), 0).data == {
        "on": "off",
        "no": "yes",
        "time": "6:30",
        "octal": "010",
        "version": "1.10",
        "empty": None,
        "tilde": "~",
        "null": "null",
        "quoted": "",
        "list": ["on", "x"],
        "nested": {"a": None, "b": {"c": [[], {}]}},
        "date": "2001-01-01",
        "hex": "0x1F",
        "sexagesimal": "190:20:30",
        "merge": {"<<": "x"},
        "inf": ".inf",
        "text": "two\nlines\n",
        "folded": "one line",
        "10": "ten",
        "padded": "x",
    }


_DATA = st.recursive(
    st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.text(st.characters(codec="ascii", categories=["L"])), inner, max_size=4
        )
    ),
    max_leaves=20,
)


@settings(max_examples=80)
@given(st.dictionaries(st.text("abc", min_size=1), _DATA, min_size=1), st.booleans())
def test_against_the_c_base_loader(data: dict[str, Any], flow: bool) -> None:
    """Oracle: PyYAML's own construction of the same text."""
    text = yaml.dump(data, Dumper=yaml.CSafeDumper, default_flow_style=flow, allow_unicode=True)
    # The dumper marks shared collections with anchors, which are refused: none is shared here.
    parsed = parse(text.encode(), 0)
    assert parsed.findings == []
    assert parsed.data == yaml.load(text, Loader=yaml.CBaseLoader)


@settings(max_examples=200)
@given(st.binary(max_size=60) | st.text("a:-[]{}&*!#'\"|>%@ \n\t?,", max_size=40).map(str.encode))
def test_no_text_raises(raw: bytes) -> None:
    parsed = parse(raw, 3)
    assert (parsed.data is None) == bool(parsed.findings)
    for finding in parsed.findings:
        assert finding.address.document == 3
        assert finding.found
        assert finding.expected
        assert finding.way_out
        assert finding.sentence().isprintable()
        assert 1 <= parsed.lines[finding.address.path] <= raw.count(b"\n") + raw.count(b"\r") + 1


def test_limits_are_met_exactly() -> None:
    nested: bytes = b"a: " + b"[" * (MAX_DEPTH - 1) + b"]" * (MAX_DEPTH - 1)
    assert parse(nested, 0).data is not None
    assert [f.rule for f in parse(b"a: [" + nested[3:] + b"]", 0).findings] == ["too-deep"]
    full = b"a: 1\n#" + b"x" * (MAX_BYTES - 6)
    assert parse(full, 0).data == {"a": "1"}
    assert [f.rule for f in parse(full + b"x", 0).findings] == ["too-large"]
    assert len(parse(b"a: [" + b"!t x, " * 1000 + b"]", 0).findings) == MAX_FAULTS


def test_the_collector_runs_again_afterwards() -> None:
    assert gc.isenabled()
    with gc_paused():
        assert not gc.isenabled()
        parse(b"a: [", 0)
        assert not gc.isenabled()
    assert gc.isenabled()
