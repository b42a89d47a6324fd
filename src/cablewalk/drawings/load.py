"""What a cable carries, in the tense of the moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cablewalk.drawings.cast import Cast
from cablewalk.drawings.label import plain
from cablewalk.drawings.moments import Moment
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE

NAME_LIMIT: Final = 22
"""Characters of an id or label that a cell shows."""
_IDS: Final = 4
"""Services named beneath a cable before the rest is counted."""


def load_words(cast: Cast, moment: Moment, harness: int, ids: bool) -> str:
    """Return what runs over a cable now, or what did or will; of one in a bag, which bag.

    ``ids``: services by id (some named, the rest counted), else their kinds.
    """
    wiring, config, legs = cast.wiring, moment.config, cast.legs[harness]
    bags = {config.link[leg] for leg in legs if config.state_name(leg) == "packed"}
    if len(bags) == 1 and all(config.state_name(leg) == "packed" for leg in legs):
        return f"IN {plain(wiring.items[bags.pop()].id, NAME_LIMIT)}"
    now = cast.carried(harness, moment)
    if now:
        return _services(cast, now, ids)
    ever = _services(cast, cast.carries[harness], ids)
    if not ever:
        return "nothing yet"
    joined = any(_joined(config, wiring.half_of.get(leg, NONE)) for leg in legs)
    tense = {"new": "for", "old": "carried"}.get(cast.role[harness], "")
    return f"{tense} {ever}" if tense and not joined else f"not now: {ever}"


def _joined(config: Configuration, half: int) -> bool:
    """Return whether a half is mated with another that is no dummy."""
    mate = config.link[half] if half != NONE else NONE
    item = config.wiring.items[mate]
    return mate != NONE and item.kind == "half" and item.role != "parking"


def _services(cast: Cast, services: Sequence[int], ids: bool) -> str:
    if not ids:
        return cast.kinds_of(services)
    names = [plain(cast.wiring.services[n].id, NAME_LIMIT) for n in services]
    more = f" and {len(names) - _IDS} more" if len(names) > _IDS else ""
    return ", ".join(names[:_IDS]) + more
