"""A shelf with a redundant service and two heaters, and a day of work on it: for tests of logs."""

from __future__ import annotations

from pathlib import Path

from test_asrun_commands import done

BASELINE = """\
cablewalk: 1
baseline: marrow
title: Marrow Shelf, before its pump cable is changed
interfaces:
  pw4: {contacts: 4, family: bayonet, insert: 4-4, key: N}
  pw4b: {contacts: 4, family: bayonet, insert: 4-4, key: B}
  dt4: {contacts: 4, family: small, insert: 9-4, key: N}
  dt4b: {contacts: 4, family: small, insert: 9-4, key: B}
places:
  lock: {}
  cabin:
    units:
      CPU: {kind: load, terminals: [d1, d2, e1, e2], isolated: [[d1, d2], [e1, e2]]}
  box:
    units:
      PA: {kind: source, terminals: [a1, r1, a2, r2], isolated: [[a1, r1], [a2, r2]],
          feeds: {FP: {hi: a1, ret: r1, volts: 28, limit_a: 5, switches: [SWA]}, FD: {hi: a2,
              ret: r2, volts: 28, limit_a: 5, switches: [SWD]}}}
    switches: {SWA: {}, SWD: {}}
    halves:
      B1: {interface: pw4, gender: socket, wired: [PA.a1, PA.r1, '-', '-'], cycles_limit: 4,
          cycles_source: shelf rule 2 (invented)}
      B2: pw4b socket PA.a2 PA.r2 - -
      B3: dt4 socket CPU.d1 CPU.d2 - -
      B4: dt4b socket CPU.e1 CPU.e2 - -
    covers:
      CVB: {fasteners: 4, over: [B1, B2]}
  mid: {}
  pump:
    units:
      PMP: {kind: load, terminals: [h, r, d1, d2, e1, e2], isolated: [[h, r], [d1, d2], [e1, e2]]}
      DSH: {kind: load, terminals: [h, r]}
    halves:
      P1: pw4 pin PMP.h PMP.r - -
      P2: pw4b pin DSH.h DSH.r - -
      P3: dt4 pin PMP.d1 PMP.d2 - -
      P4: dt4b pin PMP.e1 PMP.e2 - -
paths:
  lock-box: {between: lock box, length_m: 10}
  box-mid: {between: box mid, length_m: 10, tie_points: [T1]}
  mid-pump: {between: mid pump, length_m: 10, tie_points: [T2]}
harnesses:
  K1: [K1-A pw4 pin, K1-B pw4 socket]
  K2: [K2-A pw4 pin, K2-B pw4 socket]
  K3: [K3-A pw4b pin, K3-B pw4b socket]
  D1: [D1-A dt4 pin, D1-B dt4 socket]
  D2: [D2-A dt4b pin, D2-B dt4b socket]
caps: {CK1A: K1-A, CK1B: K1-B, CK2A: K2-A, CK2B: K2-B, CB1: B1, CP1: P1, CD1B: D1-B, CP3: P3,
    CP2: P2, CK3B: K3-B, CK3A: K3-A, CB2: B2}
bags: {SACK: {tools: {key: 2}, ties: 6}}
people: {orla: outside, penn: outside, quin: inside, rook: {kind: ground}}
services:
  pump-heat: {kind: heater, load: PMP.h PMP.r, feeds: FP, recovery_min: 2, clock: {allowed_min: 60,
      source: shelf note 1 (invented)}}
  dish-heat: {kind: heater, load: DSH.h DSH.r, feeds: FD, recovery_min: 3,
      clock: {allowed_min: 1200, source: shelf note 2 (invented), starts: demate}}
  sens:
    kind: data
    need: 1
    recovery_min: 1
    strings:
      one: {lines: [CPU.d1 to PMP.d1, CPU.d2 to PMP.d2]}
      two: {lines: [CPU.e1 to PMP.e1, CPU.e2 to PMP.e2]}
now:
  on: [SWA, SWD]
  mated: {K1-A: B1, K1-B: P1, K3-A: B2, K3-B: P2, D1-A: B3, D1-B: P3, D2-A: B4, D2-B: P4}
  packed: {K2: SACK}
  bags: {SACK: lock}
  along: {K1.main: box-mid mid-pump}
  cycles: {B1: 2}
  people: {orla: lock, penn: lock, quin: cabin}
"""

