"""Changes: the only thing that alters a configuration, each with what was there before."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

Value = int | tuple[int, ...]


class Field(IntEnum):
    """Which table of the configuration a change writes to."""

    STATE = 0
    LINK = 1
    COUNT = 2
    TIES = 3
    ALONG = 4
    CLAIM = 5
    DISTURBED = 6
    LIFE = 7


class Change(NamedTuple):
    """One value replaced by another, for one item (or string, or service)."""

    field: Field
    item: int
    old: Value
    new: Value

    @property
    def inverse(self) -> Change:
        """The change that takes this one back."""
        return Change(self.field, self.item, self.new, self.old)
