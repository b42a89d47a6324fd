"""The documents the tests of reports and commands share, and that they are as the tests think.

Invented: one source feeds a heater and a fan through one harness, W1, whose place W2 takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.files.place import Source
from cablewalk.timeline.account import Account, account

BASELINE = """\
cablewalk: 1
baseline: bench
title: Bench with a heater and a fan
interfaces: {p4: 4}
places:
  bench:
    switches: {K1: {label: MAIN}}
    units:
      SRC: {kind: source, volts: 28, switches: K1}
      HTR: load
      FAN: load
    halves:
      J1: p4 socket SRC.hi SRC.ret SRC.hi SRC.ret
      J2: p4 pin HTR.hi HTR.ret FAN.hi FAN.ret
harnesses:
  W1: [P1 p4 pin, P2 p4 socket]
  W2: [Q1 p4 pin, Q2 p4 socket]
caps: {C1: Q1, C2: Q2}
bags: [kit]
people: {ada: outside, grace: ground}
services:
  heat:
    kind: heater
    label: Tank heater
    load: HTR
    feeds: SRC
    recovery_min: 2
    clock: {allowed_min: 15, source: "thermal note 7 (invented)"}
  fan: {kind: power, load: FAN, feeds: SRC}
now:
  on: K1
  mated: {P1: J1, P2: J2}
  packed: {W2: kit}
  bags: {kit: bench}
  people: {ada: bench}
"""

_HEAD = """\
cablewalk: 1
procedure: swap
title: W2 for W1
roles: {ev1: ada, gnd: grace}
minutes: 1
"""

_STEPS = """\
  - id: s1
    by: gnd
    say: MAIN off.
    indication: MAIN reads open.
    do: [switch_off: K1, block: K1]
  - id: s2
    by: ev1
    after: s1
    say: W1 off, W2 on.
    cautions: Watch the pins.
    do:
      - demate: P1
      - demate: P2
      - take: W2
      - remove_cap: C1
      - remove_cap: C2
      - mate: {Q1: J1}
      - mate: {Q2: J2}
  - id: s3
    by: gnd
    after: s2
    say: MAIN on.
    do: [unblock: K1, switch_on: K1, wait: 2, verify: heat, verify: fan]
"""

_BOTH = "planned_outages: {heat: the harness goes, fan: it shares the harness}\n"

SWAP = f"{_HEAD}{_BOTH}steps:\n{_STEPS}"
"""Goes as planned."""

LOUD = f"{_HEAD}planned_outages: {{heat: the harness goes}}\nsteps:\n{_STEPS}".replace(
    "      - remove_cap: C2\n", ""
).replace("{Q2: J2}\n", "{Q2: J2}\n      - expect: {Q2: mated}\n")
"""The fan's loss is not planned, and Q2 is still capped when it is to be mated."""

AGAIN = """\
cablewalk: 1
procedure: again
assumes: swap
gap_min: 60
minutes: 1
steps:
  - {id: a1, by: ada, do: {expect: {fan: up}}}
  - {id: a2, by: grace, do: [retire: fan, switch_off: K1], loses: heat}
"""
"""A second phase: the fan is retired, the heater goes down and stays so, too long."""


def written(folder: Path, **documents: str) -> list[str]:
    """Write documents as ``NAME.yaml`` into a folder; return the paths, in order."""
    paths = []
    for name, text in documents.items():
        path = folder / f"{name}.yaml"
        path.write_text(text, encoding="utf-8")
        paths.append(str(path))
    return paths


def replayed(paths: Sequence[str], keep_going: bool = False) -> tuple[Account, tuple[Source, ...]]:
    """Return the account of documents that can be used, and their sources."""
    base = load_baseline(paths[0])
    rest = [load_procedure(path, n + 1) for n, path in enumerate(paths[1:])]
    assert base.model is not None
    models = [loaded.model for loaded in rest if loaded.model is not None]
    assert len(models) == len(rest)
    return account(base.model, models, keep_going), (base.source, *(r.source for r in rest))


def test_bench_goes_as_planned(tmp_path: Path) -> None:
    account, _ = replayed(written(tmp_path, bench=BASELINE, swap=SWAP, again=AGAIN))
    assert len(account.outages) == 3
    (finding,) = account.findings
    assert (finding.rule, finding.step) == ("clock-exceeded", "a2"), "2 minutes left, 2 to recover"


def test_loud_bench_has_its_faults(tmp_path: Path) -> None:
    account, _ = replayed(written(tmp_path, bench=BASELINE, loud=LOUD), keep_going=True)
    rules = {finding.rule for finding in account.findings}
    assert {"unplanned-loss", "refused", "verify-failed"} <= rules
