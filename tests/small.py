"""Tiny builders: baselines and procedures from YAML text, and what a replay made of them.

Every scalar is text, as the reader of files gives it (YAML base loader).
"""

from __future__ import annotations

from typing import Any

import yaml

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Finding, Findings
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.snapshot import now_of
from cablewalk.replay.standing import is_so, subject, told
from cablewalk.replay.start import start_configuration
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.spells import Spell
from cablewalk.units import SECONDS_PER_MIN
from cablewalk.walk.run import ready

BENCH = """
interfaces: {p2: 2, q2: 2}
places:
  bench:
    halves:
      J1: p2 socket SRC.hi SRC.ret
      J2: p2 pin LAMP.hi LAMP.ret
      J3: p2 socket
      J4: p2 socket
      JQ: q2 socket
      JP: {interface: p2, gender: socket, parking: true}
    panels: {PAN: {halves: {JN: p2 socket}}}
    units: {SRC: {kind: source, volts: 28, switches: SW1}, LAMP: load,
            BOX: {kind: load, halves: {JB: p2 socket}}}
    switches: {SW1: , SW2: {by_hand: true}}
    covers: {COV: {fasteners: 4, over: [J4], over_segments: W1.main}}
  hatch: {}
  far: {halves: {JF: p2 socket}}
paths:
  way: {between: bench hatch, length_m: 10, tie_points: [t1, t2]}
  off: {between: hatch far, length_m: 30, tie_points: [t3]}
harnesses:
  W1: [P1 p2 pin, P2 p2 socket]
  W2: [N1 p2 pin, N2 p2 socket]
caps: {C3: J3, CN: N1, CL: {fits: p2 socket}, CU: {on: N2, tethered: false}}
bags: [kit, sack]
people: {ada: outside, bob: outside, gus: ground, ivy: inside, arm: vehicle}
services: {light: {kind: power, load: LAMP, feeds: SRC}}
now:
  on: [SW1]
  off: [SW2]
  mated: {P1: J1, P2: J2}
  packed: {W2: kit, CL: kit}
  bags: {kit: bench, sack: bench}
  people: {ada: bench, bob: bench, arm: bench}
"""
"""A bench with a lamp on a source over W1, a spare W2 in the bag, a hatch, and a far place."""

LAMP = """
interfaces: {p2: 2}
places:
  bench:
    halves: {J1: p2 socket SRC.hi SRC.ret, J2: p2 pin LAMP.hi LAMP.ret}
    units: {SRC: {kind: source, volts: 28, switches: SW1}, LAMP: load}
    switches: {SW1: }
harnesses: {W1: [P1 p2 pin, P2 p2 socket]}
people: {ada: outside, bob: outside}
services: {light: {kind: power, load: LAMP, feeds: SRC}}
now: {on: [SW1], mated: {P1: J1, P2: J2}}
"""
"""One lamp on one source behind one switch, one place."""


def text_of(text: str) -> Any:
    """Return YAML text as plain values, every scalar text."""
    return yaml.load(text, Loader=yaml.BaseLoader)


def merged(base: Any, more: Any) -> Any:
    """Return ``base`` with ``more`` laid over it, groups merged key by key; ``~`` takes out."""
    if not isinstance(base, dict) or not isinstance(more, dict):
        return more
    result = dict(base)
    for key, value in more.items():
        if value == "~":
            result.pop(key, None)
        else:
            result[key] = merged(base[key], value) if key in base else value
    return result


def baseline(text: str = BENCH, more: str = "{}") -> Baseline:
    """Return a baseline from YAML text, with ``more`` laid over it."""
    raw = {"cablewalk": "1", "baseline": "small", **merged(text_of(text), text_of(more))}
    return Baseline.model_validate(raw)


def procedure(text: str, **head: Any) -> Procedure:
    """Return a procedure: a list of steps, or a whole one; one minute an action if not said.

    A step that is a list stands for what ada does; ids are s1, s2 … where not given.
    """
    raw = text_of(text)
    raw = raw if isinstance(raw, dict) else {"steps": raw}
    steps = []
    for n, step in enumerate(raw["steps"], start=1):
        entry = {"do": step} if isinstance(step, list) else dict(step)
        marked = "mark" in entry
        steps.append(entry if marked else {"id": f"s{n}", "by": "ada", **entry})
    whole = {"cablewalk": "1", "procedure": "work", "minutes": "1", **head, **raw, "steps": steps}
    return Procedure.model_validate({k: v for k, v in whole.items() if v != "~"})


AJAR = BENCH.replace(", over_segments: W1.main", "")
"""The bench with no segment beneath its cover."""


def run(
    steps: str, more: str = "{}", base: str = BENCH, keep_going: bool = True, **head: Any
) -> Account:
    """Replay one procedure on a baseline."""
    return account(baseline(base, more), [procedure(steps, **head)], keep_going)


def end(result: Account) -> Configuration:
    """Return the configuration in which a replay ended."""
    assert result.trace.end is not None, [f.sentence() for f in result.findings]
    return result.trace.end


def so(result: Account, name: str, words: str) -> bool:
    """Return whether an item stands so at the end."""
    config = end(result)
    return is_so(config, subject(config.wiring, name, words), words)


def stands(result: Account, name: str, like: str = "") -> str:
    """Return how an item stands at the end; ``like``: a state word that tells leg from half."""
    config = end(result)
    return told(config, subject(config.wiring, name, like))


def place(result: Account, name: str) -> str:
    """Return the id of the place where an item is at the end, or an empty text."""
    config = end(result)
    spot = config.place_of(config.wiring.by_id[name])
    return config.wiring.items[spot].id if spot >= 0 else ""


def having(result: Account, rule: str) -> list[Finding]:
    """Return the findings of one rule."""
    return [f for f in result.findings if f.rule == rule]


def rules(result: Account) -> set[str]:
    """Return the rule ids of all findings, but for the usual remarks on a baseline."""
    return {f.rule for f in result.findings} - {"leg-unplaced", "switch-unknown"}


def words_at(result: Account, step: str | None, service: str = "light") -> str:
    """Return how a service stands after a step, or at the start."""
    trace = result.trace
    return trace.views_after(step)[trace.wiring.service_by_id[service]].words


def spell_min(spell: Spell) -> tuple[float, float | None]:
    """Return from and to of a spell in minutes."""
    ended = None if spell.to_s is None else spell.to_s / SECONDS_PER_MIN
    return spell.from_s / SECONDS_PER_MIN, ended


def outages(result: Account) -> list[tuple[str, float, float | None]]:
    """Return service, from and to in minutes of every outage."""
    services = result.trace.wiring.services
    return [(services[s.service].id, *spell_min(s)) for s in result.outages]


def starts(result: Account, phase: int = 0) -> dict[str, float]:
    """Return the minute at which each step of a phase begins (mission elapsed time)."""
    timed = result.trace.phases[phase]
    times = zip(timed.plan.steps, timed.step_start_s, strict=True)
    return {step.id: at / SECONDS_PER_MIN for step, at in times}


def same_again(result: Account) -> tuple[Configuration, Configuration]:
    """Return the end, and the end written out as ``now`` and read back over the same wiring."""
    old = end(result)
    again = result.ground.baseline.model_copy(update={"now": now_of(old)})
    findings = Findings()
    config = start_configuration(again, old.wiring, findings)
    assert not findings.has_errors, [f.sentence() for f in findings]
    return old, config


def faults(text: str = BENCH, more: str = "{}") -> dict[str, str]:
    """Return rule and sentence of everything wrong with a baseline."""
    return {f.rule: f.sentence() for f in ready(baseline(text, more)).findings}
