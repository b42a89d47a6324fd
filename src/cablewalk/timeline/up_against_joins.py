"""Services found up that a baseline can only have down, for all else that is recorded says so."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from cablewalk.continuity.services import Continuity, State
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import Wiring
from cablewalk.walk.trace import View


def against_joins(config: Configuration, views: Sequence[View]) -> dict[int, str]:
    """Return the number of each service that is up against its joins to what has it down by them.

    Args:
        config: the configuration as left.
        views: how the services stand as left, as people saw them.
    """
    fresh = Continuity(config)
    return {
        n: fresh.why_down(n)
        for n, view in enumerate(views)
        if view.life == ALIVE and view.state is not State.DOWN and fresh.states[n] is State.DOWN
    }


def up_against_joins(config: Configuration, views: Sequence[View]) -> list[Finding]:
    """Return a warning for each such service.

    Args:
        config: the configuration as left.
        views: how the services stand as left, as people saw them.
    """
    found = []
    for n, why in against_joins(config, views).items():
        row = config.wiring.services[n]
        found.append(
            Finding(
                "up-against-joins",
                Severity.WARNING,
                Address(0, row.path),
                f"{row.id} was found up, and as everything else is recorded it is down",
                expected="joins, switches and feeds that say why it is up",
                difference=f"{why}: the baseline as left has it down",
                way_out="find what is not as recorded, record it as found, and hand over anew",
                items=(row.id,),
            )
        )
    return found


def strings_found_down(wiring: Wiring, dead: Collection[int]) -> list[Finding]:
    """Return a warning for each string that was found down: no baseline can say that.

    Args:
        wiring: the hardware.
        dead: the strings, held down whatever their joins.
    """
    return [
        Finding(
            "string-not-handed-over",
            Severity.WARNING,
            Address(0, wiring.strings[s].path),
            f"{wiring.strings[s].id} was found down, and its joins have it up",
            expected="what has it down, recorded",
            difference="the baseline as left has it up, unproven: what comes next counts on it",
            way_out=f"record 'found {wiring.strings[s].id} down' in the next log too, or find what "
            "has it down and record that",
            items=(wiring.services[wiring.strings[s].service].id,),
        )
        for s in sorted(dead)
    ]
