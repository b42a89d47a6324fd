"""The reports there are, and their JSON Schemas."""

from __future__ import annotations

from typing import Any, Final

from cablewalk.reports.asked import TraceReport
from cablewalk.reports.asrun_compare import CompareReport
from cablewalk.reports.asrun_connectors import ConnectorReport
from cablewalk.reports.asrun_export import ExportReport
from cablewalk.reports.asrun_forecast import ForecastReport
from cablewalk.reports.asrun_handover import HandoverReport
from cablewalk.reports.asrun_log import LogReport
from cablewalk.reports.asrun_now import NowReport
from cablewalk.reports.base import REPORT_VERSION
from cablewalk.reports.checked import CheckReport
from cablewalk.reports.electrical import LoadsReport
from cablewalk.reports.halt import HaltReport
from cablewalk.reports.heading import Report
from cablewalk.reports.outages import OutagesReport
from cablewalk.reports.replay import ReplayReport
from cablewalk.reports.spread import SpreadReport
from cablewalk.reports.tables import TablesReport
from cablewalk.reports.thermal import ZonesReport

REPORTS: Final[dict[str, type[Report] | type[LogReport]]] = {
    "check": CheckReport,
    "replay": ReplayReport,
    "outages": OutagesReport,
    "halt": HaltReport,
    "spread": SpreadReport,
    "zones": ZonesReport,
    "loads": LoadsReport,
    "trace": TraceReport,
    "tables": TablesReport,
    "asrun-now": NowReport,
    "asrun-forecast": ForecastReport,
    "asrun-compare": CompareReport,
    "asrun-connectors": ConnectorReport,
    "asrun-handover": HandoverReport,
    "asrun-export": ExportReport,
}
"""Word in the field ``report`` to the model."""


def report_schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a report.

    Raises:
        KeyError: there is no such report.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:cablewalk:schema:report:{name}:{REPORT_VERSION}",
        **REPORTS[name].model_json_schema(mode="serialization"),
        "title": f"cablewalk report {name}, version {REPORT_VERSION}",
    }
