"""Waivers: findings that somebody with the authority has accepted."""

from typing import Annotated

from cablewalk.documents.base import Bounded, Id, Strict


class Waiver(Strict):
    """One rule waived for one step, item or service, with the reason and who allows it."""

    rule: Id
    scope: Id
    """The id of the step or of the item."""
    reason: Annotated[str, Bounded(min_length=1, max_length=4000)]
    authority: Annotated[str, Bounded(min_length=1, max_length=200)]
