"""A report as text."""

from __future__ import annotations

import json

from pydantic import BaseModel


def report_json(report: BaseModel) -> str:
    """Return a report as one JSON object, indented, in ASCII, so that any console can take it."""
    return json.dumps(report.model_dump(mode="json"), indent=2, allow_nan=False)
