"""Writing: what is written loads back equal, and nothing is overwritten by accident."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.now import Now
from cablewalk.files.emit import WIDTH, block, flow
from cablewalk.files.load import parse_baseline
from cablewalk.files.nodes import parse
from cablewalk.files.output import CannotWrite, write_text
from cablewalk.files.shorts import models_in
from cablewalk.files.write import baseline_text, replace_now, with_value

RICH = """\
cablewalk: 1
baseline: RIG-7
title: 'Rig: "seven" # east \\ side'
interfaces:
  pwr4: 4
  one: [5]
  odd: [A, B, on]
  full: {contacts: 3, family: oval, shell: "21", insert: 21-3, key: N}
places:
  EMPTY: {}
  HATCH:
    label: "no"
    where: "6:30"
    halves:
      H0: pwr4 socket SRC.hi SRC.ret
      H1: {interface: pwr4, gender: pin, wired: {1: SRC.hi, 4: structure}, label: J1, where: left}
      H2: {interface: odd, gender: socket, through: H1, cycles_limit: 50, cycles_source: maker}
      H3: {interface: pwr4, gender: socket, parking: true}
      H4: {interface: pwr4, gender: socket, wired: {}}
    panels:
      A1: {bonded: false, halves: {H5: full socket}, label: "- x", where: "a: b"}
    units:
      SRC: {kind: source, volts: 120, limit_a: 12.5, limit_source: x, switches: [S1, S2]}
      BAT: {kind: store, volts: 0.1}
      CONV: {kind: converter, volts: 28, switches: S1}
      CONV2:
        kind: converter
        feeds:
          F1: {hi: out_hi, ret: out_ret, volts: 28, input: in_hi in_ret, accepts: SRC,
               parallel_with: [BAT, CONV], grounded: true, limit_a: 1e-7}
        draws: {in: {hi: in_hi, ret: in_ret, passes: F1, efficiency: 0.9, source: maker}}
      LOAD: load
      ODD: {kind: load, terminals: a b c d, isolated: [[a, b], [c, d]], bonded: false,
            halves: {H6: pwr4 pin}, label: ODD, where: up,
            draws: {x: {hi: a, ret: b, power_w: 40, min_volts: 24.5, source: maker},
                    y: {hi: c, ret: d, ohm: 12, source: maker},
                    z: {hi: a, ret: d, amps: 0.5, source: "seen: bench"}}}
      PAIR: {kind: source, terminals: p q, feeds: {self: {hi: p, ret: q, volts: 5}}}
    switches: {S1: , S2: {commanded_through: TLM, by_hand: true, label: S, where: w}}
    covers:
      C1: {fasteners: 4}
      C2: {fasteners: 6, captive: false, over: [H0, H1], over_segments: W2.main W3.a,
           label: c, where: d}
    zones:
      Z1: {services: HEAT, label: z, where: y}
      Z2:
        services: [HEAT, TLM]
        thermal: {source: study, heat_capacity_j_per_k: 45000, conductance_w_per_k: 0.5,
                  sink_c: -60, radiating_m2: 0.1, space_c: -100, start_c: 12.5, biot: 0.02,
                  heaters: {HEAT: {power_w: 60, on_below_c: 5, off_above_c: 10}},
                  limit_low: {value_c: -10, source: rule 3},
                  limit_high: {value_c: 40, source: rule 4}}
      Z3:
        thermal: {source: telemetry, sink_c: 0,
                  measured: [{at_min: 1, measured_c: 20}, {at_min: 81.5, measured_c: 15.25}]}
  BENCH:
    switches: [S3, S4]
paths:
  T1: {between: HATCH BENCH, length_m: 7.25, tie_points: [K1, K2]}
  T2: {between: [HATCH, EMPTY], length_m: 1e+5}
harnesses:
  W1: [P1 pwr4 pin, P2 pwr4 socket]
  W2:
    legs: {P3: pwr4 pin, P4: {interface: odd, gender: pin, length_m: 1, diameter_mm: 8.5,
           cycles_limit: 9, cycles_source: maker, label: x, where: y}}
    runs: [P3.1 P4.A, P3.2-3 P4.B P4.on]
    length_m: 4
    diameter_mm: 12
    gauge_awg: 12
    label: W2
    where: bag
  W3:
    legs: {P5: pwr4 pin, P6: pwr4 socket, P7: {hard_wired: LOAD}}
    runs: ["P5.* P6.*", [P5.1, LOAD.hi]]
    segments:
      a: {between: P5 Y, length_m: 1.5, diameter_mm: 3, gauge_awg: 0}
      b: {between: Y P6}
      c: {between: Y P7}
