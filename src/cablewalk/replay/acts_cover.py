"""Covers and their fasteners."""

from __future__ import annotations

from cablewalk.replay.attempt import LEG, Attempt
from cablewalk.replay.change import Field
from cablewalk.replay.wiring import NONE

_AS_NEEDED = frozenset({LEG["routed"], LEG["packed"], LEG["stowed"]})


def release(attempt: Attempt, name: str, count: int | None) -> None:
    """Release some or all of the fasteners."""
    cover = attempt.known(name, "cover")
    attempt.reach(cover)
    left = attempt.config.count[cover]
    if count is not None and count > left:
        raise attempt.refuse(
            cover,
            f"{attempt.named(cover)} has {left} fasteners fastened; {count} cannot be released",
            f"at most {left}",
        )
    rest = 0 if count is None else left - count
    attempt.event(cover, "release_all" if rest == 0 else "release_some")
    attempt.set(Field.COUNT, cover, rest)


def fasten(attempt: Attempt, name: str, count: int | None) -> None:
    """Fasten some or all of the fasteners."""
    cover = attempt.known(name, "cover")
    attempt.reach(cover)
    total, now = attempt.wiring.fasteners[cover], attempt.config.count[cover]
    if count is not None and now + count > total:
        raise attempt.refuse(
            cover,
            f"{attempt.named(cover)} has {total - now} fasteners open; {count} cannot be fastened",
            f"at most {total - now}",
        )
    then = total if count is None else now + count
    attempt.event(cover, "fasten_all" if then == total else "fasten_some")
    attempt.set(Field.COUNT, cover, then)


def open_cover(attempt: Attempt, name: str) -> None:
    """Open a released cover; it stays on its hinge."""
    cover = attempt.known(name, "cover")
    attempt.reach(cover)
    attempt.event(cover, "open")


def close_cover(attempt: Attempt, name: str) -> None:
    """Close an open cover over what must be in order beneath it."""
    cover = attempt.known(name, "cover")
    attempt.reach(cover)
    attempt.event(cover, "close")
    _beneath(attempt, cover)


def remove_cover(attempt: Attempt, name: str) -> None:
    """Take a cover off and hold it."""
    cover = attempt.known(name, "cover")
    attempt.reach(cover)
    attempt.event(cover, "remove")
    attempt.link(cover, attempt.workers[0])


def fit_cover(attempt: Attempt, name: str) -> None:
    """Put a removed cover back where it belongs."""
    cover = attempt.known(name, "cover")
    attempt.event(cover, "fit")
    home = attempt.wiring.items[cover].owner
    attempt.reach(cover)
    if attempt.here() != home:
        raise attempt.refuse(
            cover,
            f"{attempt.named(cover)} belongs to {attempt.named(home)}",
            "the workers at the cover's own place",
            ("walk",),
        )
    attempt.link(cover, NONE)
    _beneath(attempt, cover)


def _beneath(attempt: Attempt, cover: int) -> None:
    """Refuse where a segment beneath is not laid as the cover needs it."""
    wiring, config = attempt.wiring, attempt.config
    for segment in wiring.cover_segments.get(cover, ()):
        legs = wiring.segment_legs[segment] or wiring.legs_of[wiring.items[segment].owner]
        for leg in legs:
            if config.state[leg] not in _AS_NEEDED:
                raise attempt.refuse(
                    cover,
                    f"{attempt.named(segment)} passes beneath {attempt.named(cover)}, and its leg "
                    f"{attempt.named(leg)} is {attempt.state(leg)}",
                    "every leg beneath routed, stowed or packed",
                    ("restore", "route", "stow"),
                )
