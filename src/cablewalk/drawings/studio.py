"""What all pictures of one plate share: the plate is drawn once and then only dressed."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.drawings.dot import Lines, dot_of
from cablewalk.drawings.engine import Format, draw_pinned
from cablewalk.drawings.palette import meant, set_right
from cablewalk.drawings.pdf import Press, press_of
from cablewalk.drawings.plate import MOST_KEPT, Dress, Plate, Since
from cablewalk.drawings.svg import Template, template_of


@dataclass(slots=True)
class Studio:
    """Makes files of a plate's dresses. Every method warns and raises as the engine's ``draw``."""

    plate: Plate
    template: list[Template] = field(default_factory=list)
    """The plate as SVG, drawn at the first need."""
    _press: list[Press] = field(default_factory=list)
    _lines: Lines = field(default_factory=dict)

    def dot(self, dress: Dress) -> str:
        """Return the DOT text of a dress, everything pinned."""
        if len(self._lines) > MOST_KEPT:
            self._lines.clear()
        return dot_of(self.plate, dress, self._lines)

    def drawn(
        self, dress: Dress, title: str, fmt: Format, dpi: int = 150, since: Since | None = None
    ) -> bytes:
        """Return a dress as a file; ``since`` as in :meth:`Template.filled`."""
        if fmt == "png":
            return set_right(draw_pinned(self.dot(dress), fmt, dpi), meant())
        if not self.template:
            self.template.append(template_of(self.plate))
        if fmt == "svg":
            return self.template[0].filled(dress, title, since)
        if not self._press:
            self._press.append(press_of(self.plate, self.template[0]))
        printed = self._press[0].printed(dress, title)
        return draw_pinned(self.dot(dress), fmt) if printed is None else printed
