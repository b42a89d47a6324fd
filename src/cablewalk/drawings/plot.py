"""A temperature plot of one zone, as SVG by hand: legible in grey, no library."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from math import ceil, floor
from typing import Final

from cablewalk.drawings.metrics import width_pt
from cablewalk.drawings.plot_axis import Degrees, Rows, TimeAxis, degrees_of
from cablewalk.drawings.plot_ink import OWN, owned, safe, svg_line, svg_text
from cablewalk.drawings.plot_signs import signs, time_axis
from cablewalk.reports.base import Pet
from cablewalk.reports.heading import PhaseRow
from cablewalk.reports.thermal import PointRow, ZoneLossRow, ZoneRow
from cablewalk.units import clock, seconds

WIDE: Final = 900
LEFT: Final = 70
RIGHT: Final = 24
HEAD: Final = 54
"""Height of the title."""
PLOT: Final = 300
"""Height of the plot between its axes."""
FONT: Final = "DejaVu Sans, sans-serif"
_HOURS_AT_MOST: Final = 10_000


class _Frame:
    """Where things stand: time to the right, degrees upward."""

    def __init__(self, time: TimeAxis, degrees: Degrees, top: float) -> None:
        self.time = time
        self.degrees = degrees
        self.top = top
        self.base = top + PLOT

    def y(self, celsius: float) -> float:
        low, high = self.degrees.low, self.degrees.high
        return self.base - (celsius - low) / (high - low) * PLOT


def zone_plot(row: ZoneRow, phases: Sequence[PhaseRow]) -> str:
    """Return the plot of a zone that has an estimate, as an SVG document.

    The estimate is a solid line, limits are dashed, measured samples are named beneath and not
    drawn on the curve: they were taken at another time. Hatched bars are the outages of its
    services; reconnect-by moments are marked, the one that governs with a filled sign. Long times
    between phases are cut out.
    """
    values = [point.estimated_c for point in row.curve]
    limits = [c for c in (row.limit_low_c, row.limit_high_c) if c is not None]
    time = time_axis(row, phases, LEFT, WIDE - RIGHT)
    names = Rows(2, WIDE - 2, 10)
    named = [(loss, *names.place(_middle(time, loss), _dark(loss))) for loss in row.losses]
    frame = _Frame(time, degrees_of([*values, *limits]), HEAD + 12 * len(names.taken) + 8)
    ticks = _ticks(frame, phases)
    lines = _beneath(row, len(phases) > 1, bool(time.cuts))
    first_y = frame.base + 26 + 13 * ticks[1]
    high = first_y + 15 * len(lines) + 4
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE}" height="{high:.0f}" '
        f'viewBox="0 0 {WIDE} {high:.0f}" role="img" font-family="{FONT}" font-size="12">',
        f"<title>{safe(f'Estimated temperature of {row.zone}')}</title>",
        f'<defs><pattern id="{OWN}-dark" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" stroke="#555" '
        'stroke-width="1.4"/></pattern></defs>',
        f'<rect width="{WIDE}" height="{high:.0f}" fill="white"/>',
        svg_text(
            LEFT, 22, f"{row.zone}{f' ({row.label})' if row.label else ''}", size=16, bold=True
        ),
        svg_text(LEFT, 42, "PREDICTED: estimate, not for go/no-go"),
        *_outages(row, frame),
        *(
            svg_text(x, frame.top - 6 - 12 * n, _dark(loss), 10, anchor="middle")
            for loss, x, n in named
        ),
        *_grid(frame),
        *ticks[0],
        *_limits(row, frame),
        *_curve(row, frame),
        *_cuts(frame),
        *_limit_names(row, frame),
        *_marks(row, frame),
        *(svg_text(LEFT, first_y + 15 * n, line, 10) for n, line in enumerate(lines)),
        "</svg>",
    ]
    return owned("\n".join(parts) + "\n", "zone")


def _middle(time: TimeAxis, loss: ZoneLossRow) -> float:
    """Return where the middle of an outage stands."""
    return (time.x(loss.from_min) + time.x(loss.from_min + loss.dark_min)) / 2


def _dark(loss: ZoneLossRow) -> str:
    return f"{loss.service} dark"


def _grid(frame: _Frame) -> list[str]:
    parts = []
    for celsius in frame.degrees.lines:
        y = frame.y(celsius)
        parts.append(svg_line(LEFT, y, WIDE - RIGHT, y, 'stroke="#ddd"'))
        parts.append(svg_text(LEFT - 8, y + 4, f"{celsius:g}", anchor="end"))
    parts.append(svg_text(LEFT - 8, frame.top - 11, "°C", anchor="end"))
    parts.append(svg_line(LEFT, frame.base, WIDE - RIGHT, frame.base, 'stroke="black"'))
    parts.append(svg_line(LEFT, frame.top, LEFT, frame.base, 'stroke="black"'))
    return parts


def _ticks(frame: _Frame, phases: Sequence[PhaseRow]) -> tuple[list[str], int]:
    """Return ticks and labels on the phases' clocks, and the rows the labels take.

    Each phase's begin and end is labelled, and the axis's own; whole hours where there is room.
    """
    rows = Rows(2, WIDE - 2, 10)
    parts = []
    done: set[str] = set()
    first, last = frame.time.stretches[0].from_min, frame.time.stretches[-1].to_min
    ends = {at for phase in phases for at in (phase.start_min, phase.end_min)}
    for at in sorted({first, last} | {at for at in ends if frame.time.shows(at)}):
        phase = [p for p in phases if p.start_min <= at or p is phases[0]][-1]
        number = f"P{phase.number} " if len(phases) > 1 else ""
        told = f"{number}{clock(seconds(at - phase.zero_min))}"
        if told in done:  # the axis's end is the phase's, but for rounding
            continue
        done.add(told)
        x = frame.time.x(at)
        parts.append(svg_line(x, frame.base, x, frame.base + 6, 'stroke="black"'))
        middle, n = rows.place(x, told)
        parts.append(svg_text(middle, frame.base + 18 + 13 * n, told, 10, anchor="middle"))
    for n, phase in enumerate(phases):
        until = phases[n + 1].start_min if n + 1 < len(phases) else last
        hours = range(ceil((phase.start_min - phase.zero_min) / 60), _HOURS_AT_MOST)
        for hour in hours:
            at = phase.zero_min + 60 * hour
            if at > min(until, last):
                break
            x = frame.time.x(at)
            if frame.time.shows(at) and rows.fits(x, f"{hour}:00"):
                parts.append(svg_line(x, frame.base, x, frame.base + 3, 'stroke="black"'))
                parts.append(svg_text(x, frame.base + 18, f"{hour}:00", 10, anchor="middle"))
    return parts, len(rows.taken)


def _limits(row: ZoneRow, frame: _Frame) -> list[str]:
    style = 'stroke="black" stroke-width="1.5" stroke-dasharray="8 4"'
    lines = [frame.y(value) for value, _ in _limit_words(row)]
    return [svg_line(LEFT, y, WIDE - RIGHT, y, style) for y in lines]


def _limit_names(row: ZoneRow, frame: _Frame) -> list[str]:
    return [
        svg_text(_limit_end(frame, text), frame.y(value) - 4, text, anchor="end")
        for value, text in _limit_words(row)
    ]


def _limit_end(frame: _Frame, text: str) -> float:
    """Return where a limit's name ends: in the last stretch of time that has room for it."""
    wide = width_pt(text, 12)
    roomy = [s.right for s in frame.time.stretches if s.right - s.left >= wide]
    return roomy[-1] if roomy else WIDE - RIGHT


