"""Phase limits that are not judged, as every report that holds work against limits tells them."""

from __future__ import annotations

from pydantic import Field

from cablewalk.reports.base import Part, procedure_id
from cablewalk.timeline.account import Account
from cablewalk.timeline.limits_given import missing_limits


class MissingRow(Part):
    """A limit that is not judged."""

    phase: str = Field(description="Id of the procedure.")
    what: str = Field(description="Which limit.")
    because: str = Field(description="What is missing.")


def missing_rows(account: Account) -> tuple[MissingRow, ...]:
    """Return the limits of the phases that are not judged."""
    phases = account.trace.phases
    return tuple(
        MissingRow(phase=procedure_id(phases[m.phase]), what=m.what, because=m.because)
        for m in missing_limits(account)
    )
