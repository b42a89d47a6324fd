"""Shapes of a timeline, written as SVG by hand: plain elements, one style block, no scripts.

Ids and rules of style are the picture's own (:func:`cablewalk.drawings.plot_ink.owned`).
"""

from __future__ import annotations

from typing import Final
from xml.sax.saxutils import escape, quoteattr

from cablewalk.drawings.fonts import FONT
from cablewalk.drawings.label import plain
from cablewalk.drawings.look import BLUE, FAINT, INK, PAPER, SOFT, VERMILION
from cablewalk.drawings.plot_ink import OWN, owned

PALE: Final = {"ground": "#e8eef2", "inside": "#fbf3df", "outside": "#e3f1ec", "vehicle": "#f3e8f0"}
"""Kind of actor to the tint of its bars; the lane's name tells the same."""

_STYLE: Final = f"""
text {{ font-family: "{FONT}", sans-serif; fill: {INK}; }}
.title {{ font-size: 15px; font-weight: bold; }}
.head {{ font-size: 11px; font-weight: bold; }}
.name {{ font-size: 10px; font-weight: bold; }}
.words {{ font-size: 9px; }}
.soft {{ font-size: 8.5px; fill: {SOFT}; }}
.step {{ font-size: 8.5px; font-weight: bold; }}
.loud {{ font-size: 9px; font-weight: bold; fill: {VERMILION}; }}
.white {{ font-size: 8.5px; font-weight: bold; fill: {PAPER}; }}
.grid {{ stroke: #dedede; stroke-width: 0.6; }}
.hour {{ stroke: {FAINT}; stroke-width: 0.8; }}
.rail {{ stroke: {FAINT}; stroke-width: 0.8; stroke-dasharray: 1 3; }}
.bar {{ stroke: {INK}; stroke-width: 1; }}
.part {{ stroke: none; }}
.joint {{ stroke: {INK}; stroke-width: 2.2; }}
.go {{ stroke: {INK}; stroke-width: 1; stroke-dasharray: 4 2; fill: none; }}
.diamond {{ fill: {INK}; }}
.hold {{ stroke: {INK}; stroke-width: 1.6; fill: none; }}
.lost {{ stroke: {INK}; stroke-width: 1; }}
.clock {{ stroke: {INK}; stroke-width: 1; stroke-dasharray: 3 2; fill: none; }}
.by {{ stroke: {INK}; stroke-width: 2.4; }}
.edge {{ stroke: {INK}; stroke-width: 0.8; fill: none; }}
.band {{ fill: #f4f4f2; }}
.idle {{ stroke: {INK}; stroke-width: 0.9; fill: none; }}
""".strip().replace("\n", f"\n#{OWN} ")

_PATTERNS: Final = f"""
<pattern id="{OWN}-walk" width="5" height="5" patternUnits="userSpaceOnUse"
 patternTransform="rotate(45)">
<line x1="0" y1="0" x2="0" y2="5" stroke="{INK}" stroke-width="1.3"/></pattern>
<pattern id="{OWN}-wait" width="4" height="4" patternUnits="userSpaceOnUse">
<circle cx="1.2" cy="1.2" r="0.75" fill="{INK}"/></pattern>
<pattern id="{OWN}-planned" width="6" height="6" patternUnits="userSpaceOnUse"
 patternTransform="rotate(-45)">
<rect width="6" height="6" fill="#cfe1ee"/>
<line x1="0" y1="0" x2="0" y2="6" stroke="{BLUE}" stroke-width="4"/></pattern>
<pattern id="{OWN}-recovering" width="4" height="4" patternUnits="userSpaceOnUse">
<rect width="4" height="4" fill="{PAPER}"/>
<line x1="0" y1="2" x2="4" y2="2" stroke="{BLUE}" stroke-width="1"/></pattern>
<pattern id="{OWN}-over" width="4" height="4" patternUnits="userSpaceOnUse">
<rect width="4" height="4" fill="{PAPER}"/>
<path d="M0 0L4 4M4 0L0 4" stroke="{VERMILION}" stroke-width="1.4"/></pattern>
"""

UNPLANNED: Final = "#1a1a1a"


def pattern(name: str) -> str:
    """Return the fill by a pattern: walk, wait, planned, recovering or over."""
    return f"url(#{OWN}-{name})"


def words(text: str, limit: int = 200) -> str:
    """Return a user's text as it may stand between tags: one line, clipped, escaped."""
    return escape(plain(text, limit)) or " "


class Sheet:
    """Elements of one drawing, in order. Lengths are px; y grows downward."""

    def __init__(self) -> None:
        self.parts: list[str] = []

    def rect(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        look: str,
        fill: str = "",
        tip: str = "",
        round_: float = 0,
    ) -> None:
        """Add a rectangle; ``tip`` is shown by a viewer when pointed at."""
        paint = f' fill="{fill}"' if fill else ""
        corner = f' rx="{round_:g}"' if round_ else ""
        at = f'x="{x:.2f}" y="{y:.2f}" width="{max(wide, 0):.2f}" height="{high:.2f}"'
        inner = f"<title>{words(tip, 400)}</title>" if tip else ""
        self.parts.append(f'<rect class="{look}" {at}{corner}{paint}>{inner}</rect>')

    def beneath(self, x: float, y: float, wide: float, high: float) -> None:
        """Add a band beneath everything drawn so far."""
        at = f'x="{x:.2f}" y="{y:.2f}" width="{wide:.2f}" height="{high:.2f}"'
        self.parts.insert(0, f'<rect class="band" {at}/>')

    def line(self, x1: float, y1: float, x2: float, y2: float, look: str) -> None:
        """Add a straight line."""
        ends = f'x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}"'
        self.parts.append(f'<line class="{look}" {ends}/>')

    def path(self, d: str, look: str) -> None:
        """Add a path; ``d`` is written by the program, never by a user."""
        self.parts.append(f'<path class="{look}" d={quoteattr(d)}/>')

    def text(self, x: float, y: float, text: str, look: str, anchor: str = "start") -> None:
        """Add one line of a text of any origin, its baseline at ``y``."""
        at = f'x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}"'
        self.parts.append(f'<text class="{look}" {at}>{words(text)}</text>')

    def diamond(self, x: float, y: float, size: float) -> None:
        """Add a filled diamond."""
        self.path(
            f"M{x:.2f} {y - size:.2f}L{x + size:.2f} {y:.2f}"
            f"L{x:.2f} {y + size:.2f}L{x - size:.2f} {y:.2f}Z",
            "diamond",
        )

    def svg(self, wide: float, high: float, title: str) -> str:
        """Return the whole drawing."""
        head = (
            f'<svg id="{OWN}" xmlns="http://www.w3.org/2000/svg" width="{wide:.0f}" '
            f'height="{high:.0f}" viewBox="0 0 {wide:.0f} {high:.0f}" role="img">'
        )
        body = "\n".join(self.parts)
        return owned(
            f'<?xml version="1.0" encoding="UTF-8"?>\n{head}\n<title>{words(title)}</title>\n'
            f"<style>\n#{OWN} {_STYLE}\n</style>\n<defs>{_PATTERNS}</defs>\n"
            f'<rect width="100%" height="100%" fill="{PAPER}"/>\n{body}\n</svg>\n',
            "timeline",
        )
