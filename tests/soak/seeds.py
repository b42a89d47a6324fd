"""What the fuzzer starts from: the demos, the faulty pair and the wiring cases, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
DEMOS = (
    ("outpost", "outing-1", "outing-2", "outing-3"),
    ("faulty/bench", "faulty/swap"),
    ("seabed", "seabed-1", "seabed-2"),
)
"""Files in ``configs/``: a baseline and its procedures."""
HEAVY = 1 / 40
"""Share of the inputs made from the first and third demo, which are large."""
_EXPECTING = ("about", "procedure", "procedures", "expect")


@dataclass(frozen=True)
class Seed:
    """One set of documents: the baseline first. Every scalar is text."""

    name: str
    documents: tuple[dict[str, Any], ...]


def _read(path: Path) -> dict[str, Any]:
    data = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)
    assert isinstance(data, dict)
    return data


def _case(path: Path) -> Seed:
    """Return a wiring case as documents; what its format leaves out is filled in as told there."""
    raw = _read(path)
    hardware = {key: value for key, value in raw.items() if key not in _EXPECTING}
    people = hardware.setdefault("people", {"w": "outside"})
    here = next(iter(hardware["places"]))
    now = hardware.setdefault("now", {})
    now["people"] = dict.fromkeys(people, here) | now.get("people", {})
    phases = raw.get("procedures") or [raw[key] for key in ("procedure",) if key in raw]
    procedures = []
    for count, phase in enumerate(phases, start=1):
        steps = [{"do": s} if isinstance(s, list) else s for s in phase["steps"]]
        steps = [{"id": f"s{n}", "by": next(iter(people)), **s} for n, s in enumerate(steps, 1)]
        head = {"cablewalk": "1", "procedure": f"phase{count}", "minutes": "1"}
        procedures.append({**head, **phase, "steps": steps})
    return Seed(path.stem, ({"cablewalk": "1", "baseline": "case", **hardware}, *procedures))


@cache
def demos() -> tuple[Seed, ...]:
    """Return the demos and the faulty pair."""
    found = []
    for names in DEMOS:
        files = [ROOT / "configs" / f"{name}.yaml" for name in names]
        found.append(Seed(names[0], tuple(_read(file) for file in files)))
    return tuple(found)


@cache
def cases() -> tuple[Seed, ...]:
    """Return the wiring cases that have a procedure, and the faulty pair."""
    made = [_case(path) for path in sorted((ROOT / "tests" / "cases").glob("*.yaml"))]
    return (*(seed for seed in made if len(seed.documents) > 1), demos()[1])
