"""The palette of a PNG set right: what gd rounded to six bits a colour becomes what was meant.

Source: PNG specification (ISO/IEC 15948), 5.3 Chunk layout, 11.2.3 PLTE Palette.
"""

from __future__ import annotations

import struct
import zlib
from functools import cache
from itertools import product
from typing import Final

from cablewalk.drawings.look import LOOKS

Colour = tuple[int, ...]
ROUNDED: Final = 4
"""By how much a value of gd's palette was seen to differ from the value drawn."""


@cache
def meant() -> tuple[Colour, ...]:
    """Return every colour of the looks."""
    names = (name for look in LOOKS.values() for name in (look.ink, look.fill, look.text))
    return tuple(dict.fromkeys(tuple(bytes.fromhex(name[1:])) for name in names if name))


def set_right(png: bytes, colours: tuple[Colour, ...]) -> bytes:
    """Return a PNG in which each entry of the palette near to a colour is that colour.

    A PNG without a palette is returned as it is.
    """
    at = 8
    while png[at + 4 : at + 8] not in (b"PLTE", b"IDAT", b""):
        at += 12 + struct.unpack_from(">L", png, at)[0]
    if png[at + 4 : at + 8] != b"PLTE":
        return png
    (length,) = struct.unpack_from(">L", png, at)
    old = png[at + 8 : at + 8 + length]
    near = _near(colours)
    entries = (old[n : n + 3] for n in range(0, length, 3))
    new = b"".join(near.get(entry, entry) for entry in entries)
    chunk = b"PLTE" + new
    return png[: at + 4] + chunk + struct.pack(">L", zlib.crc32(chunk)) + png[at + 12 + length :]


@cache
def _near(colours: tuple[Colour, ...]) -> dict[bytes, bytes]:
    """Return every value near to a colour to the colour that is nearest."""
    steps = sorted(product(range(-ROUNDED, ROUNDED + 1), repeat=3), key=lambda s: sum(map(abs, s)))
    found: dict[bytes, bytes] = {}
    for step in steps:
        for colour in colours:
            value = [a + b for a, b in zip(colour, step, strict=True)]
            if min(value) >= 0 and max(value) <= 255:
                found.setdefault(bytes(value), bytes(colour))
    return found
