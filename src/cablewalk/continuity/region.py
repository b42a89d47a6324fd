"""Regions: what one feed may make live, and how that changed."""

from __future__ import annotations

from dataclasses import dataclass

from cablewalk.continuity.reach import Reach


@dataclass(slots=True)
class Region:
    """All that one feed may make live, and the reference at which that stops."""

    reference: Reach
    live: Reach
    shorted: bool
    """High and return are joined, surely or doubtfully: there is no reference to stop at."""
    support: Reach | None = None
    """Of a feed that needs its own input: what may keep inputs live, without passing back
    through converters, which would else all keep themselves live."""


@dataclass(frozen=True, slots=True)
class Heat:
    """Islands that became live, and ceased to be, in one update."""

    gained: frozenset[int] = frozenset()
    gone: frozenset[int] = frozenset()
