"""The demo's pictures and the state machines, as they stand in ``diagrams/``.

One command writes them all, from the top of the project::

    python -m cablewalk.drawings.gallery diagrams

Beside each picture stands the DOT text it was drawn from, and ``look.css`` holds the styles.
Whether the folder is current is judged by these, never by the bytes of an SVG: another release
of Graphviz may write the same picture otherwise.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

from cablewalk.drawings.engine import DrawingFailed, NoGraphviz, draw
from cablewalk.drawings.look import stylesheet
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.machines.diagram import machine_dot
from cablewalk.machines.tables import TABLES
from cablewalk.timeline.account import account

BASELINE: Final = "outpost.yaml"
PROCEDURES: Final = ("outing-1.yaml", "outing-2.yaml", "outing-3.yaml")
STEPS: Final = ("1-33", "1-40", "2-23", "2-45", "2-51", "3-32")
"""The steps shown: an exchange, power back, two at once, the bus cut, ends stowed, nearly done."""
STYLES: Final = "look.css"


@dataclass(frozen=True, slots=True)
class Exhibit:
    """One picture of the gallery: its file's name without ending, its DOT, and its SVG."""

    name: str
    dot: str
    svg: Callable[[], bytes]


def exhibits(configs: Path) -> Iterator[Exhibit]:
    """Yield every picture of the gallery; ``configs`` is the folder of the demo's documents.

    Raises:
        ValueError: a document of the demo cannot be read or replayed.
    """
    base = load_baseline(configs / BASELINE)
    rest = [load_procedure(configs / name, n + 1) for n, name in enumerate(PROCEDURES)]
    models = [loaded.model for loaded in rest if loaded.model is not None]
    if base.model is None or len(models) < len(rest):
        raise ValueError(f"the demo's documents in {configs} cannot be read")
    told = account(base.model, models)
    if told.trace.unusable:
        raise ValueError(f"the demo's documents in {configs} cannot be replayed")
    album = Album(told, PAGES["a4"])
    shown = [n for n, m in enumerate(album.every) if m.step is not None and m.step.id in STEPS]
    for picture in (album.before(), album.after(), album.both(), *map(album.step, shown)):
        yield Exhibit(picture.name, picture.dot, partial(picture.drawn, "svg"))
    for kind in TABLES:
        dot = machine_dot(kind)
        yield Exhibit(f"machine-{kind}", dot, partial(draw, dot, "svg"))


def write(folder: Path, configs: Path) -> list[str]:
    """Write all pictures with their DOT, and the styles; return the names of the files."""
    folder.mkdir(parents=True, exist_ok=True)
    files = {STYLES: stylesheet().encode("utf-8") + b"\n"}
    for exhibit in exhibits(configs):
        files[f"{exhibit.name}.dot"] = exhibit.dot.encode("utf-8")
        files[f"{exhibit.name}.svg"] = exhibit.svg()
    for old in folder.iterdir():
        if old.suffix in (".dot", ".svg") and old.name not in files:
            old.unlink()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return sorted(files)


def main() -> None:
    """Write the gallery as the command line says; what goes wrong ends in a sentence."""
    if not 2 <= len(sys.argv) <= 3:
        sys.exit("usage: python -m cablewalk.drawings.gallery FOLDER [CONFIGS]")
    try:
        written = write(Path(sys.argv[1]), Path(sys.argv[2] if len(sys.argv) > 2 else "configs"))
    except (NoGraphviz, DrawingFailed, ValueError, OSError) as problem:
        sys.exit(str(problem))
    print(f"{len(written)} files written to {sys.argv[1]}")


if __name__ == "__main__":
    main()
