"""A temperature plot of one zone, as SVG by hand: legible in grey, no library."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from math import ceil, floor, log10
from typing import Final

from cablewalk.drawings.metrics import width_pt
from cablewalk.files.wording import inert
from cablewalk.reports.base import Pet
from cablewalk.reports.heading import PhaseRow
from cablewalk.reports.thermal import ZoneRow

WIDE: Final = 900
HIGH: Final = 460
LEFT: Final = 70
RIGHT: Final = 24
TOP: Final = 64
BOTTOM: Final = 96
FONT: Final = "DejaVu Sans, sans-serif"
STEPS: Final = (1, 2, 5, 10)


class _Scale:
    """Turns minutes and degrees into picture units."""

    def __init__(self, minutes: tuple[float, float], degrees: tuple[float, float]) -> None:
        self.minutes = minutes
        self.degrees = degrees

    def x(self, at_min: float) -> float:
        low, high = self.minutes
        return LEFT + (at_min - low) / (high - low) * (WIDE - LEFT - RIGHT)

    def y(self, celsius: float) -> float:
        low, high = self.degrees
        return HIGH - BOTTOM - (celsius - low) / (high - low) * (HIGH - TOP - BOTTOM)


def zone_plot(row: ZoneRow, phases: Sequence[PhaseRow]) -> str:
    """Return the plot of a zone that has an estimate, as an SVG document.

    The estimate is a solid line, limits are dashed, measured samples are named beneath and not
    drawn on the curve: they were taken at another time. Hatched bars are the outages of its
    services; reconnect-by moments are marked, the one that governs with a filled sign.
    """
    times = [point.at_min for point in row.curve]
    values = [point.estimated_c for point in row.curve]
    limits = [c for c in (row.limit_low_c, row.limit_high_c) if c is not None]
    span = (times[0], max(times[-1], times[0] + 1))
    scale = _Scale(span, _room([*values, *limits]))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE}" height="{HIGH}" '
        f'viewBox="0 0 {WIDE} {HIGH}" role="img" font-family="{FONT}" font-size="12">',
        f"<title>{_safe(f'Estimated temperature of {row.zone}')}</title>",
        '<defs><pattern id="dark" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" stroke="#555" '
        'stroke-width="1.4"/></pattern></defs>',
        f'<rect width="{WIDE}" height="{HIGH}" fill="white"/>',
        _text(LEFT, 22, f"{row.zone}{f' ({row.label})' if row.label else ''}", size=16, bold=True),
        _text(LEFT, 42, "PREDICTED: estimate, not for go/no-go"),
        *_outages(row, scale),
        *_grid(scale, phases),
        *_limits(row, scale),
        _curve(row, scale),
        *_marks(row, scale),
        *_beneath(row, len(phases) > 1),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _room(values: Sequence[float]) -> tuple[float, float]:
    """Return a range with round ends that holds the values."""
    low, high = min(values), max(values)
    step = _step(max(high - low, 1.0), 6)
    return floor(low / step - 0.25) * step, ceil(high / step + 0.25) * step


def _step(span: float, lines: int) -> float:
    """Return a round distance between grid lines, so that there are at most so many."""
    rough = span / lines
    ten = 10.0 ** floor(log10(rough))
    return next(s * ten for s in STEPS if s * ten >= rough * 0.999)


def _safe(text: str) -> str:
    return escape(inert(text))


def _text(
    x: float, y: float, text: str, size: int = 12, bold: bool = False, anchor: str = "start"
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}"{weight}>'
        f"{_safe(text)}</text>"
    )


def _line(x1: float, y1: float, x2: float, y2: float, style: str) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {style}/>'


def _grid(scale: _Scale, phases: Sequence[PhaseRow]) -> list[str]:
    low, high = scale.degrees
    step = _step(high - low, 6)
    parts = []
    for n in range(round((high - low) / step) + 1):
        at = low + n * step
        y = scale.y(at)
        parts.append(_line(LEFT, y, WIDE - RIGHT, y, 'stroke="#ddd"'))
        parts.append(_text(LEFT - 8, y + 4, f"{at:g}", anchor="end"))
    parts.append(_text(LEFT - 8, TOP - 8, "°C", anchor="end"))
    base = HIGH - BOTTOM
    parts.append(_line(LEFT, base, WIDE - RIGHT, base, 'stroke="black"'))
    parts.append(_line(LEFT, TOP, LEFT, base, 'stroke="black"'))
    several = len(phases) > 1
    for phase in phases:
        for at, word in (
            (phase.start_min, phase.start_pet.pet),
            (phase.end_min, phase.end_pet.pet),
        ):
            if not scale.minutes[0] <= at <= scale.minutes[1]:
                continue
            x = scale.x(at)
            parts.append(_line(x, base, x, base + 5, 'stroke="black"'))
            number = f"P{phase.number} " if several else ""
            row = 18 if at == phase.start_min else 32
            parts.append(_text(x, base + row, f"{number}{word}", 10, anchor="middle"))
    return parts


def _limits(row: ZoneRow, scale: _Scale) -> list[str]:
    parts = []
    for value, word in ((row.limit_low_c, "lower limit"), (row.limit_high_c, "upper limit")):
        if value is not None:
            y = scale.y(value)
            style = 'stroke="black" stroke-width="1.5" stroke-dasharray="8 4"'
            parts.append(_line(LEFT, y, WIDE - RIGHT, y, style))
            parts.append(_text(WIDE - RIGHT, y - 4, f"{word} {value:g} °C", anchor="end"))
    return parts


def _outages(row: ZoneRow, scale: _Scale) -> list[str]:
    """Return the outages of the zone's services as hatched bars over the whole height."""
    parts = []
    for loss in row.losses:
        x1 = scale.x(loss.from_min)
        x2 = scale.x(min(loss.from_min + loss.dark_min, scale.minutes[1]))
        parts.append(
            f'<rect x="{x1:.1f}" y="{TOP}" width="{max(x2 - x1, 1):.1f}" '
            f'height="{HIGH - TOP - BOTTOM}" fill="url(#dark)" fill-opacity="0.35" '
            'stroke="#555" stroke-width="0.6"/>'
        )
        word = f"{loss.service} dark"
        wide = width_pt(word, 10)
        # Near the right edge the name ends at the bar, so that it is not cut.
        near = x1 + 2 + wide > WIDE - 2
        parts.append(
            _text(x2 if near else x1 + 2, TOP - 4, word, 10, anchor="end" if near else "start")
        )
    return parts