def _limit_words(row: ZoneRow) -> list[tuple[float, str]]:
    """Return (°C, what it is called) of the limits that are given."""
    both = ((row.limit_low_c, "lower limit"), (row.limit_high_c, "upper limit"))
    return [(value, f"{word} {value:g} °C") for value, word in both if value is not None]


def _outages(row: ZoneRow, frame: _Frame) -> list[str]:
    """Return the outages of the zone's services as hatched bars over the whole height."""
    parts = []
    for loss in row.losses:
        x1 = frame.time.x(loss.from_min)
        x2 = frame.time.x(loss.from_min + loss.dark_min)
        parts.append(
            f'<rect x="{x1:.1f}" y="{frame.top:.1f}" width="{max(x2 - x1, 1):.1f}" '
            f'height="{PLOT}" fill="url(#{OWN}-dark)" fill-opacity="0.35" '
            'stroke="#555" stroke-width="0.6"/>'
        )
    return parts


def _curve(row: ZoneRow, frame: _Frame) -> list[str]:
    """Return the curve, a line a stretch of time that is shown."""
    parts = []
    for stretch in frame.time.stretches:
        ends = (stretch.from_min, stretch.to_min)
        inside = [(p.at_min, p.estimated_c) for p in row.curve if ends[0] < p.at_min < ends[1]]
        whole = [(ends[0], _at(row.curve, ends[0])), *inside, (ends[1], _at(row.curve, ends[1]))]
        points = " ".join(f"{frame.time.x(t):.1f},{frame.y(c):.1f}" for t, c in whole)
        style = 'fill="none" stroke="black" stroke-width="2"'
        parts.append(f'<polyline points="{points}" {style}/>')
    return parts