caps:
  CAP1: H0
  CAP2: {fits: pwr4 pin, tethered: false, joins: [1 2, 3 4]}
  CAP3: {on: H1, terminals: t u, wired: {1: t, 2: u}, label: cap, where: here}
bags: {B1: , B2: {tools: {"key, 3/8 inch": 2, "wrench: #5": 0}, ties: 12, label: b, where: c}}
people:
  EV1: outside
  EV2: {kind: outside, can_hold: 2, label: red stripes, where: hatch}
  ARM: vehicle
services:
  TLM: {kind: telemetry, lines: SRC.hi to LOAD.hi}
  HEAT:
    kind: heater
    load: LOAD
    feeds: SRC
    through: P1 P2.3
    terminated_by: CAP3.t CAP3.u
    parallel: {hi: P1.1 P1.2, ret: [P1.3], need: 1}
    clock: {allowed_min: 90, source: heater study}
    label: heat
    where: all over
  DATA:
    kind: data
    need: 1
    needs: [TLM, HEAT]
    recovery_min: 1.5
    begins: established
    arrives_with: CONV2
    clocks:
      - {allowed_min: 5, source: s, starts: demate, conditions: "two\\nlines",
         resets_after_up_min: 3}
      - {allowed_min: 6, source: t}
    strings:
      A: {lines: [SRC.hi to LOAD.hi through P1.1, {a: SRC.ret, b: LOAD.ret, through: P2}]}
      B: {lines: {a: SRC.hi, b: LOAD.hi, parallel: P1.1 P1.2, need: 1}, cold: true, selected_by: S1}
      C: {load: [LOAD.hi, LOAD.ret], feeds: [SRC, CONV]}
limits:
  touch_volts: {value: 32, source: rule 7}
  inhibits: {value: 2, source: rule 8}
  bend_factor: {value: 10, source: "rule: 9"}
  slack_m: {value: 0.2, source: rule 10}
  tie_spacing_m: {value: 3, source: rule 11}
  mate_cycles: {value: 50, source: rule 12}
  bends_mm: {WAY: 90}
electrical:
  wire: {conductor_c: 70, ohm_per_m: {12: 0.0054}, source: maker}
  derating: {profile: mil-std-975m, insulation_c: 200, ambient_c: 70,
             allowed_a: {12: 11.5}, source: rule 13}
  contacts:
    "16": {rating_a: 9, catalogue: series-iii, source: rule 14}
    pin2: {resistance_mohm: 5, source: measured}
  contact_sizes: {pwr4: "16"}
  drop_volts: {value: 2, source: rule 15}
  drop_percent: {value: 2, source: rule 16}
now:
  on: S1
  off: [S2, S3]
  blocked: [S4]
  tripped: S5
  mated: {P1: H0}
  unverified: {P2: H1}
  part_engaged: {P3: H2}
  bare: [H3, H4]
  fitted: {CAP1: H0}
  tethered: {CAP1: , CAP3: HATCH}
  held: {CAP2: EV1}
  lost: CAP9
  packed: {W1: B1}
  in_hand: {P4: EV2}
  loose: {P5: HATCH}
  restrained: {P6: HATCH}
  routed: {P7: HATCH}
  stowed: {P8: B1}
  pulled_aside: {P9: BENCH}
  part_fastened: {C1: 2}
  released: C2
  open: [C3]
  removed: {C4: , LOAD: B2}
  absent: CONV2
  bags: {B1: HATCH}
  people: {EV1: ARM}
  along: {W3.a: T1 T2, W3.b: }
  ties: {W3.a: K1}
  cycles: {H0: 3}
  unproven: {HEAT: only, DATA: }
  established: DATA
  retired: [TLM]
  dark_min: {HEAT: 1.25}
  used_min: {HEAT: 0 2.5, DATA: 4}
  demated_min: {HEAT: 1, DATA: }
  up_min: {TLM: 3}
  found_down: HEAT
