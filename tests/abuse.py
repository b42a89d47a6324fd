"""What the abuse tests share: the program in a process of its own, and hostile documents."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from soak.emit import document

SRC = Path(__file__).resolve().parents[1] / "src"
BYTES = 1 << 30
"""Address space the program may have: one GiB, the interpreter and libraries included."""
SECONDS = 10
"""Processor time the program may take."""

READY = """
import sys
import cablewalk.cli
{patch}
work = cablewalk.cli.commands.main
def ready(*given, **rest):
    sys.stderr.write("ready\\n")
    sys.stderr.flush()
    return work(*given, **rest)
cablewalk.cli.commands.main = ready
cablewalk.cli.main(sys.argv[1:])
"""
"""The program, which tells when its start is over and a signal finds it at work."""


def _limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 1))


def environment() -> dict[str, str]:
    """Return the environment: UTF-8, no colour asked for, the package of the working tree."""
    return {**os.environ, "PYTHONPATH": str(SRC), "PYTHONIOENCODING": "utf-8"}


def program(*arguments: object, **rest: Any) -> subprocess.CompletedProcess[str]:
    """Run the program within its limits."""
    return subprocess.run(
        [sys.executable, "-m", "cablewalk", *map(str, arguments)],
        env=environment(),
        encoding="utf-8",
        errors="surrogateescape",
        preexec_fn=_limit,
        check=False,
        timeout=20 * SECONDS,
        **{"capture_output": True, **rest},
    )


def heed_interrupts() -> None:
    """Let a child be interrupted, also where the tests run in the background and are not."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def started(patch: str, *arguments: object) -> subprocess.Popen[str]:
    """Start the program with code run before its work, and return once its start is over."""
    process = subprocess.Popen(
        [sys.executable, "-c", READY.format(patch=patch), *map(str, arguments)],
        env=environment(),
        encoding="utf-8",
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=heed_interrupts,
    )
    assert process.stderr is not None
    assert process.stderr.readline() == "ready\n", process.stderr.read()
    return process


def is_sentence(text: str) -> bool:
    """Return whether what was said on standard error is for people: no traceback, nothing raw."""
    lines = text.splitlines()
    return bool(lines) and "Traceback" not in text and all(map(str.isprintable, lines))


def died_of(code: int) -> str:
    """Return the signal a process died of, or nothing."""
    return signal.Signals(-code).name if code < 0 else ""


def write(folder: Path, *documents: Any) -> list[str]:
    """Write documents into a folder, the baseline first; return their paths."""
    paths = []
    for n, data in enumerate(documents):
        path = folder / ("baseline.yaml" if n == 0 else f"phase{n}.yaml")
        path.write_bytes(document(data))
        paths.append(str(path))
    return paths


def bench(text: str = "plain") -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a small baseline and procedure with ``text`` wherever free text may stand."""
    label = text[:200]
    marked = {"label": label, "where": label}
    baseline = {
        "cablewalk": "1",
        "baseline": "B",
        "title": label,
        "interfaces": {"p2": {"contacts": "2", "family": label, "shell": label, "key": label}},
        "places": {
            "deck": {
                **marked,
                "units": {
                    "SRC": {"kind": "source", "volts": "28", "switches": "SW", **marked},
                    "LAMP": {"kind": "load", **marked},
                },
                "switches": {"SW": marked},
                "panels": {
                    "PN": {
                        **marked,
                        "halves": {
                            "J1": {"interface": "p2", "gender": "socket",
                                   "wired": ["SRC.hi", "SRC.ret"], **marked},
                            "J2": {"interface": "p2", "gender": "pin",
                                   "wired": ["LAMP.hi", "LAMP.ret"], **marked},
                        },
                    }
                },
                "covers": {"CV": {"fasteners": "2", "over": ["J2"], **marked}},
            }
        },
        "harnesses": {
            "W1": {**marked, "legs": {"P1": {"interface": "p2", "gender": "pin", **marked},
                                      "P2": {"interface": "p2", "gender": "socket", **marked}}}
        },
        "caps": {"C1": {"on": "P1", **marked}, "C2": {"on": "J1", **marked}},
        "bags": {"kit": {"tools": {label: "1"}, **marked}},
        "people": {"ada": {"kind": "outside", **marked}},
        "services": {
            "light": {
                "kind": "power", "load": "LAMP", "feeds": "SRC", **marked,
                "clock": {"allowed_min": "1", "source": label, "conditions": text[:4000]},
            }
        },
        "now": {"on": "SW", "mated": {"P1": "J1", "P2": "J2"}, "bags": {"kit": "deck"},
                "people": {"ada": "deck"}},
    }  # fmt: skip
    words = text[:4000]
    procedure = {
        "cablewalk": "1",
        "procedure": "swap",
        "title": label,
        "why": words,
        "minutes": "2",
        "planned_outages": {"light": words},
        "statements": {"dark": words},
        "steps": [
            {"id": "s1", "by": "ada", "say": words, "indication": words, "cautions": [words],
             "do": [{"switch_off": "SW"}, {"verify": {"dark": "true"}}, {"demate": "P1"},
                    {"fit_cap": {"C1": "P1"}, "reason": words},
                    {"inspect": "J1", "reason": words}]},
            {"id": "s2", "by": "ada", "say": words,
             "do": [{"found": {"SW": "on"}, "reason": words}, {"mate": {"P1": "J1"}}]},
        ],
        "waivers": [{"rule": "bare-at-end", "scope": "P1", "reason": words, "authority": label}],
    }  # fmt: skip
    return baseline, procedure


def commands(paths: Sequence[str]) -> list[list[str]]:
    """Return every report the program can make of these documents, on standard output."""
    names = ("outages", "replay", "check", "halt", "tables", "zones", "loads")
    reports = [[name] for name in names]
    reports += [["tables", "--by", "both"], ["tables", "--format", "markdown"]]
    reports += [[*words, "--json"] for words in reports[:7]]
    made = [[*words, *paths] for words in reports]
    csv = ["--what", "difference", "--format", "csv"]
    made += [["tables", *paths, *csv], ["trace", *paths, "--of", "J1"]]
    return [*made, ["trace", *paths, "--of", "P1.1", "--at", "s1", "--json"]]
