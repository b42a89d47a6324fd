"""A quay with two services, one of which needs the other; both recover: for tests of logs."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_asrun_commands import ZERO, done

BASELINE = """\
cablewalk: 1
baseline: quay
title: Quay
interfaces:
  p1: {contacts: 1, family: g, shell: "9", insert: "1", key: N}
  p2: {contacts: 2, family: f, shell: "9", insert: "1", key: N}
places:
  dock:
    units:
      SRC: {kind: source, volts: 28, limit_a: 5, switches: [MAIN, SW1], terminals: hi ret}
      LD: {kind: load, terminals: hi ret d, isolated: [[hi, ret],[d]]}
      SRC2: {kind: load, terminals: d}
    switches: {MAIN: {}, SW1: {}}
    halves:
      J1: p2 socket SRC.hi SRC.ret
      J2: p2 pin LD.hi LD.ret
      J3: p1 socket SRC2.d
      J4: p1 pin LD.d
      K1: {interface: p2, gender: socket, parking: true}
harnesses:
  W1: {legs: {P1: p2 pin, P2: p2 socket}, length_m: 3}
  W2: {legs: {Q1: p1 pin, Q2: p1 socket}, length_m: 3}
people: {ann: outside, gil: ground}
services:
  light: {kind: power, load: LD, feeds: SRC, recovery_min: 10, clock: {allowed_min: 60, source: s}}
  radio: {kind: data, needs: light, lines: [LD.d to SRC2.d], recovery_min: 5,
          clock: {allowed_min: 60, source: s}}
now:
  on: [MAIN, SW1]
  mated: {P1: J1, P2: J2, Q1: J3, Q2: J4}
  people: {ann: dock}
limits:
  touch_volts: {value: 1, source: x}
  inhibits: {value: 1, source: x}
"""

PROCEDURE = """\
cablewalk: 1
procedure: swap
title: Swap
assumes: quay
roles: {ev: ann, gnd: gil}
minutes: {any: [1, 2, 3]}
planned_outages: {light: x, radio: x}
steps:
  - id: s1
    by: gnd
    say: off
    do: [{switch_off: SW1}, {block: SW1}]
  - id: s2
    by: ev
    after: s1
    say: redo
    do:
      - demate: P1
      - engage: {P1: J1}
      - seat: {P1: J1}
      - lock: P1
  - id: s3
    by: gnd
    after: s2
    say: on
    do: [{unblock: SW1}, {switch_on: SW1}, {wait: 15}, {verify: light}, {verify: radio}]
"""

TWO_THINGS = """\
cablewalk: 1
procedure: p3
title: P3
assumes: quay
roles: {ev: ann, gnd: gil}
minutes: {any: [1, 2, 3]}
planned_outages: {light: x, radio: x}
steps:
  - {id: t1, by: gnd, say: off, do: [{switch_off: SW1}]}
  - id: t2
    by: [ev, gnd]
    after: t1
    say: two things
    do:
      - {demate: P1, by: ev}
      - {demate: Q1, by: ev}
      - {switch_on: SW1, by: gnd}
"""
"""One step of two people: what stops the one does not stop the other."""


def opened(path: Path, procedure: str = PROCEDURE, zero: str = ZERO, baseline: str = "") -> Path:
    """Begin a log of the quay in a folder."""
    (path / "quay.yaml").write_text(baseline or BASELINE, encoding="utf-8")
    (path / "plan.yaml").write_text(procedure, encoding="utf-8")
    log = path / "q.log"
    done("open", log, path / "quay.yaml", path / "plan.yaml", "--zero", zero)
    return log


@pytest.fixture
def quay(tmp_path: Path) -> Path:
    """Return a log of the quay in which the switch is off and blocked."""
    log = opened(tmp_path)
    done("do", log, "s1/1", "--pet", "0:02")
    done("do", log, "s1/2", "--pet", "0:04")
    return log
