"""Limits: thresholds of the user's programme, each with who says so. There are no defaults."""

from typing import Annotated

from cablewalk.documents.base import Bounded, Id, NotNegative, Positive, Strict

Source = Annotated[str, Bounded(min_length=1, max_length=200)]


class Limit(Strict):
    """A value and its source, as ``{value: 32, source: programme rule 7}``."""

    value: NotNegative
    source: Source


class Count(Strict):
    """A whole number and its source."""

    value: Annotated[int, Bounded(ge=0, le=1_000_000)]
    source: Source


class Limits(Strict):
    """What the user's programme allows. A rule whose limit is not given says that it cannot judge.

    ``touch_volts``: contacts below this many volts may be touched live; without it any live
    contact is an error. ``inhibits``: switches in series that must be off for each feed (of
    ``touch_volts`` or more) that could reach contacts being mated or demated.
    ``bend_factor``: least bend radius over outer diameter, judged where ``bends_mm`` tells the
    tightest bend of a path. ``slack_m``: spare length over the paths a segment is laid along.
    ``tie_spacing_m``: longest stretch between ties. ``mate_cycles``: for halves that give no
    limit of their own.
    """

    touch_volts: Limit | None = None
    inhibits: Count | None = None
    bend_factor: Limit | None = None
    slack_m: Limit | None = None
    tie_spacing_m: Limit | None = None
    mate_cycles: Count | None = None
    bends_mm: dict[Id, Positive] = {}
    """Path to the radius of its tightest bend."""
