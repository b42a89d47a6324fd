"""What a baseline says of the clocks of a service, beside how long it has been dark."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.service import Clock
from cablewalk.units import seconds


@dataclass(frozen=True, slots=True)
class Handed:
    """How the clocks of a service stand where a replay begins, or where a log is left. Seconds."""

    used_s: tuple[int, ...]
    """What each of its clocks has used, in outages that are over."""
    up_s: int = 0
    """How long it has been up, if it is."""
    is_demate_known: bool = False
    """Whether it is known when in the outage that lasts a join of its own was first broken."""
    demated_s: int | None = None
    """How long ago that was, if it is known; None: none was broken."""

    def later(self, by_s: int) -> Handed:
        """Return how they stand some time later in which nothing happened."""
        demated_s = None if self.demated_s is None else self.demated_s + by_s
        return replace(self, up_s=self.up_s + by_s, demated_s=demated_s)

    def ran_s(self, clock: Clock, dark_s: int) -> int | None:
        """Return how long a clock has run in an outage that lasts ``dark_s`` already.

        None: not yet. One that starts at the demate has run all the time where nothing is known
        of any: so it leaves no more than there is.
        """
        if clock.starts == "demate" and self.is_demate_known:
            return self.demated_s
        return dark_s


def handed(baseline: Baseline, service: str) -> Handed:
    """Return what a baseline says of the clocks of a service, as of its ``now``."""
    now, clocks = baseline.now, baseline.services[service].clocks
    used = now.used_min.get(service) or (0.0,)
    each = used if len(used) == len(clocks) else (used[0],) * len(clocks)
    demated = now.demated_min.get(service)
    return Handed(
        tuple(seconds(minutes) for minutes in each),
        seconds(now.up_min.get(service, 0)),
        service in now.demated_min,
        None if demated is None else seconds(demated),
    )