def _curve(row: ZoneRow, scale: _Scale) -> str:
    points = " ".join(f"{scale.x(p.at_min):.1f},{scale.y(p.estimated_c):.1f}" for p in row.curve)
    return f'<polyline points="{points}" fill="none" stroke="black" stroke-width="2"/>'


def _marks(row: ZoneRow, scale: _Scale) -> list[str]:
    """Return a sign at each reconnect-by moment: a triangle, filled where it governs."""
    parts = []
    y = HIGH - BOTTOM
    for loss in row.losses:
        for at, word, governs, above in (
            (loss.given_by_min, "clock", loss.governs == "given clock", 15),
            (loss.estimated_by_min, "estimate", loss.governs == "estimate", 27),
        ):
            if at is None or not scale.minutes[0] <= at <= scale.minutes[1]:
                continue
            x = scale.x(at)
            fill = "black" if governs else "white"
            parts.append(
                f'<path d="M {x:.1f} {y} l -6 -11 l 12 0 z" fill="{fill}" stroke="black"/>'
            )
            parts.append(_text(x, y - above, f"by {word}", 10, anchor="middle"))
    return parts


def _beneath(row: ZoneRow, several: bool) -> list[str]:
    def told(pet: Pet | None) -> str:
        if pet is None:
            return "-"
        return f"P{pet.phase_number} {pet.pet}" if several else pet.pet

    lines = [
        f"lowest {row.lowest_c:.1f} °C; hatched: no power to its heater; triangle: reconnect by "
        "(filled: the one that governs)"
    ]
    for loss in row.losses[:1]:
        lines.append(
            f"{loss.service}, dark from {told(loss.from_pet)}: reconnect by "
            f"{told(loss.given_by_pet)} (clock), {told(loss.estimated_by_pet)} (estimate)"
        )
    if row.measured:
        samples = ", ".join(f"{s.measured_c:g} °C at {s.at_min:g} min" for s in row.measured)
        lines.append(f"MEASURED, another time: {samples}")
    return [_text(LEFT, HIGH - 42 + 15 * n, line, 10) for n, line in enumerate(lines)]
