"""The one font every picture is drawn with, and how Graphviz is made to use it.

Without a font of its own a picture depends on the machine: none installed gives empty boxes,
another set gives another layout. So the package carries DejaVu Sans (regular and bold; licence
beside it) and a fontconfig file that knows no other font.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape

FONT: Final = "DejaVu Sans"
"""The family to write as ``fontname`` in DOT, so that an SVG names what it was laid out with."""

FONT_DIR: Final = Path(__file__).resolve().parent / "font"

# Any family asked for becomes FONT. No rescan: the files do not change while a process runs.
_CONFIG = """\
<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig>
  <dir>{fonts}</dir>
  <cachedir>{cache}</cachedir>
  <match target="pattern">
    <edit name="family" mode="assign" binding="strong"><string>{family}</string></edit>
  </match>
  <config><rescan><int>0</int></rescan></config>
</fontconfig>
"""

# What would lead fontconfig elsewhere even with FONTCONFIG_FILE set.
_RIVALS = ("FONTCONFIG_PATH", "FONTCONFIG_SYSROOT")


@cache
def fontconfig_file() -> Path:
    """Return a fontconfig file that knows only :data:`FONT`; made once a process.

    It lies in a temporary directory with a copy of the fonts, since fontconfig writes beside the
    fonts that it reads and complains where it cannot write a cache; the package's own directory
    stays as installed. The temporary one goes when the process ends.
    """
    home = Path(tempfile.mkdtemp(prefix="cablewalk-fonts-"))
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    shutil.copytree(FONT_DIR, home / "fonts")
    file = home / "fonts.conf"
    text = _CONFIG.format(
        fonts=escape(str(home / "fonts")), cache=escape(str(home / "cache")), family=escape(FONT)
    )
    file.write_text(text, encoding="utf-8")
    return file


def font_environment() -> dict[str, str]:
    """Return a copy of the environment in which fontconfig finds only :data:`FONT`."""
    environment = {k: v for k, v in os.environ.items() if k not in _RIVALS}
    environment["FONTCONFIG_FILE"] = str(fontconfig_file())
    return environment


@contextmanager
def own_font() -> Iterator[None]:
    """Let this process's fontconfig find only :data:`FONT` within the block.

    Fontconfig reads the environment once, at the first drawing of the process: a program that
    drew with pygraphviz before has chosen its fonts already.
    """
    config = str(fontconfig_file())
    before = {k: os.environ.get(k) for k in (*_RIVALS, "FONTCONFIG_FILE")}
    for name in _RIVALS:
        os.environ.pop(name, None)
    os.environ["FONTCONFIG_FILE"] = config
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
