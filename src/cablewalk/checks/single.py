"""Rules of single failures: redundant strings that one loss takes together."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.failures import Element, takers
from cablewalk.checks.rule import Rule
from cablewalk.findings import Address, Finding, Severity

WARNING = Severity.WARNING
_SOURCE = (
    "k-of-n strings and minimal cuts as in MIL-HDBK-338B and fault-tree texts; a 2012 outing lost "
    "a quarter of its capability to one switching unit"
)


def _told(elements: list[Element]) -> str:
    kinds: dict[str, list[str]] = {}
    for element in elements:
        kinds.setdefault(element.kind, []).append(element.name)
    return "; ".join(f"{kind} {', '.join(names)}" for kind, names in kinds.items())


def _share(case: Case) -> Iterator[Finding]:
    for service, elements in case.takers_at_start.items():
        row = case.wiring.services[service]
        yield Finding(
            "strings-share",
            WARNING,
            Address(0, row.path),
            f"{row.id} has {len(row.strings)} strings and needs {row.need}, and one loss takes "
            f"it: {_told(elements)}",
            expected="redundant strings that share no connector, harness, cover, feed or switch",
            difference=f"{len(elements)} shared by more strings than it can spare",
            way_out="route a string another way, or accept it by name",
            items=(row.id, *(name for e in elements for name in e.name.split("/"))),
            source=_SOURCE,
        )


def _single(case: Case) -> Iterator[Finding]:
    if not case.trace.events:
        return
    for service, elements in takers(case.end).items():
        known = {(e.kind, e.name) for e in case.takers_at_start.get(service, ())}
        fresh = [e for e in elements if (e.kind, e.name) not in known]
        if not fresh:
            continue
        row = case.wiring.services[service]
        event = case.last_shift.get(service)
        task = event.task if event else None
        yield Finding(
            "single-failure",
            WARNING,
            task.address if task else Address(0, row.path),
            f"at the end one loss takes {row.id}, of {len(row.strings)} strings and a need of "
            f"{row.need}: {_told(fresh)}",
            expected="no single loss takes a redundant service",
            difference="none of these did so at the start",
            way_out="route a string another way, bring a lost string back, or accept it by name",
            step=task.step_id if task else None,
            items=(row.id, *(name for e in fresh for name in e.name.split("/"))),
            source=_SOURCE,
        )


_TWO = """
baseline:
  places:
    bench:
      halves: {J1: p4 socket SRC.hi SRC.ret BAT.hi BAT.ret, J2: p4 pin L.hi L.ret L.h2 L.r2,
               J3: p2 socket BAT.hi BAT.ret, J4: p2 pin L.h2 L.r2}
      units: {BAT: {kind: source, volts: 28, switches: K2}, LAMP: ~,
              L: {kind: load, terminals: hi ret h2 r2, isolated: [[hi, ret], [h2, r2]]}}
      switches: {K1: , K2: }
  interfaces: {p4: 4}
  harnesses: {W1: [P1 p4 pin, P2 p4 socket], W2: [Q1 p2 pin, Q2 p2 socket]}
  services:
    light: {kind: power, need: 1, load: ~, feeds: ~,
            strings: {a: {load: L.hi L.ret, feeds: SRC}, b: {load: L.h2 L.r2, feeds: BAT}}}
  now: {on: [K1, K2]}
"""
_APART = _TWO.replace(" BAT.hi BAT.ret, J2", " - -, J2").replace(" L.h2 L.r2,\n", " - -,\n", 1)
_MATED = "  now: {on: [K1, K2], mated: {P1: J1, P2: J2, Q1: J3, Q2: J4}}"
_NOW = "  now: {on: [K1, K2]}"

RULES = (
    Rule(
        "strings-share",
        "Redundant strings share what one loss takes",
        WARNING,
        _SOURCE,
        "Two strings through one connector, harness, feed or switch, or beneath one cover, are "
        "one string when that is lost. Reported of the baseline, before any procedure.",
        "Route them apart, or accept it by name.",
        _share,
        fires=_TWO,
        silent=_APART.replace(_NOW, _MATED),
    ),
    Rule(
        "single-failure",
        "After the work one loss takes a redundant service",
        WARNING,
        _SOURCE,
        "The work joined strings that stood apart, or left one of them down.",
        "Route a string another way, bring a lost string back, or accept it by name.",
        _single,
        fires=_APART.replace(_NOW, _MATED) + "steps: [[demate: Q1]]",
        silent=_APART.replace(_NOW, _MATED) + "steps: [[demate: Q1, mate: {Q1: J3}]]",
    ),
)