PROCEDURE = """\
cablewalk: 1
procedure: p1
title: Pump cable K2 for K1, dish made dark
assumes: marrow
start_pet: "-0:10"
roles: {e1: orla, e2: penn, in: quin, gd: rook}
minutes: {any: 1, mate: [4, 6, 10], demate: [2, 3, 6], release: 2, fasten: 3, route: 5, inspect: 1,
    verify: 1}
speed: {free_m_per_min: 10, loaded_m_per_min: 5, source: "common practice, no source"}
planned_outages: {pump-heat: cable changed, dish-heat: left dark until phase two}
steps:
  - {id: g1, by: gd, say: SWD off., do: [switch_off: SWD, block: SWD, verify: {SWD: blocked}]}
  - id: a1
    by: [e1, e2]
    not_before: "0:00"
    say: Out, to the box with the sack.
    do: [{carry: SACK, by: e1}, {walk: {to: box, carrying: true}}, {leave: SACK, by: e1}]
  - {id: a2, by: e1, say: Open the cover., do: [release: CVB, open: CVB]}
  - {id: a3, by: e2, say: To the pump., do: [walk: pump]}
  - {id: g2, by: gd, after: [a2, a3], loses: pump-heat, say: SWA off., do: [switch_off: SWA,
        block: SWA, verify: {SWA: blocked}, verify: {SWD: blocked}]}
  - {id: i1, by: in, after: g2, say: GO., do: [go_call: go1]}
  - id: a4
    by: e1
    go: go1
    say: K1 off B1, K2 on.
    do: [demate: K1-A, fit_cap: {CK1A: K1-A}, inspect: B1, take: K2, remove_cap: CK2A,
        mate: {K2-A: B1}, let_go: K2-A]
  - id: a5
    by: e2
    go: go1
    say: K1 off P1.
    do: [demate: K1-B, fit_cap: {CK1B: K1-B}]
  - id: a6
    by: e1
    say: K2 to the pump
    do: [walk: {to: pump, carrying: true}, route: {K2.main: box-mid mid-pump}]
  - id: a7
    by: e2
    after: a6
    say: K2 on P1
    do: [remove_cap: CK2B, mate: {K2-B: P1}]
  - id: a8
    by: e2
    say: dish cable off
    do: [demate: K3-B, fit_cap: {CK3B: K3-B}, fit_cap: {CP2: P2}]
  - {id: g3, by: gd, after: a7, say: SWA on., do: [unblock: SWA, switch_on: SWA, wait: 2,
        verify: pump-heat]}
  - id: a9
    by: e1
    after: g3
    say: back, close the cover
    do: [walk: box, close: CVB, fasten: CVB]
  - id: a10
    by: e2
    say: look at D1
    do: [inspect: P3]
  - mark: get_aheads
  - id: a11
    by: [e1, e2]
    say: home
    do: [{walk: box}, {walk: lock}]
get_aheads:
  - id: ga1
    priority: 1
    title: tie K2
    when: {K2-B: mated}
    steps: [{id: G1, by: e2, after: a8, say: tie, do: [walk: mid, tie: {K2.main: T2}]}]
  - id: ga2
    priority: 2
    title: look at B4
    steps: [{id: G2, by: e1, after: a9, say: look, do: [inspect: B4]}]
inhibits:
  - {id: k-dead, requires: SWA blocked and SWD blocked, owner: gd, set_by: g2, until: g3,
        protects: [a4, a5, a7, a8]}
"""

DAY = (
    ("g1", "-0:07"), ("a1", "0:04"), ("a2", "0:07"), ("a3", "0:06"), ("g2", "0:11"),
    ("i1", "0:11"), ("a4", "0:25"), ("a5", "0:15"), ("a6", "0:34"), ("a7", "0:41"),
    ("g3", "0:46"), ("a8", "0:46"), ("a9", "0:52"), ("a10", "0:47"), ("a11", "0:55"),
)  # fmt: skip
"""Every step of the day and when it is planned to be over, in the order of the document."""


def opened(path: Path, procedure: str = PROCEDURE, baseline: str = BASELINE) -> Path:
    """Begin a log of the shelf in a folder."""
    (path / "shelf.yaml").write_text(baseline, encoding="utf-8")
    (path / "day.yaml").write_text(procedure, encoding="utf-8")
    log = path / "d.log"
    zero = ("--zero", "2031-03-01T10:00:00Z")
    done("open", log, path / "shelf.yaml", path / "day.yaml", *zero)
    return log


def lived(log: Path, until: str = "") -> Path:
    """Record the day as planned, step by step, up to and with a step."""
    for step, pet in DAY:
        done("do", log, step, "--pet", pet)
        if step == until:
            break
    return log
