"""What the tests of logs share: a small bench, its procedure, and entries made by number."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from cablewalk.documents.actions import Action, Walk
from cablewalk.logbook.create import create
from cablewalk.logbook.log import Log, Stored
from cablewalk.logbook.run import Plans, plans_of
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry, Outcome
from cablewalk.walk.asrun_state import Tracked

ZERO_S = 1_936_000_000
"""UTC of PET 0:00."""

BASELINE = """cablewalk: 1
baseline: bench
interfaces: {p2: 2}
places:
  bench:
    halves:
      J1: {interface: p2, gender: socket, wired: [SRC.hi, SRC.ret], cycles_limit: 50,
           cycles_source: test rule 1}
      J2: p2 pin LAMP.hi LAMP.ret
      J3: p2 socket
    units: {SRC: {kind: source, volts: 28, switches: SW1}, LAMP: load}
    switches: {SW1: }
    covers: {COV: {fasteners: 4, over: [J3]}}
  hatch: {}
paths: {way: {between: bench hatch, length_m: 10}}
harnesses: {W1: [P1 p2 pin, P2 p2 socket]}
caps: {C3: J3, CP: P1}
people: {ada: outside, bob: outside, gus: ground}
services:
  light: {kind: power, load: LAMP, feeds: SRC, clock: {allowed_min: 60, source: test rule 2}}
now: {on: [SW1], mated: {P1: J1, P2: J2}, people: {ada: bench, bob: bench}}
"""

PROCEDURE = """cablewalk: 1
procedure: swap
roles: {ev1: ada, ev2: bob, gnd: gus}
minutes: {any: [1, 2, 4]}
planned_outages: {light: it is being worked on}
steps:
  - {id: s1, by: gnd, do: [switch_off: SW1]}
  - {id: s2, by: ev1, after: s1, do: [demate: P1, inspect: J1, mate: {P1: J1}]}
  - {id: s3, by: gnd, after: s2, do: [switch_on: SW1, verify: light]}
  - {id: s4, by: ev2, do: [release: COV, open: COV]}
"""

DOCUMENTS = (
    Stored("baseline", "bench.yaml", BASELINE.encode()),
    Stored("procedure", "swap.yaml", PROCEDURE.encode()),
)

DEEDS: tuple[tuple[tuple[str, ...], Action, Outcome], ...] = (
    (("gus",), Action(switch_off="SW1"), "done"),
    (("ada",), Action(demate="P1"), "done"),
    (("ada",), Action(mate={"P1": "J1"}), "part-engaged"),
    (("ada",), Action(mate={"P1": "J1"}), "done"),
    (("gus",), Action(switch_on="SW1"), "done"),
    (("bob",), Action(found={"COV": "part_fastened 3"}, reason="seen"), "found"),
    (("bob",), Action(mate={"P2": "J1"}), "failed"),
    (("ada",), Action(walk=Walk(to="hatch")), "done"),
    (("ada",), Action(walk=Walk(to="bench")), "done"),
)  # fmt: skip
"""What the entries of the storage tests say, in turn: possible or not."""


@cache
def plans() -> Plans:
    """Return the bench made ready."""
    return plans_of(DOCUMENTS)


def begin() -> Entry:
    """Return the entry that begins the phase."""
    return Entry(0, 1, "begin", ZERO_S, 0, ZERO_S, "tester")


def entry(number: int, who: str = "tester", text: str = "") -> Entry:
    """Return the entry of a number, from 2 on: the same for the same number."""
    actors, action, outcome = DEEDS[number % len(DEEDS)]
    if outcome == "part-engaged":
        action = Action(engage=action.mate)
    at = ZERO_S + 60 * number
    return Entry(
        0, number, "action", at, 60 * number, at, who, None, actors, action, outcome, text=text
    )


def new_log(path: Path, entries: Sequence[Entry] = ()) -> Path:
    """Make a log of the bench with these entries after its beginning."""
    create(path, DOCUMENTS, [begin()], ZERO_S)
    if entries:
        with Log(path, write=True) as log:
            log.append(entries)
    return path


def folded(entries: Sequence[Entry]) -> Tracked:
    """Return entries folded over the bench."""
    return track(plans().ground, plans().procedures, entries)
