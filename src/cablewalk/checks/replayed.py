"""The rules the replay itself judges: registered here so that each can be explained."""

from __future__ import annotations

from typing import Final

from cablewalk.checks.rule import LLIS_0579, PRACTICE, Rule
from cablewalk.findings import Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE
_MODEL = "the baseline's own services, strings and feeds"

_DEAD = "steps: [{by: gus, do: [switch_off: K1]}, {after: s1, do: [demate: P1]}]"
_NEW = """
baseline:
  places: {bench: {halves: {JX: WIRED}}}
  harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket, P3: p2 pin}}}
  caps: {C3: P3, CX: JX}
steps: [[remove_cap: C3, remove_cap: CX, mate: {P3: JX}]]
"""
_SAFE = _NEW.replace("WIRED", "p2 socket")


def _joined(wired: str, more: str = "") -> str:
    return _NEW.replace("WIRED", f"p2 socket {wired}") + more


_WALK = """
baseline:
  places: {far: {}}
  paths: {way: {between: bench far, length_m: 10}}
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
  bags: [kit]
  now: {packed: {W2: kit}, bags: {kit: bench}, people: {ada: bench}}
procedure: {speed: {free_m_per_min: 10, loaded_m_per_min: 5, source: invented}}
steps: [[MOREwalk: far]]
"""
_UNIT = "baseline: {places: {bench: {units: {XU: {kind: load, terminals: a b}}}}}\n"
_SOURCE = "baseline: {places: {bench: {units: {BAT: {kind: store, volts: 12}}}}}\n"


def _merge(head: str, tail: str) -> str:
    """Put the units of ``head`` into the bench of ``tail``."""
    units = head[head.index("{units") + 1 : head.rindex("}}}}")] + "}"
    return tail.replace("{bench: {halves", f"{{bench: {{{units}, halves", 1)


