"""What was found of a string."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from itertools import pairwise
from typing import NamedTuple

from cablewalk.replay.wiring import NONE


class Standing(IntEnum):
    """How a string stands."""

    DOWN = 0
    AVAILABLE = 1
    UP = 2

    def __str__(self) -> str:
        return self.name.lower()


class Trouble(NamedTuple):
    """Why a string is down. ``rule`` is set where it is a fault, not a mere gap."""

    kind: str
    text: str
    path: tuple[int, ...] = ()
    rule: str = ""


@dataclass(slots=True)
class Verdict:
    """What was found of one string; not altered once made."""

    standing: Standing
    troubles: tuple[Trouble, ...]
    paths: tuple[tuple[int, ...], ...]
    """The conductors that make it, as islands from end to end."""
    feed: int = NONE
    """The feed that feeds it."""
    steps: frozenset[frozenset[int]] = field(init=False, compare=False)
    """The joined island pairs it runs over."""
    join_troubles: frozenset[Trouble] = field(init=False, compare=False)
    """The troubles that joins make, not switches."""

    def __post_init__(self) -> None:
        self.steps = frozenset([frozenset(step) for path in self.paths for step in pairwise(path)])
        self.join_troubles = (
            frozenset([t for t in self.troubles if t.kind in ("gap", "unwanted")])
            if self.troubles
            else _NONE_AT_ALL
        )

    @property
    def islands(self) -> frozenset[int]:
        """The islands it runs over."""
        return frozenset([island for path in self.paths for island in path])


_NONE_AT_ALL: frozenset[Trouble] = frozenset()
