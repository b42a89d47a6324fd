"""The wiring cases of tests/cases/: expectations worked out by hand from the contract.

The format is told in tests/cases/README.md. The engine is met in :func:`_replay` and
:class:`Seen` only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from cablewalk.continuity.live import Liveness
from cablewalk.documents.actions import VERBS
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Finding, Severity
from cablewalk.timeline.account import account
from cablewalk.units import SECONDS_PER_MIN

CASES = sorted((Path(__file__).parent / "cases").glob("*.yaml"))
LOAD_WARNINGS = {"leg-unplaced", "switch-unknown"}
CONTRACT_RULES = {
    "down-at-start",
    "feed-does-not-reach",
    "feed-not-listed",
    "live-contact",
    "live-exposed",
    "no-minutes",
    "not-established",
    "refused",
    "strings-not-told-apart",
    "unplanned-loss",
    "verify-failed",
    "wrong-polarity",
}
STATES = {"up", "reduced", "down", "awaited", "retired", "up unproven", "reduced unproven"}
STRING_STATES = {"up", "available", "down"}
OWN_KEYS = {"about", "procedure", "procedures", "expect"}
ENTRIES = {
    "findings", "notes", "names", "may_name", "may", "outages", "live", "not_live", "clock_used",
}  # fmt: skip

every_case = pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)


def cases_with(*keys: str) -> pytest.MarkDecorator:
    """Parametrize over the cases that have an expectation under one of ``keys``.

    The text is searched, not parsed, so that a malformed case fails its own test only.
    """
    marks = tuple(f"- {{{key}: " for key in keys)
    paths = [p for p in CASES if any(m in p.read_text(encoding="utf-8") for m in marks)]
    return pytest.mark.parametrize("path", paths, ids=lambda path: path.stem)


@dataclass(frozen=True)
class Case:
    """One file: its documents as the models read them, and its expectations as written."""

    baseline: Baseline
    procedures: tuple[Procedure, ...]
    expect: list[dict[str, Any]]

    def gathered(self, key: str) -> list[Any]:
        """Return the items under ``key`` of all expectations, in one list."""
        return [item for entry in self.expect for item in entry.get(key, ())]

    @property
    def step_ids(self) -> set[str]:
        """The ids of the steps of all phases."""
        return {step.id for procedure in self.procedures for step in procedure.steps}


def _step(value: Any, number: int, worker: str) -> dict[str, Any]:
    step = {"do": value} if isinstance(value, list) else dict(value)
    return {"id": f"s{number}", "by": worker, **step}


@cache
def _case(path: Path) -> Case:
    raw = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    hardware = {key: value for key, value in raw.items() if key not in OWN_KEYS}
    people = hardware.setdefault("people", {"w": "outside"})
    here = next(iter(hardware["places"]))
    now = hardware.setdefault("now", {})
    now["people"] = dict.fromkeys(people, here) | now.get("people", {})
    phases = raw.get("procedures") or [raw[key] for key in ("procedure",) if key in raw]
    worker = next(iter(people))
    procedures, number = [], 0
    for count, phase in enumerate(phases, start=1):
        steps = []
        for value in phase["steps"]:
            number += 1
            steps.append(_step(value, number, worker))
        head = {"cablewalk": "1", "procedure": f"phase{count}", "minutes": "1"}
        procedures.append(Procedure.model_validate({**head, **phase, "steps": steps}))
    baseline = Baseline.model_validate({"cablewalk": "1", "baseline": "case", **hardware})
    return Case(baseline, tuple(procedures), raw["expect"])


class Seen:
    """What the engine made of one case, in the words of the cases."""

    def __init__(self, case: Case) -> None:
        self._account = account(case.baseline, case.procedures, keep_going=True)
        self._trace = self._account.trace
        self.findings: Sequence[Finding] = tuple(self._account.findings)

    @staticmethod
    def _moment(at: str) -> str | None:
        return None if at == "start" else at

    def states(self, at: str) -> dict[str, str]:
        """Return service (and ``service.string``) to state words at ``at``."""
        wiring = self._trace.wiring
        found = {}
        views = self._trace.views_after(self._moment(at))
        for service, view in zip(wiring.services, views, strict=True):
            found[service.id] = view.words
            for string, standing in zip(service.strings, view.strings, strict=True):
                name = wiring.strings[string].id
                found[f"{name}.only" if name == service.id else name] = str(standing)
        return found

    def live(self, at: str) -> set[str]:
        """Return the contacts that may be live at ``at``."""
        config = self._trace.configuration_after(self._moment(at))
        liveness = Liveness(config)
        return {
            config.wiring.contact(half, position)
            for half in config.wiring.ids("half")
            for position in range(len(config.wiring.joints[half]))
            if liveness.at(half, position) >= 0
        }

    def outages(self) -> list[tuple[str, float, float | None]]:
        """Return service, from and to (None: never) of each outage, in minutes."""
        return sorted(
            (
                (
                    self._trace.wiring.services[outage.service].id,
                    outage.from_s / SECONDS_PER_MIN,
                    None if outage.to_s is None else outage.to_s / SECONDS_PER_MIN,
                )
                for outage in self._account.outages
            ),
            key=_outage_order,
        )

    def clock_used(self, service: str) -> float:
        """Return the minutes used on the clock of ``service`` at the end."""
        number = self._trace.wiring.service_by_id[service]
        last = [n for n, o in enumerate(self._account.outages) if o.service == number][-1]
        return self._account.readings[last][0].total_s / SECONDS_PER_MIN


@cache
def _replay(path: Path) -> Seen:
    return Seen(_case(path))


def _outage_order(outage: tuple[str, float, float | None]) -> tuple[str, float]:
    return outage[:2]


def _names(finding: Finding, words: Sequence[str]) -> bool:
    text = " ".join((finding.sentence(), *finding.items))
    return bool(words) and all(word in text for word in words)


# --- the cases themselves are well written -------------------------------------------------


def test_there_are_enough_cases() -> None:
    assert len(CASES) >= 40


@every_case
def test_case_is_well_written(path: Path) -> None:
    """The models accept its documents, and its expectations name things that are there."""
    case = _case(path)
    assert all(len(line) <= 100 for line in path.read_text(encoding="utf-8").splitlines())
    known = {*case.step_ids, "start"}
    judged = 0
    for entry in case.expect:
        if "at" in entry:
            assert entry["at"] in known
            judged += _check_states(case, entry)
            continue
        (key,) = entry
        assert key in ENTRIES
        judged += key in {"outages", "live", "not_live"}
        if key in {"live", "not_live"}:
            assert entry[key]["at"] in known
            assert all(_is_contact(case.baseline, ref) for ref in entry[key]["contacts"])
        elif key == "outages":
            assert {outage[0] for outage in entry[key]} <= set(case.baseline.services)
    assert judged
    contract = {*case.gathered("findings"), *case.gathered("may"), *case.gathered("notes")}
    assert contract <= CONTRACT_RULES


def _check_states(case: Case, entry: dict[str, Any]) -> int:
    states = {key: words for key, words in entry.items() if key != "at"}
    for key, words in states.items():
        service, _, strand = key.partition(".")
        if strand:
            assert strand in case.baseline.services[service].strings
            assert words in STRING_STATES
        else:
            assert service in case.baseline.services
            assert words in STATES
    return len(states)


def _is_contact(baseline: Baseline, ref: str) -> bool:
    """Whether ``ref`` names a contact (or the shell) of a half of the baseline."""
    end, _, contact = ref.partition(".")
    interfaces: dict[str, str | None] = {}
    for place in baseline.places.values():
        units, panels = place.units.values(), place.panels.values()
        groups = [place.halves, *(u.halves for u in units), *(p.halves for p in panels)]
        for halves in groups:
            interfaces |= {key: half.interface for key, half in halves.items()}
    for harness in baseline.harnesses.values():
        interfaces |= {key: leg.interface for key, leg in harness.legs.items()}
    interface = interfaces.get(end)
    return interface is not None and contact in (
        *baseline.interfaces[interface].contacts,
        "shell",
    )


def test_cases_use_many_verbs() -> None:
    """Together the cases meet the verbs that change joins and feeds."""
    used = {
        action.verb
        for path in CASES
        for procedure in _case(path).procedures
        for step in procedure.steps
        for action in step.do
    }
    wanted = {
        "mate", "engage", "seat", "lock", "demate", "park", "fit_cap", "remove_cap", "retire",
        "switch_on", "switch_off", "unblock", "release", "open", "install", "verify", "wait",
    }  # fmt: skip
    assert wanted <= set(VERBS)
    assert wanted <= used


# --- the engine agrees with them -----------------------------------------------------------


@cases_with("at")
def test_states(path: Path) -> None:
    case, wrong = _case(path), []
    for entry in case.expect:
        if "at" not in entry:
            continue
        seen = _replay(path).states(entry["at"])
        for key, words in entry.items():
            if key == "at":
                continue
            found = seen[key].split()[0] if "." in key else seen[key]
            if found != words:
                wrong.append(f"at {entry['at']}: {key} is {found!r}, expected {words!r}")
    assert not wrong, "\n".join(wrong)


@every_case
def test_findings(path: Path) -> None:
    case, seen = _case(path), _replay(path)
    names, may_name = case.gathered("names"), case.gathered("may_name")
    loud = [
        finding
        for finding in seen.findings
        if finding.severity >= Severity.WARNING and finding.rule not in LOAD_WARNINGS
    ]
    counted = {
        finding.rule
        for finding in loud
        if finding.rule in CONTRACT_RULES
        or not (_names(finding, names) or _names(finding, may_name))
    }
    texts = "\n".join(f"{f.rule}: {f.sentence()}" for f in seen.findings)
    assert counted - set(case.gathered("may")) == set(case.gathered("findings")), texts
    assert not names or any(_names(finding, names) for finding in seen.findings), texts
    notes = {f.rule for f in seen.findings if f.severity is Severity.NOTE}
    assert set(case.gathered("notes")) <= notes, texts


@cases_with("outages")
def test_outages(path: Path) -> None:
    case = _case(path)
    given = [entry["outages"] for entry in case.expect if "outages" in entry]
    expected = [
        (service, float(start), None if end == "null" else float(end))
        for listed in given
        for service, start, end in listed
    ]
    assert given
    assert _replay(path).outages() == sorted(expected, key=_outage_order)


@cases_with("live", "not_live")
def test_live_contacts(path: Path) -> None:
    for entry in _case(path).expect:
        if "live" in entry:
            at, contacts = entry["live"]["at"], set(entry["live"]["contacts"])
            assert contacts - _replay(path).live(at) == set(), f"should be live at {at}"
        if "not_live" in entry:
            at, contacts = entry["not_live"]["at"], set(entry["not_live"]["contacts"])
            assert contacts & _replay(path).live(at) == set(), f"should be dead at {at}"


@cases_with("clock_used")
def test_clocks(path: Path) -> None:
    for entry in _case(path).expect:
        for service, used in entry.get("clock_used", {}).items():
            assert _replay(path).clock_used(service) == float(used)