RULES: Final = (
    Rule(
        "live-contact",
        "Live contacts are touched",
        ERROR,
        LLIS_0579 + "; thresholds: the user's own (limits: touch_volts), no default",
        "A mate, demate or cap on live contacts burns hands and contacts. Asked through loads, "
        "converters and doubtful joins, from any feed or store. With limits: touch_volts, "
        "contacts below it are a warning; feeds and stores that may be in series with one "
        "another count with the sum of their volts.",
        "Switch off and block what the message names, verify, then touch.",
        fires="steps: [[demate: P1]]",
        silent=_DEAD,
    ),
    Rule(
        "live-exposed",
        "Bare contacts become live, or are so at the start",
        ERROR,
        LLIS_0579 + "; thresholds: the user's own (limits: touch_volts), no default",
        "A switch-on, or a mate that back-feeds an open end, leaves live contacts bare.",
        "Cap or mate the half before it becomes live.",
        fires="steps: [[demate: P1], {by: gus, after: s1, do: [switch_off: K1, switch_on: K1]}]",
        silent=_DEAD,
    ),
    Rule(
        "unplanned-loss",
        "A service goes down and nothing plans it",
        ERROR,
        PRACTICE,
        "What goes dark by surprise may not come back in time.",
        "Re-route it first, or plan it: 'loses' at the step, 'planned_outages' in the procedure.",
        fires="procedure: {planned_outages: ~}\nsteps: [[demate: P1]]",
        silent="steps: [[demate: P1]]",
    ),
    Rule(
        "clock-exceeded",
        "A service is down longer than its clock allows",
        ERROR,
        "the clock's own source, in the baseline",
        "Outages on a clock add up until it resets; they run on through the gaps between phases.",
        "Reconnect earlier, shorten the work between, or power it another way.",
        fires="baseline: {services: {light: {clock: {allowed_min: 1, source: example}}}}\n"
        "steps: [[demate: P1, {wait: 5}, mate: {P1: J1}]]",
        silent="baseline: {services: {light: {clock: {allowed_min: 60, source: example}}}}\n"
        "steps: [[demate: P1, {wait: 5}, mate: {P1: J1}]]",
    ),
    Rule(
        "refused",
        "An action is physically impossible",
        ERROR,
        "the transition tables ('cablewalk machines'), and what fits what",
        "Interface mismatch, a cap still on, a worker elsewhere, a covered half, an item another "
        "worker has: it cannot be done as written. What follows from it stands beneath it.",
        "Do what the message says is legal now first.",
        fires="steps: [[mate: {P1: J1}]]",
        silent="steps: [[demate: P1, mate: {P1: J1}]]",
        waivable=False,
    ),
    Rule(
        "verify-failed",
        "A service is verified while it is down",
        ERROR,
        _MODEL,
        "The check in the plan will fail as the plan stands.",
        "Bring the service up first; the message says what is missing.",
        fires="steps: [[demate: P1, verify: light]]",
        silent="steps: [[demate: P1, mate: {P1: J1}, verify: light]]",
        waivable=False,
    ),
    Rule(
        "not-as-expected",
        "Something does not stand as the plan expects or verifies",
        ERROR,
        "the plan's own 'expect' and 'verify'",
        "The writer thought it would stand otherwise: the plan and its writer disagree.",
        "Correct the steps before, or the expectation.",
        fires="steps: [[expect: {P1: bare}]]",
        silent="steps: [[expect: {P1: mated}]]",
        waivable=False,
    ),
    Rule(
        "not-established",
        "A service the phase was to bring up is not up",
        ERROR,
        "the plan's own 'establishes'",
        "The phase ends without what it was for.",
        "Finish its lines and feeds; the message says what is missing.",
        fires="baseline: {services: {light: {begins: established}}, now: {on: ~, off: K1}}\n"
        "procedure: {establishes: light}",
        silent="procedure: {establishes: light}",
    ),
    Rule(
        "down-at-start",
        "A service is down in the baseline",
        WARNING,
        _MODEL,
        "Either the baseline is wrong, or the service is out already.",
        "Correct 'now', or say 'begins: established'.",
        fires="baseline: {now: {on: ~, off: K1}}",
        silent="",
    ),
    Rule(
        "verified-early",
        "A service is verified while it still recovers",
        WARNING,
        _MODEL,
        "Power is back, the service is not yet: what is seen then proves nothing.",
        "Wait for its recovery_min, then verify.",
        fires="baseline: {services: {light: {recovery_min: 5}}}\n"
        "steps: [[switch_off: K1, switch_on: K1, verify: light]]",
        silent="baseline: {services: {light: {recovery_min: 5}}}\n"
        "steps: [[switch_off: K1, switch_on: K1, wait: 5, verify: light]]",
    ),
    Rule(
        "walk-loaded",
        "A worker walks at free speed with something in hand",
        WARNING,
        PRACTICE,
        "Carrying is slower; the minutes and the outages told would be too short.",
        "Write 'walk: {to: PLACE, carrying: true}', or give the walk its own minutes.",
        fires=_WALK.replace("MORE", "take: W2, "),
        silent=_WALK.replace("MORE", ""),
    ),
    Rule(
        "feed-does-not-reach",
        "A feed that is listed does not reach its load now",
        NOTE,
        _MODEL,
        "Feeds are derived: the list says who may feed, the wiring who does.",
        "Nothing, where it will reach later; else correct the list or the wiring.",
        fires="baseline: {now: {mated: ~}}",
        silent="",
    ),
    Rule(
        "feed-not-listed",
        "A feed reaches a load that does not list it",
        ERROR,
        _MODEL,
        "A load fed by what nobody planned for, perhaps of other volts.",
        "Demate what makes the join, or list the feed.",
        fires=_merge(_SOURCE, _joined("BAT.hi BAT.ret")),
        silent=_SAFE,
    ),
    Rule(
        "cross-tie",
        "Two feeds are tied together",
        ERROR,
        _MODEL + " (parallel_with)",
        "Old and new cable both mated tie two buses while every service reads made; a fault of "
        "one is then a fault of both.",
        "Demate one, or say 'parallel_with' where it is meant.",
        fires=_merge(_SOURCE, _joined("BAT.hi BAT.ret")).replace(
            "  caps: {C3", "  services: {light: {feeds: [SRC, BAT]}}\n  caps: {C3"
        ),
        silent=_SAFE,
    ),
    Rule(
        "wrong-polarity",
        "A feed reaches its load the wrong way round",
        ERROR,
        _MODEL,
        "High on return and return on high destroys loads.",
        "Correct the runs or the wiring.",
        fires="baseline: {harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket}, "
        "runs: [P1.1 P2.2, P1.2 P2.1]}}}",
        silent="",
    ),
    Rule(
        "high-to-return",
        "High and return are shorted",
        ERROR,
        _MODEL,
        "A short trips the feed, or burns the cable.",
        "Demate what makes the join, or correct the wiring.",
        fires="baseline: {caps: {CS: {fits: p2 socket, joins: [1 2]}},"
        " harnesses: {W1: {legs: {P1: p2 pin, P2: p2 socket, P3: p2 socket}}},"
        " now: {held: {CS: ada}}}\n"
        "steps: [[fit_cap: {CS: P3}]]",
        silent="",
    ),
    Rule(
        "foreign-terminal",
        "A line is joined to a terminal that does not belong",
        ERROR,
        _MODEL,
        "Signals of one service on the terminals of another.",
        "Demate what makes the join, or correct the wiring.",
        fires=_merge(_UNIT, _joined("XU.a XU.b")),
        silent=_SAFE,
    ),
    Rule(
        "shorted-to-structure",
        "A line is joined to structure",
        ERROR,
        _MODEL,
        "A line that names no structure must not touch it.",
        "Demate what makes the join, or say that the feed is grounded.",
        fires=_joined("structure"),
        silent=_SAFE,
    ),
    Rule(
        "switch-unknown",
        "Nothing says how a switch stands",
        WARNING,
        PRACTICE,
        "Unknown is not on for power, and not off for safety.",
        "Name it under 'now', or verify it in a step.",
        fires="baseline: {now: {on: ~}}",
        silent="",
    ),
    Rule(
        "leg-unplaced",
        "Nothing says where a leg is",
        WARNING,
        PRACTICE,
        "Taken as loose.",
        "Name it under 'now'.",
        fires="baseline: {now: {mated: {P1: ~}}}",
        silent="",
    ),
)
