"""How the clocks stand as a log is handed over: what the log after it counts on from."""

from __future__ import annotations

from cablewalk.documents.service import Clock
from cablewalk.timeline.account import Account
from cablewalk.timeline.handed import Handed, handed
from cablewalk.timeline.spells import start_s
from cablewalk.units import seconds


def clocks_left(account: Account, since_s: int, until_s: int) -> dict[str, Handed]:
    """Return service to how its clocks stand, those without a clock left out.

    Args:
        account: the account of the log.
        since_s: seconds from when the baseline's ``now`` was true to the start of the log.
        until_s: as of when, mission elapsed seconds.
    """
    baseline, services = account.ground.baseline, account.trace.wiring.services
    last = {spell.service: n for n, spell in enumerate(account.outages)}
    found = {}
    for number, row in enumerate(services):
        clocks = baseline.services[row.id].clocks
        if clocks:
            before = handed(baseline, row.id).later(since_s)
            at = last.get(number)
            found[row.id] = (
                _up(clocks, before.used_s, start_s(account.trace) - before.up_s, until_s)
                if at is None
                else _after(account, at, clocks, until_s)
            )
    return found


def _after(account: Account, at: int, clocks: tuple[Clock, ...], until_s: int) -> Handed:
    """Return how the clocks of a service stand whose last outage is that at a position."""
    spell, readings = account.outages[at], account.readings[at]
    if spell.to_s is not None and (spell.retired or spell.to_s <= account.trace.end_s):
        return _up(clocks, tuple(r.total_s for r in readings), spell.to_s, until_s)
    begun = [r.runs_from_s for r in readings if r.clock.starts == "demate"]
    demated_s = until_s - begun[0] if begun and begun[0] is not None else None
    return Handed(tuple(r.used_before_s for r in readings), 0, bool(begun), demated_s)


def _up(clocks: tuple[Clock, ...], used_s: tuple[int, ...], since_s: int, until_s: int) -> Handed:
    """Return how the clocks of a service stand that has been up since a moment."""
    up_s = until_s - since_s
    resets = [None if c.resets_after_up_min is None else seconds(c.resets_after_up_min)
              for c in clocks]  # fmt: skip
    return Handed(
        tuple(
            0 if reset is not None and up_s >= reset else used
            for used, reset in zip(used_s, resets, strict=True)
        ),
        up_s,
    )
