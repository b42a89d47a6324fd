"""Conversions between the minutes people write and the whole seconds used inside."""

from __future__ import annotations

SECONDS_PER_MIN = 60


def seconds(minutes: float) -> int:
    """Return ``minutes`` as whole seconds, rounded to the nearest."""
    return round(minutes * SECONDS_PER_MIN)


def minutes(secs: int) -> float:
    """Return whole seconds as minutes; a whole number of minutes prints without a fraction."""
    return round(secs / SECONDS_PER_MIN, 4)


def clock(secs: int) -> str:
    """Return seconds as ``H:MM``, with a leading minus where negative.

    Seconds are rounded half up to the minute, so that 90 s prints as 0:02.
    """
    total = (abs(secs) + SECONDS_PER_MIN // 2) // SECONDS_PER_MIN
    sign = "-" if secs < 0 and total else ""
    return f"{sign}{total // 60}:{total % 60:02d}"


def clock_up(secs: int) -> str:
    """Return seconds as ``H:MM``, rounded up: for what is used, and for when a thing is back."""
    return clock(-(-secs // SECONDS_PER_MIN) * SECONDS_PER_MIN)


def clock_down(secs: int) -> str:
    """Return seconds as ``H:MM``, rounded down: for what is left, and for when to be back by."""
    return clock(secs // SECONDS_PER_MIN * SECONDS_PER_MIN)


def parse_clock(text: str) -> int:
    """Return ``H:MM`` (may be negative) as seconds.

    Raises:
        ValueError: the text is not of that form.
    """
    body = text.strip()
    sign = -1 if body.startswith("-") else 1
    hours, colon, mins = body.lstrip("+-").partition(":")
    if not colon or not (hours.isascii() and hours.isdigit() and mins.isascii() and mins.isdigit()):
        raise ValueError(f"{text!r} is not a time of the form H:MM")
    if len(mins) != 2 or int(mins) > 59 or len(hours) > 5:
        raise ValueError(f"{text!r} is not a time of the form H:MM")
    return sign * (int(hours) * 3600 + int(mins) * 60)
