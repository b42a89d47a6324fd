"""Generated configurations of any size, shaped like real ones.

A shell net runs through every half; power comes over buses of 32 taps; redundant strings have
common ends; every fourth harness has three legs; data lines pass bulkheads; interfaces have
twenty contacts, six of them in use at each half.
"""

from __future__ import annotations

from typing import Any

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure

TAPS = 32
CONTACTS = 20


def documents(halves: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return baseline and procedure as plain documents, for about ``halves`` fixed halves.

    The work demates and remates every leg but those of the bulkheads: two actions for each fixed
    half, near enough.
    """
    cells = halves // 4
    interfaces = {"m20": CONTACTS}
    place: dict[str, Any] = {"units": {}, "panels": {}, "switches": []}
    harnesses: dict[str, Any] = {}
    services: dict[str, Any] = {}
    mated: dict[str, str] = {}
    steps: list[dict[str, Any]] = []
    buses = (cells + TAPS - 1) // TAPS
    for b in range(buses):
        place["units"][f"SRC{b}"] = {
            "kind": "source",
            "terminals": ["hi", "ret"],
            "feeds": {f"F{b}": {"volts": 120, "switches": f"K{b}", "limit_a": 50}},
        }
        place["switches"].append(f"K{b}")
    for n in range(cells):
        bus = n // TAPS
        panel: dict[str, Any] = {}
        unit = f"U{n}"
        other = f"U{(n + 1) % cells}"
        place["units"][unit] = {
            "kind": "load",
            "terminals": ["hi", "ret", "d1", "d2", "e1", "e2", "case"],
            "isolated": [["hi", "ret"], ["d1", "d2"], ["e1", "e2"], ["case"]],
        }
        source = [f"SRC{bus}.hi", f"SRC{bus}.ret"]
        panel[f"A{n}"] = {
            "interface": "m20",
            "gender": "socket",
            "wired": [*source, f"{other}.e1", f"{other}.e2"],
        }
        panel[f"B{n}"] = {
            "interface": "m20",
            "gender": "socket",
            "wired": [f"{unit}.hi", f"{unit}.ret", f"{unit}.d1", f"{unit}.d2"],
        }
        panel[f"C{n}"] = {
            "interface": "m20",
            "gender": "socket",
            "wired": ["-", "-", f"{unit}.d1", f"{unit}.d2", f"{unit}.case"],
        }
        panel[f"D{n}"] = {
            "interface": "m20",
            "gender": "socket",
            "wired": ["-", "-", f"{other}.e1", f"{other}.e2"],
        }
        place["panels"][f"PN{n}"] = {"halves": panel}
        shells = [f"PA{n}.shell", f"PB{n}.shell"]
        legs = {f"PA{n}": "m20 pin", f"PB{n}": "m20 pin"}
        runs = [f"PA{n}.1 PB{n}.1", f"PA{n}.2 PB{n}.2", f"PA{n}.3 PB{n}.3", f"PA{n}.4 PB{n}.4"]
        mated |= {f"PA{n}": f"A{n}", f"PB{n}": f"B{n}", f"PC{n}": f"C{n}", f"PD{n}": f"D{n}"}
        if n % 4 == 0:
            legs |= {f"PC{n}": "m20 pin"}
            shells.append(f"PC{n}.shell")
            runs += [f"PB{n}.5 PC{n}.5"]
            harnesses[f"WD{n}"] = {
                "legs": {f"PD{n}": "m20 pin", f"QD{n}": "m20 pin"},
                "runs": [f"PD{n}.* QD{n}.*", f"PD{n}.shell QD{n}.shell"],
            }
            place["panels"][f"PN{n}"]["halves"][f"Q{n}"] = {
                "interface": "m20",
                "gender": "socket",
                "wired": ["-", "-", f"{unit}.d1", f"{unit}.d2"],
            }
            mated[f"QD{n}"] = f"Q{n}"
        else:
            harnesses[f"WC{n}"] = {
                "legs": {f"PC{n}": "m20 pin", f"PD{n}": "m20 pin"},
                "runs": [f"PC{n}.* PD{n}.*", f"PC{n}.shell PD{n}.shell"],
            }
        harnesses[f"WA{n}"] = {"legs": legs, "runs": [*runs, " ".join(shells)]}
        services[f"pw{n}"] = {"kind": "power", "load": unit, "feeds": f"F{bus}"}
        through = (f"PD{n}", f"PA{n}")
        services[f"dt{n}"] = {
            "kind": "data",
            "need": 1,
            "strings": {
                key: {
                    "lines": [f"{unit}.d{k} to {other}.e{k}" for k in (1, 2)],
                    "through": through[s],
                }
                for s, key in enumerate("ab")
            },
        }
        for key in "ADBC":
            leg, half = f"P{key}{n}", f"{key}{n}"
            steps.append({"id": f"s{leg}", "do": [{"demate": leg}, {"mate": {leg: half}}]})
    place["switches"] = dict.fromkeys(place["switches"])
    baseline = {
        "cablewalk": "1",
        "baseline": f"bench{halves}",
        "interfaces": interfaces,
        "places": {"hall": place},
        "harnesses": harnesses,
        "people": {"w": "outside"},
        "services": services,
        "now": {"on": list(place["switches"]), "mated": mated},
    }
    procedure = {
        "cablewalk": "1",
        "procedure": "work",
        "minutes": 1,
        "planned_outages": dict.fromkeys(services, "benchmark"),
        "steps": [{"by": "w", **step} for step in steps],
    }
    return baseline, procedure


def models(halves: int) -> tuple[Baseline, Procedure]:
    """Return the documents as models."""
    baseline, procedure = documents(halves)
    return Baseline.model_validate(baseline), Procedure.model_validate(procedure)


def chain(links: int) -> tuple[Baseline, Procedure]:
    """Return a chain of ``links`` mated pairs in series, with one line over all of them.

    The work parts and joins it in the middle, which is the worst that one action can do. Every
    second joint between harnesses is a bulkhead, so that fixed and free halves alternate.
    """
    halves: dict[str, Any] = {"B0": {"interface": "m1", "gender": "socket", "wired": ["HUB.x"]}}
    harnesses: dict[str, Any] = {}
    mated: dict[str, str] = {}
    count = links // 2
    for n in range(count):
        harnesses[f"W{n}"] = [f"P{n} m1 pin", f"Q{n} m1 pin"]
        halves[f"A{n + 1}"] = {"interface": "m1", "gender": "socket"}
        mated |= {f"P{n}": f"B{n}", f"Q{n}": f"A{n + 1}"}
        if n + 1 < count:
            halves[f"B{n + 1}"] = {"interface": "m1", "gender": "socket", "through": f"A{n + 1}"}
    halves[f"A{count}"]["wired"] = ["HUB.y"]
    middle = count // 2
    baseline = {
        "cablewalk": "1",
        "baseline": f"chain{links}",
        "interfaces": {"m1": 1},
        "places": {
            "hall": {
                "halves": halves,
                "units": {"HUB": {"kind": "load", "terminals": "x y", "isolated": [["x"], ["y"]]}},
            }
        },
        "harnesses": harnesses,
        "people": {"w": "outside"},
        "services": {"line": {"kind": "data", "lines": "HUB.x to HUB.y"}},
        "now": {"mated": mated},
    }
    work = [{"demate": f"P{middle}"}, {"mate": {f"P{middle}": f"B{middle}"}}]
    procedure = {
        "cablewalk": "1",
        "procedure": "work",
        "minutes": 1,
        "planned_outages": {"line": "benchmark"},
        "steps": [{"id": f"s{n}", "by": "w", "do": work} for n in range(20)],
    }
    return Baseline.model_validate(baseline), Procedure.model_validate(procedure)
