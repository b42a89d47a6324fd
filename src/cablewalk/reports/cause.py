"""Why a service stands otherwise, from the step to the line."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import Field

from cablewalk.replay.wiring import Wiring
from cablewalk.reports.base import Part
from cablewalk.timeline.spells import Spell
from cablewalk.walk.trace import Reason


class ReasonRow(Part):
    """One chain: a step's action on an item, the harness of the item, the line in it."""

    step: str = Field(description="Id of the step.")
    verb: str = Field(description="What was done.")
    item: str = Field(description="Id of the item it was done to.")
    item_label: str = Field(description="The item's label as marked; may be empty.")
    harness: str = Field(description="Id of the harness; empty where none is concerned.")
    harness_label: str = Field(description="The harness's label as marked; may be empty.")
    line: str = Field(description="The line, feed or other service concerned.")


def in_words(text: str) -> ReasonRow:
    """Return a reason that no step has."""
    return ReasonRow(
        step="", verb="", item="", item_label="", harness="", harness_label="", line=text
    )


def why_held(service: str, spell: Spell) -> str:
    """Return why a service is held dark in an outage (``Spell.said``); empty where it is not."""
    if not spell.said:
        return ""
    if spell.said == service and spell.said_as == "found_down":
        return "found_down says so, whatever its joins: it is down until it is verified"
    if spell.said == service:
        return "dark_min says so; nothing in the baseline explains it"
    return f"it needs {spell.said}, which is said to be dark"


def reason_rows(wiring: Wiring, reasons: Iterable[Reason]) -> tuple[ReasonRow, ...]:
    """Return reasons with the labels of what they name."""

    def label(name: str) -> str:
        return wiring.items[wiring.by_id[name]].label if name in wiring.by_id else ""

    return tuple(
        ReasonRow(
            step=reason.step,
            verb=reason.verb,
            item=reason.item,
            item_label=label(reason.item),
            harness=reason.harness,
            harness_label=label(reason.harness),
            line=reason.line,
        )
        for reason in reasons
    )
