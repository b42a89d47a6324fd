"""Places, the paths between them, and what is at a place."""

from typing import Annotated

from cablewalk.documents.base import (
    Bounded,
    Id,
    Ids,
    Marked,
    Positive,
    Reader,
    Refs,
    Strict,
    as_mapping,
    as_words,
)
from cablewalk.documents.hardware import Half, Panel, Switch, Unit
from cablewalk.documents.thermal import Thermal


class Cover(Marked):
    """A shield with fasteners over halves and over segments that pass beneath it."""

    fasteners: Annotated[int, Bounded(ge=1, le=500)]
    captive: bool = True
    over: Ids = ()
    over_segments: Refs = ()


class Zone(Marked):
    """A thermal node kept warm by services."""

    services: Ids = ()
    thermal: Thermal | None = None
    """What its temperature is estimated with."""


class WayPath(Strict):
    """A path between two places, with its length and the points where ties can be fitted."""

    between: Annotated[tuple[Id, Id], Reader(as_words)]
    length_m: Positive
    tie_points: Ids = ()


class Place(Marked):
    """Where a worker can be, and all that is there.

    ``halves`` given at the place itself stand on a bonded panel that bears the place's id.
    """

    halves: dict[Id, Half] = {}
    panels: dict[Id, Panel] = {}
    units: dict[Id, Unit] = {}
    switches: Annotated[dict[Id, Switch], Reader(as_mapping)] = {}
    covers: dict[Id, Cover] = {}
    zones: dict[Id, Zone] = {}