def _at(curve: Sequence[PointRow], at_min: float) -> float:
    """Return the temperature between two points of a curve, or at its ends."""
    n = bisect_right(curve, at_min, key=lambda point: point.at_min)
    if n == 0:
        return curve[0].estimated_c
    if n == len(curve):
        return curve[-1].estimated_c
    one, other = curve[n - 1], curve[n]
    share = (at_min - one.at_min) / (other.at_min - one.at_min)
    return one.estimated_c + share * (other.estimated_c - one.estimated_c)


def _cuts(frame: _Frame) -> list[str]:
    """Return white bands with two slanted strokes on the axis where time is cut out."""
    parts = []
    for left, right in frame.time.cuts:
        parts.append(
            f'<rect x="{left:.1f}" y="{frame.top - 1:.1f}" width="{right - left:.1f}" '
            f'height="{PLOT + 3}" fill="white"/>'
        )
        for x in (left, right):
            parts.append(svg_line(x - 3, frame.base + 6, x + 3, frame.base - 6, 'stroke="black"'))
            parts.append(
                svg_line(x, frame.base, x, frame.top, 'stroke="#999" stroke-dasharray="2 3"')
            )
    return parts


def _marks(row: ZoneRow, frame: _Frame) -> list[str]:
    """Return a sign at each reconnect-by moment: a triangle, filled where it governs."""
    parts = []
    rows = Rows(LEFT, WIDE - RIGHT, 10)
    for value, text in _limit_words(row):
        above = frame.base - 15 - (frame.y(value) - 4)
        end = _limit_end(frame, text)
        for n in {floor(above / 12), ceil(above / 12)}:
            if n >= 0:
                rows.keep_free(n, (end - width_pt(text, 12), end))
    for sign in signs(row):
        if not frame.time.shows(sign.at_min):
            continue
        x = frame.time.x(sign.at_min)
        fill = "black" if sign.governs else "white"
        shape = f"M {x:.1f} {frame.base:.1f} l -6 -11 l 12 0 z"
        parts.append(f'<path d="{shape}" fill="{fill}" stroke="black"/>')
        middle, n = rows.place(x, sign.told, frame.time.piece(sign.at_min))
        parts.append(svg_text(middle, frame.base - 15 - 12 * n, sign.told, 10, anchor="middle"))
    return parts


def _beneath(row: ZoneRow, several: bool, cut: bool) -> list[str]:
    def told(pet: Pet | None) -> str:
        if pet is None:
            return "-"
        return f"P{pet.phase_number} {pet.pet}" if several else pet.pet

    lines = [
        f"lowest {row.lowest_c:.1f} °C; hatched: no power to its heater; triangle: reconnect by "
        "(filled: the one that governs)"
    ]
    if cut:
        lines.append("slanted strokes: time in which nothing happens to its heaters is left out")
    for loss in row.losses:
        lines.append(
            f"{loss.service}, dark from {told(loss.from_pet)}: reconnect by "
            f"{told(loss.given_by_pet)} (clock), {told(loss.estimated_by_pet)} (estimate); lowest "
            f"{loss.lowest_c:.1f} °C"
        )
    if row.measured:
        samples = ", ".join(f"{s.measured_c:g} °C at {s.at_min:g} min" for s in row.measured)
        lines.append(f"MEASURED, another time: {samples}")
    return lines