"""
PLAIN = """\
cablewalk: 1
baseline: B
places: {P: {}}
"""


def _model(text: str) -> Baseline:
    loaded = parse_baseline(text.encode(), "b.yaml")
    assert loaded.findings == ()
    assert loaded.model is not None
    return loaded.model


def _instances(model: BaseModel) -> list[BaseModel]:
    found, queue = [], [model]
    while queue:
        current = queue.pop()
        found.append(current)
        stack: list[Any] = [getattr(current, name) for name in type(current).model_fields]
        while stack:
            value = stack.pop()
            if isinstance(value, BaseModel):
                queue.append(value)
            elif isinstance(value, dict):
                stack.extend(value.values())
            elif isinstance(value, tuple):
                stack.extend(value)
    return found


def test_the_rich_baseline_sets_every_field_of_every_model() -> None:
    """Guards the round trip below: a field added to a model must be added to RICH."""
    used: set[tuple[str, str]] = set()
    for one in _instances(_model(RICH)):
        used |= {
            (type(one).__name__, name)
            for name, info in type(one).model_fields.items()
            if info.is_required() or getattr(one, name) != info.default
        }
    seen: dict[type[BaseModel], None] = {Baseline: None}
    for model in list(seen):
        queue = [model]
        while queue:
            current = queue.pop()
            for info in current.model_fields.values():
                for part in models_in(info.annotation):
                    if part not in seen:
                        seen[part] = None
                        queue.append(part)
    every = {(m.__name__, name) for m in seen for name in m.model_fields}
    assert len(every) > 100
    assert every - used == set()


@pytest.mark.parametrize("text", [RICH, PLAIN])
def test_a_written_baseline_loads_back_equal(text: str) -> None:
    baseline = _model(text)
    written = baseline_text(baseline)
    assert _model(written) == baseline
    assert baseline_text(_model(written)) == written
    assert max(map(len, written.splitlines())) <= 200


@pytest.mark.parametrize(
    "text",
    [
        "places: {P: {halves: {X: {interface: p, gender: pin, wired: ['a b', '']}}}}",
        "places: {}\nservices: {S: {kind: k, load: ['A.x b', c.d], feeds: F}}",
        "places: {}\nharnesses: {W: {legs: {a: p pin, b: p pin}, runs: [['a.1 x', b.1]]}}",
    ],
)
def test_words_with_blanks_in_them_are_not_joined(text: str) -> None:
    baseline = _model(f"cablewalk: 1\nbaseline: B\n{text}\n")
    assert _model(baseline_text(baseline)) == baseline


def test_short_forms_are_used() -> None:
    written = baseline_text(_model(RICH)).splitlines()
    for line in (
        "  pwr4: 4",
        "      H0: pwr4 socket SRC.hi SRC.ret",
        "      SRC:",
        "      LOAD: load",
        "    switches: [S3, S4]",
        "  W1: [P1 pwr4 pin, P2 pwr4 socket]",
        "  CAP1: H0",
        "  EV1: outside",
        "  TLM: {kind: telemetry, lines: SRC.hi to LOAD.hi}",
        "    clock: {allowed_min: 90, source: heater study}",
        "  on: S1",
        "  off: [S2, S3]",
        "    W3.a: T1 T2",
    ):
        assert line in written
    joined = "\n".join(written)
    assert "terminals: [hi" not in joined
    assert "terminals: hi ret" not in joined
    assert joined.index("volts: 120") < joined.index("BAT:")


_IDS = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_-]{0,5}", fullmatch=True)
_REFS = st.from_regex(
    r"[A-Za-z0-9][A-Za-z0-9_-]{0,3}\.[A-Za-z0-9+][A-Za-z0-9_+-]{0,3}", fullmatch=True
)


def _now_field(name: str) -> st.SearchStrategy[Any]:
    keys = _REFS if name in ("along", "ties") else _IDS
    annotation = Now.model_fields[name].annotation
    if name in ("along", "ties", "unproven"):
        return st.dictionaries(keys, st.lists(_IDS, max_size=3).map(tuple), max_size=3)
    if getattr(annotation, "__origin__", None) is tuple:
        return st.lists(_IDS, max_size=40).map(tuple)
    value: st.SearchStrategy[Any] = _IDS
    if name in ("part_fastened", "cycles"):
        value = st.integers(0, 10**6)
    elif name in ("dark_min", "up_min"):
        value = st.floats(0, 1e6, allow_nan=False)
    elif name == "demated_min":
        value = st.none() | st.floats(0, 1e6, allow_nan=False)
    elif name == "used_min":
        value = st.lists(st.floats(0, 1e6, allow_nan=False), max_size=3).map(tuple)
    elif type(None) in get_args(get_args(annotation)[1]):
        value = st.none() | _IDS
    return st.dictionaries(keys, value, max_size=4)


_NOWS = st.fixed_dictionaries(
    {}, optional={name: _now_field(name) for name in Now.model_fields}
).map(Now.model_validate)


@settings(max_examples=60, deadline=None)
@given(_NOWS, st.text(max_size=200))
def test_any_now_and_any_label_survive(now: Now, label: str) -> None:
    places = {"P": {"label": label}}
    baseline = Baseline.model_validate(
        {"cablewalk": "1", "baseline": "B", "places": places, "title": label, "now": now}
    )
    assert _model(baseline_text(baseline)) == baseline
    assert _model(replace_now(RICH, now)).now == now
    assert _model(replace_now(PLAIN, now)).now == now


_SCALARS = st.none() | st.text(max_size=30) | st.sampled_from(
    ["on", "no", "010", "6:30", "-", "- a", "? b", "a: b", "a #b", "#", " x", "x ", "---", "...",
     "\n", "\t", "'", '"', "\\", "[", "{a}", "&a", "*b", "!t", "%d", "@", "`", "a:", "~", "null",
     "\x85", "\u2028", "\ufeff", "\x00", "\U0001f50c", "a:5", "<<", "=", "a,b"]
)  # fmt: skip
_DATA = st.recursive(
    _SCALARS,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(max_size=20).map(str.strip), inner, max_size=4)
    ),
    max_leaves=12,
)


def _nothing_in_a_list(value: Any) -> bool:
    if isinstance(value, dict):
        return any(map(_nothing_in_a_list, value.values()))
    return isinstance(value, list) and any(v is None or _nothing_in_a_list(v) for v in value)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.text(max_size=20).map(str.strip), _DATA, min_size=1, max_size=4))
def test_any_plain_data_survives_the_text(data: dict[str, Any]) -> None:
    texts = ["\n".join(block(data))]
    if not _nothing_in_a_list(data):
        texts.append(flow(data))
    for text in texts:
        parsed = parse(text.encode(), 0)
        assert [f.sentence() for f in parsed.findings] == []
        assert parsed.data == data


def test_long_lists_wrap_and_long_keys_survive() -> None:
    ids = [f"SWITCH-{n}" for n in range(100)]
    data = {"on": ids, "\U000e0001" * 200: "x"}
    lines = block(data)
    assert all(len(line) <= WIDTH for line in lines[:-2])
    assert len(lines) > 10
    assert parse("\n".join(lines).encode(), 0).data == data


def test_empty_groups_after_long_keys_stay_empty_groups() -> None:
    data: dict[str, Any] = {"k" * 120: {}, "l" * 120: [], "m": [{}, [], None]}
    assert parse("\n".join(block(data)).encode(), 0).data == data


def test_replace_now_keeps_all_else_to_the_letter() -> None:
    now = Now.model_validate({"on": ["S1"], "mated": {"P1": "H0"}})
    head = "# ours\ncablewalk: 1 # one\nbaseline:   B\n"
    old = "now: # old\n  off: [S1,\n    S2]\n  mated:\n    P1: H9\n"
    tail = "  # a remark\n# another\nplaces: {P: {}}\n# end"
    new = "now:\n  on: S1\n  mated: {P1: H0}\n"
    assert replace_now(head + old + tail, now) == head + new + tail
    assert replace_now(head + "places: {P: {}}\n" + old, now) == head + "places: {P: {}}\n" + new
    assert replace_now(head + "places: {P: {}} # p", now) == head + "places: {P: {}} # p\n" + new
    assert replace_now(head + "now:\n" + tail, now) == head + new + tail
    assert replace_now(head + "'now': {}\n" + tail, now) == head + new + tail
    crlf = (head + old + tail).replace("\n", "\r\n")
    assert replace_now(crlf, now) == (head + new + tail).replace("\n", "\r\n")
    indented = "  cablewalk: 1\n  now:\n    on: x\n  baseline: B\n"
    assert replace_now(indented, now) == (
        "  cablewalk: 1\n  now:\n    on: S1\n    mated: {P1: H0}\n  baseline: B\n"
    )
    folded = "title: >\n  long\n\n  text\n\n"
    assert replace_now(head + folded, now) == head + folded + new
    assert replace_now("{cablewalk: 1, now: {on: X}, baseline: B}", now) == (
        "{cablewalk: 1, now: {on: S1, mated: {P1: H0}}, baseline: B}"
    )
    assert replace_now("{cablewalk: 1}\n", Now()) == "{cablewalk: 1, now: {}}\n"
    assert replace_now("---\na: 1\n...\n", Now()) == "---\na: 1\nnow: {}\n...\n"


def test_replace_now_refuses_what_it_cannot_do_safely() -> None:
    for text in ("a: [", "a: 1\rnow: {}\rb: 2\r", ""):
        with pytest.raises(CannotWrite) as caught:
            replace_now(text, Now())
        assert "baseline" in str(caught.value)


def test_write_text_never_overwrites_unasked(tmp_path: Path) -> None:
    target = tmp_path / "b.yaml"
    write_text(target, "é\n")
    assert target.read_bytes() == "é\n".encode()
    with pytest.raises(CannotWrite, match="exists already and was left as it is"):
        write_text(target, "other")
    assert target.read_text(encoding="utf-8") == "é\n"
    target.chmod(0o640)
    write_text(target, "a\r\nb", force=True)
    assert target.read_bytes() == b"a\r\nb"
    assert target.stat().st_mode & 0o777 == 0o640
    link = tmp_path / "link.yaml"
    link.symlink_to(target)
    write_text(link, "through", force=True)
    assert link.is_symlink()
    assert target.read_text(encoding="utf-8") == "through"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.yaml", "link.yaml"]


def test_write_text_tells_what_the_disk_refuses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(CannotWrite, match="no such file or directory"):
        write_text(tmp_path / "none" / "b.yaml", "x")
    with pytest.raises(CannotWrite, match="no ordinary file"):
        write_text(tmp_path, "x", force=True)
    with pytest.raises(CannotWrite, match="cannot be written"):
        write_text("a\0b", "x")
    with pytest.raises(CannotWrite, match="cannot be written"):
        write_text(tmp_path / "s.yaml", "\ud800")
    if Path("/dev/full").exists():
        with pytest.raises(CannotWrite, match="no ordinary file"):
            write_text("/dev/full", "x", force=True)

    def full(_: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotWrite, match="no space left on device; nothing was changed"):
        write_text(tmp_path / "full.yaml", "x")
    assert list(tmp_path.iterdir()) == []


def test_write_text_on_a_disk_without_links(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(self: Path, target: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", no_links)
    target = tmp_path / "b.yaml"
    write_text(target, "x")
    assert target.read_text(encoding="utf-8") == "x"
    with pytest.raises(CannotWrite, match="exists already"):
        write_text(target, "y")
    assert [p.name for p in tmp_path.iterdir()] == ["b.yaml"]


@pytest.mark.parametrize(
    "written",
    ["baseline: b1", 'baseline: "b1"  # why', "baseline: 'b1'", '"baseline": b1',
     "baseline: >-\n  b1", "baseline:\n  b1", "baseline: |-\n  b1"],
)  # fmt: skip
def test_a_value_is_exchanged_however_it_is_written(written: str) -> None:
    text = f"cablewalk: 1\n{written}\ntitle: A bench   # kept\nplaces: {{}}\n"
    before = parse_baseline(text.encode(), "").model
    new = with_value(text, "baseline", "dive-1")
    after = parse_baseline(new.encode(), "").model
    assert before is not None and before.baseline == "b1"
    assert after == before.model_copy(update={"baseline": "dive-1"})
    assert "title: A bench   # kept" in new
    assert with_value(text, "none", "x") == text


def test_a_value_is_exchanged_in_a_text_of_one_line() -> None:
    text = '{"cablewalk": "1", "baseline": "b1", "title": "T", "places": {}}'
    assert with_value(text, "baseline", "d") == text.replace('"b1"', "d")
