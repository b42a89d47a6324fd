"""Why a service stands otherwise, from the step to the line."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import Field

from cablewalk.replay.wiring import Wiring
from cablewalk.reports.base import Part
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
