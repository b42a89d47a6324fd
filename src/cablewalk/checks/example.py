"""What the examples of the rules are laid over: a lamp on a source, on a bench."""

from __future__ import annotations

BASE = """
baseline:
  cablewalk: 1
  baseline: example
  interfaces: {p2: 2}
  places:
    bench:
      halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin LAMP.hi LAMP.ret}
      units: {SRC: {kind: source, volts: 28, switches: K1}, LAMP: load}
      switches: [K1]
  harnesses: {W1: [P1 p2 pin, P2 p2 socket]}
  caps: {C1: P1, C2: P2, CJ1: J1, CJ2: J2}
  people: {ada: outside, gus: ground}
  services: {light: {kind: power, load: LAMP, feeds: SRC}}
  now: {on: [K1], mated: {P1: J1, P2: J2}}
procedure:
  cablewalk: 1
  procedure: work
  minutes: 1
  planned_outages: {light: the example works on it}
  steps: []
"""
"""An example says only what differs: ``baseline`` and ``procedure`` are merged key by key, ``~``
takes a key out, ``steps`` are the procedure's. A step that is a list is done by ada; ids are s1,
s2 … where not given. ``then`` is a second procedure, or a list of more, given in full but for
those."""
