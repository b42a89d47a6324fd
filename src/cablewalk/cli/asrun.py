"""``cablewalk asrun``: its commands, each imported only when it is invoked."""

from __future__ import annotations

from typing import Final

from cablewalk.cli import LazyGroup

ASRUN: Final[dict[str, tuple[str, str]]] = {
    "open": ("cablewalk.cli.asrun_open", "Begin a log from a baseline and procedures"),
    "begin": ("cablewalk.cli.asrun_begin", "Begin the next phase in the same log"),
    "do": ("cablewalk.cli.asrun_do", "Record a planned step or action, or somebody's next"),
    "also": ("cablewalk.cli.asrun_also", "Record what no step has, or what was found"),
    "correct": ("cablewalk.cli.asrun_correct", "Correct an entry, by an entry of its own"),
    "note": ("cablewalk.cli.asrun_note", "Record a note, or an open item"),
    "now": ("cablewalk.cli.asrun_now", "Where we are, what is down, what comes next"),
    "forecast": ("cablewalk.cli.asrun_forecast", "What the rest of the plan comes to"),
    "compare": ("cablewalk.cli.asrun_compare", "What was done beside what was planned"),
    "connectors": ("cablewalk.cli.asrun_connectors", "Every mate and demate, half by half"),
    "handover": ("cablewalk.cli.asrun_handover", "Hand on: the baseline as left, and what is owed"),
    "export": ("cablewalk.cli.asrun_export", "The whole log as CSV, JSON or Markdown"),
    "watch": ("cablewalk.cli.asrun_watch", "Live view for a wall screen, or as a local page"),
    "check": ("cablewalk.cli.asrun_check", "Prove that no byte of the log was altered"),
    "salvage": ("cablewalk.cli.asrun_salvage", "Recover what is readable of a damaged log"),
    "upgrade": ("cablewalk.cli.asrun_upgrade", "Copy an older log into the present schema"),
}
"""Command to the module that holds it, and to its line in the help."""

command = LazyGroup(
    ASRUN,
    name="asrun",
    help="""Track what is really done, live, and hand the as-left configuration on.

    \b
    Example:
      cablewalk asrun open outing-1.log configs/outpost.yaml configs/outing-1.yaml
      cablewalk asrun do outing-1.log 1-01
      cablewalk asrun now outing-1.log

    The log is one SQLite file; events are only ever added to it. It never refuses what was
    really done: it tells what that makes of the plan.
    """,
)
