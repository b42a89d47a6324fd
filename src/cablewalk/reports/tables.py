"""The report of ``cablewalk tables``."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.reports.base import Part
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.table_change import ChangeRow
from cablewalk.reports.table_difference import change_rows
from cablewalk.reports.table_half import HalfRow, half_rows
from cablewalk.reports.table_moment import (
    Moment,
    MomentRow,
    end_moment,
    moment_after,
    start_moment,
)
from cablewalk.reports.table_way import WaysTable, way_table
from cablewalk.reports.table_ways import WayChangeRow, way_change_rows
from cablewalk.timeline.account import Account
from cablewalk.walk.scene import Spot

What = Literal["before", "after", "difference"]
By = Literal["half", "end"]


class StandTable(Part):
    """How everything stands at one moment."""

    moment: MomentRow = Field(description="Which moment.")
    halves: tuple[HalfRow, ...] | None = Field(description="By half; null: not asked for.")
    ways: WaysTable | None = Field(description="End to end; null: not asked for.")


class DifferenceTable(Part):
    """What is not as it was."""

    before: MomentRow = Field(description="The earlier moment.")
    after: MomentRow = Field(description="The later moment.")
    things: tuple[ChangeRow, ...] | None = Field(
        description="Thing by thing, by section and place; null: not asked for."
    )
    ways: tuple[WayChangeRow, ...] | None = Field(
        description="End to end, by section and place; null: not asked for."
    )


class TablesReport(Report):
    """What is joined to what at two moments, and the difference."""

    report: Literal["tables"] = Field(description="Which report this is.")
    before: StandTable | None = Field(description="The earlier moment; null: not asked for.")
    after: StandTable | None = Field(description="The later moment; null: not asked for.")
    difference: DifferenceTable | None = Field(description="null: not asked for.")


def tables_report(
    account: Account,
    sources: Sequence[Source],
    since: Spot | None = None,
    at: Spot | None = None,
    what: Collection[What] = ("before", "after", "difference"),
    by: Collection[By] = ("half", "end"),
) -> TablesReport:
    """Return the report of a replay with at least one phase; ``sources``: the baseline's first.

    Args:
        account: the replay.
        sources: the files, the baseline's first.
        since: the step after which "before" is; the start for None.
        at: the step after which "after" is; the end for None. Not earlier than ``since``.
        what: which tables are wanted.
        by: by half, end to end, or both.
    """
    before = start_moment(account) if since is None else moment_after(account, since)
    after = end_moment(account) if at is None else moment_after(account, at)
    return TablesReport(
        **heading(account, sources),
        report="tables",
        before=_stand(before, by) if "before" in what else None,
        after=_stand(after, by) if "after" in what else None,
        difference=_difference(before, after, by) if "difference" in what else None,
    )


def _stand(moment: Moment, by: Collection[By]) -> StandTable:
    return StandTable(
        moment=moment.row,
        halves=half_rows(moment) if "half" in by else None,
        ways=way_table(moment) if "end" in by else None,
    )


def _difference(before: Moment, after: Moment, by: Collection[By]) -> DifferenceTable:
    things = change_rows(before, after)
    ways = None
    if "end" in by:
        ways = way_change_rows(way_table(before), way_table(after), things)
    return DifferenceTable(
        before=before.row,
        after=after.row,
        things=things if "half" in by else None,
        ways=ways,
    )
