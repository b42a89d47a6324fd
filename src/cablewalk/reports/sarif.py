"""Findings as SARIF 2.1.0, which editors and review tools show in place.

The format is the OASIS standard "Static Analysis Results Interchange Format (SARIF) Version
2.1.0" (2020); its section numbers stand beside what they ask for.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any, Final
from urllib.parse import quote

from cablewalk import __version__
from cablewalk.checks.registry import RULES
from cablewalk.checks.waive import Waived
from cablewalk.files.place import Source
from cablewalk.files.wording import inert
from cablewalk.findings import Finding

SCHEMA: Final = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)


def sarif(findings: Sequence[Finding], waived: Sequence[Waived], sources: Sequence[Source]) -> str:
    """Return one SARIF log of one run as JSON text, in ASCII, with a line end."""
    every = (*findings, *(w.finding for w in waived))
    ids = sorted({finding.rule for finding in every})
    results = [_result(finding, ids, sources) for finding in findings]
    for one in waived:
        result = _result(one.finding, ids, sources)
        text = f"{one.waiver.reason} ({one.waiver.authority})"
        # 3.35: a result that was reviewed and accepted where it stands in the source
        result["suppressions"] = [{"kind": "inSource", "justification": inert(text)}]
        results.append(result)
    log = {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "cablewalk",
                        "version": __version__,
                        "rules": [_rule(name) for name in ids],
                    }
                },
                "columnKind": "unicodeCodePoints",  # 3.14.17
                "results": results,
            }
        ],
    }
    return json.dumps(log, indent=2) + "\n"


def _rule(name: str) -> dict[str, Any]:
    rule = RULES.get(name)
    if rule is None:
        return {"id": name}
    return {
        "id": name,
        "shortDescription": {"text": rule.title},
        "fullDescription": {"text": rule.why},
        "help": {"text": f"{rule.satisfy} Source: {rule.source}."},
        "defaultConfiguration": {"level": str(rule.severity)},
    }


def _result(finding: Finding, ids: list[str], sources: Sequence[Source]) -> dict[str, Any]:
    source = sources[finding.address.document]
    line = source.line(finding.address.path)
    place: dict[str, Any] = {"artifactLocation": {"uri": uri(source.name)}}
    if line is not None:
        place["region"] = {"startLine": line}  # 3.30.5: lines count from 1
    step = f"step {finding.step}: " if finding.step else ""
    after = f"; follows from step {finding.because_of}" if finding.because_of else ""
    return {
        "ruleId": finding.rule,
        "ruleIndex": ids.index(finding.rule),
        "level": str(finding.severity),  # 3.27.10: note, warning, error
        "message": {"text": inert(f"{step}{finding.sentence()}{after}")},
        "locations": [{"physicalLocation": place}],
    }


def uri(name: str) -> str:
    """Return a file's name as a URI reference (3.4.3): relative where the name is."""
    path = PurePath(name)
    if path.is_absolute():
        return path.as_uri()
    return quote(path.as_posix())
