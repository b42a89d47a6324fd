"""Drawing DOT: in this process where pygraphviz is installed, else by a system ``dot``."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType
from typing import Final, Literal, NamedTuple

from cablewalk.drawings.fonts import font_environment, fontconfig_file, own_font

Format = Literal["svg", "png", "pdf"]

LAID_OUT: Final = "dot"
PINNED: Final = "nop2"
"""Graphviz's engine that keeps the positions of nodes and edges as they stand in the text."""

PALETTE_PNG: Final = "png:cairo:gd"
"""PNG drawn by cairo, as ever, and written by gd.

Measured on a page of A4 at 150 dpi: cairo takes 70 ms to write even an empty one, gd 21 ms.
"""

POINTS_PER_INCH: Final = 72
"""Graphviz's ``plain`` output is in inches; DOT and SVG count in points of 1/72 inch.

Source: graphviz.org, "Output Formats", plain.
"""

# The environment, file descriptor 2 and Graphviz itself are one a process.
_ONE_AT_A_TIME = threading.Lock()


class NoGraphviz(RuntimeError):
    """There is nothing on this machine to draw with; the text says how to get it."""

    def __init__(self) -> None:
        super().__init__(
            "cannot draw: Graphviz is not here, neither as the Python package pygraphviz nor as "
            "a program 'dot'; install one of the two: 'pip install pygraphviz' (ready-made for "
            "Linux with glibc, macOS, and Windows on x64) or your system's package 'graphviz'"
        )


class DrawingFailed(RuntimeError):
    """Graphviz refused the DOT text; the text is what Graphviz said."""


class GraphvizWarning(UserWarning):
    """What Graphviz said about a picture that it drew all the same."""


class Spot(NamedTuple):
    """Where a node lies: its centre from the lower left corner, and its size, in points."""

    x_pt: float
    y_pt: float
    width_pt: float
    height_pt: float


@dataclass(frozen=True, slots=True)
class Layout:
    """Where Graphviz put things: each node by its DOT id, and the size of the whole, in points."""

    nodes: dict[str, Spot]
    width_pt: float
    height_pt: float


def draw(dot: str, fmt: Format, dpi: int = 150) -> bytes:
    """Return the picture of a DOT text, laid out by Graphviz's ``dot``.

    Args:
        dot: DOT text of one graph; labels made by :func:`cablewalk.drawings.label.label`. Every
            node states its label: one without shows its id or nothing, as the engine has it.
        fmt: ``svg``, ``png`` or ``pdf``.
        dpi: pixels an inch; for ``png`` only.

    Warns:
        GraphvizWarning: Graphviz drew it and had something to say.

    Raises:
        NoGraphviz: neither pygraphviz nor a program ``dot`` is installed.
        DrawingFailed: the text is not DOT, or Graphviz could not draw it.
    """
    return _render(dot, fmt, dpi if fmt == "png" else None)


def draw_pinned(dot: str, fmt: Format, dpi: int = 150) -> bytes:
    """Return the picture of a DOT text in which every node and edge states its ``pos``.

    Nothing is laid out: Graphviz draws everything where it is said to lie. A PNG has a palette of
    256 colours, for it is written in half the time so. The rest is as in :func:`draw`.
    """
    if fmt == "png":
        with contextlib.suppress(DrawingFailed):  # not every Graphviz can
            return _render(dot, PALETTE_PNG, dpi, PINNED)
    return _render(dot, fmt, dpi if fmt == "png" else None, PINNED)


def layout(dot: str) -> Layout:
    """Return where Graphviz's ``dot`` puts each node of a DOT text.

    Warns and raises as :func:`draw` does. A graph without nodes has an empty mapping.
    """
    text = _render(dot, "plain", None).decode("utf-8")
    head = text.split("\n", 1)[0].split()
    nodes = {}
    for match in _NODE_LINE.finditer(text):
        name = match[1]
        if name.startswith('"'):
            name = name[1:-1].replace('\\"', '"')
        nodes[name] = Spot(*(float(number) * POINTS_PER_INCH for number in match.groups()[1:]))
    return Layout(nodes, float(head[2]) * POINTS_PER_INCH, float(head[3]) * POINTS_PER_INCH)


_NODE_LINE = re.compile(r'^node ("(?:\\.|[^"\\])*"|\S+) (\S+) (\S+) (\S+) (\S+) ', re.MULTILINE)


