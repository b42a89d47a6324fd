"""Contrast within the picture, which axe-core does not look at, in every frame of the player."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from browser.watching import Watched

WORDS, LINES = 4.5, 3.0
"""WCAG 2.2, criteria 1.4.3 (Contrast, Minimum) and 1.4.11 (Non-text Contrast)."""

PAIRS = """(all) => {
  const colour = (text) => (text.match(/[\\d.]+/g) || []).slice(0, 3).map(Number);
  const shown = (e) => getComputedStyle(e).fill !== 'none';
  const found = {};
  const jump = document.getElementById('jump');
  const note = (kind, group, ink, ground) => {
    found[[kind, ink, ground].join('|')] = [kind, group.className.baseVal, colour(ink),
      colour(ground)];
  };
  for (const option of [...jump.options]) {
    jump.value = option.value;
    jump.dispatchEvent(new Event('change'));
    for (const group of document.querySelectorAll('#picture [data-n]')) {
      if (group.classList.contains('l-away') || group.classList.contains('l-page')) continue;
      const shape = group.querySelector('path, polygon');
      const ground = group.classList.contains('node') && shape && shown(shape)
        ? getComputedStyle(shape).fill : 'rgb(246, 246, 244)';
      for (const text of group.querySelectorAll('text')) {
        if (text.textContent.trim()) note('words', group, getComputedStyle(text).fill, ground);
      }
      // A border stands out from what is around it, the palest ground there is but white.
      if (shape) note('lines', group, getComputedStyle(shape).stroke, 'rgb(246, 246, 244)');
    }
  }
  return Object.values(found);
}"""


def on_screen(colour: list[float], is_dark: bool) -> list[float]:
    """Return a colour (0 to 1 a channel) as the style sheet's filter turns it over in the dark.

    invert(.93), then hue-rotate(180deg): matrices of W3C Filter Effects 1, in sRGB.
    """
    r, g, b = (c / 255 for c in colour)
    if not is_dark:
        return [r, g, b]
    r, g, b = (0.93 + c * (1 - 2 * 0.93) for c in (r, g, b))
    # cos 180 = -1, sin 180 = 0.
    rows = ((-0.574, 1.430, 0.144), (0.426, 0.430, 0.144), (0.426, 1.430, -0.856))
    return [min(1.0, max(0.0, x * r + y * g + z * b)) for x, y, z in rows]


def luminance(colour: list[float]) -> float:
    """Return the relative luminance as WCAG 2.2 defines it."""
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: list[float], other: list[float]) -> float:
    """Return the contrast ratio as WCAG 2.2 defines it."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_that_of_the_standard() -> None:
    # Known pairs, from memory: black on white 21, #767676 on white 4.54.
    assert contrast([0, 0, 0], [1, 1, 1]) == pytest.approx(21)
    assert contrast([0x76 / 255] * 3, [1, 1, 1]) == pytest.approx(4.54, abs=0.01)
    # What has no hue keeps none when it is turned over.
    assert on_screen([255, 255, 255], True) == pytest.approx([0.07] * 3, abs=1e-3)


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_words_and_lines_of_the_picture_are_to_be_seen(
    chromium: Any, book: Path, is_dark: bool
) -> None:
    page = Watched(chromium, book.as_uri())
    pairs = page.page.evaluate(PAIRS)
    assert {kind for kind, *_ in pairs} == {"words", "lines"} and len(pairs) > 15
    faint = []
    for kind, name, ink, ground in pairs:
        ratio = contrast(on_screen(ink, is_dark), on_screen(ground, is_dark))
        if ratio < (WORDS if kind == "words" else LINES):
            faint.append(f"{kind} of {name}: {ratio:.2f}, {ink} on {ground}")
    assert faint == []
    page.context.close()