def _render(dot: str, fmt: str, dpi: int | None, engine: str = LAID_OUT) -> bytes:
    try:
        dot.encode("utf-8")
    except UnicodeEncodeError as problem:
        raise DrawingFailed(_refusal([str(problem)])) from problem
    library = _pygraphviz()
    program = shutil.which("dot") if library is None else None
    with _ONE_AT_A_TIME:
        try:
            fontconfig_file()
        except OSError as problem:
            reason = (problem.strerror or "no room, or no right to write there").lower()
            folder = tempfile.gettempdir()
            text = f"nothing can be drawn: the folder for temporary files ({folder}): {reason}"
            raise DrawingFailed(text) from problem
        if library is not None:
            picture, said = _render_in_process(library, dot, fmt, dpi, engine)
        elif program is not None:
            picture, said = _render_by_program(program, dot, fmt, dpi, engine)
        else:
            raise NoGraphviz
    # Graphviz draws on after an error, and leaves out what it could not read.
    if not picture or any(line.startswith("Error") for line in said):
        raise DrawingFailed(_refusal(said))
    if said:
        warnings.warn("; ".join(said), GraphvizWarning, stacklevel=3)
    return picture


def _refusal(said: list[str]) -> str:
    return f"Graphviz could not draw: {'; '.join(said) or 'it did not say why'}"


def _worth_telling(text: str) -> list[str]:
    """Return the lines of Graphviz's talk, without fontconfig's about the machine's own files.

    Fontconfig parses the system's sample settings whatever it was told to use, and warns of
    what it does not know in them.
    """
    lines = (line.strip() for line in text.splitlines())
    told = [line for line in lines if line and not line.startswith("Fontconfig warning")]
    return list(dict.fromkeys(_RUNS_OVER if _TOO_SMALL in line else line for line in told))


_TOO_SMALL = "size too small for label"
_RUNS_OVER = "a text is wider than the box it stands in and runs over its edge"
"""What Graphviz calls it means nothing to who reads the picture."""


def _pygraphviz() -> ModuleType | None:
    try:
        import pygraphviz
    except ImportError:
        return None
    module: ModuleType = pygraphviz
    return module


def _render_in_process(
    library: ModuleType, dot: str, fmt: str, dpi: int | None, engine: str
) -> tuple[bytes, list[str]]:
    error = ""
    picture = b""
    # Its one message through Python is that over 1000 nodes take long: not about the picture.
    with own_font(), _file_descriptor_2() as said, contextlib.redirect_stderr(io.StringIO()):
        try:
            graph = library.AGraph(string=dot)
            if dpi is not None:
                graph.graph_attr["dpi"] = str(dpi)
            picture = graph.draw(format=fmt, prog=engine)
            graph.close()
        except (ValueError, library.DotError) as problem:
            error = str(problem)
        except TypeError:  # pygraphviz 2.0.4 takes the number of an error for a picture
            error = f"it cannot write {fmt}"
    if error:
        raise DrawingFailed(_refusal([*said, error]))
    return picture, said


def _render_by_program(
    program: str, dot: str, fmt: str, dpi: int | None, engine: str
) -> tuple[bytes, list[str]]:
    command = [program, f"-T{fmt}"]
    if engine != LAID_OUT:
        command.append(f"-K{engine}")
    if dpi is not None:
        command.append(f"-Gdpi={dpi}")
    done = subprocess.run(
        command,
        input=dot.encode("utf-8"),
        capture_output=True,
        env=font_environment(),
        check=False,
    )
    said = _worth_telling(done.stderr.decode("utf-8", "replace"))
    if done.returncode != 0:
        raise DrawingFailed(_refusal(said or [f"its exit code was {done.returncode}"]))
    return done.stdout, said


@contextlib.contextmanager
def _file_descriptor_2() -> Iterator[list[str]]:
    """Gather the lines that C code writes to standard error; the list fills as the block ends."""
    lines: list[str] = []
    if sys.stderr is not None:
        sys.stderr.flush()
    try:
        saved = os.dup(2)
    except OSError:  # standard error is closed: there is nothing to keep clean
        yield lines
        return
    with tempfile.TemporaryFile() as file:
        os.dup2(file.fileno(), 2)
        try:
            yield lines
        finally:
            os.dup2(saved, 2)
            os.close(saved)
            file.seek(0)
            lines += _worth_telling(file.read().decode("utf-8", "replace"))
