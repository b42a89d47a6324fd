"""The film: its frames put together again are the pictures, and cost what changes."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import small

from cablewalk.book.film import Film, film_of, pair_still
from cablewalk.drawings.look import LOOKS
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES
from cablewalk.drawings.sheet import fitted

WORK = "[[demate: P1], [wait: 1], [mate: {P1: J1}, verify: light], [switch_off: SW2]]"
STEPS = """
- [demate: P1]
- [{wait: 1}]
- [{mate: {P1: J1}}, {verify: light}]
- [{wait: 1}]
"""

SWAP = "[[demate: P1], [mate: {P1: JN}]]"


def album_of(steps: str = STEPS, more: str = "{}") -> Album:
    return Album(small.run(steps, more), PAGES["a4"])


def film(album: Album) -> Film:
    return film_of(album, album.steps[1:])


def worn(frames: list[list[int]], count: int, upto: int) -> list[int]:
    now = [0] * count
    for frame in frames[: upto + 1]:
        for piece, wear in zip(frame[::2], frame[1::2], strict=True):
            now[piece] = wear
    return now


def test_frames_give_back_every_picture() -> None:
    album = album_of()
    made = film(album)
    data: dict[str, Any] = json.loads(made.data)
    pieces = re.findall(r'<g data-n="(\d+)" class="([^"]*)"', made.svg)
    assert [int(n) for n, _ in pieces] == list(range(len(pieces)))
    for number, dress in enumerate(album.steps[1:], start=1):
        shown = {
            (tuple(data["wears"][w][0].split()), tuple(data["wears"][w][2:]))
            for w in worn(data["frames"], len(pieces), number)
            if w
        }
        wanted = {
            (wear.looks, tuple(" ".join(line.split()) for line in wear.lines))
            for key, wear in fitted(album.plate, dress).items()
            if key[0] in ("half", "hub", "chip", "halo", "leg", "pair", "place-name")
        }
        assert wanted <= shown, number


def test_first_frame_is_what_the_page_shows_at_first() -> None:
    made = film(album_of())
    data = json.loads(made.data)
    pieces = re.findall(r'<g data-n="\d+" class="(?:node|edge) ([^"]*)"', made.svg)
    first = worn(data["frames"], len(pieces), 0)
    for classes, wear in zip(pieces, first, strict=True):
        named = [c.removeprefix("l-") for c in classes.split() if c != "bold"]
        assert named == data["wears"][wear][0].split()


def test_nothing_moves() -> None:
    """A frame holds looks and words and no number that could be a place."""
    data = json.loads(film(album_of()).data)
    assert set(data) == {"wears", "frames"}
    assert all(isinstance(text, str) for wear in data["wears"] for text in wear)
    assert all(isinstance(number, int) for frame in data["frames"] for number in frame)


def test_a_step_that_changes_nothing_costs_nothing() -> None:
    album = album_of()
    plain = album.steps[1:]
    short = film_of(album, plain)
    still_steps = [album.steps[2]] * 50
    long = film_of(album, [*plain[:2], *still_steps, *plain[2:]])
    assert len(long.data) - len(short.data) <= 50 * len("[],")
    assert long.svg == short.svg


def test_data_can_stand_in_a_script() -> None:
    more = json.dumps(
        {"harnesses": {"W1": {"label": "</script>", "legs": {"P1": "p2 pin", "P2": "p2 socket"}}}}
    )
    made = film(album_of(more=more))
    assert "</script" not in made.data and "\\u003c/script>" in made.data
    assert "</script>" in json.loads(made.data)["wears"].__repr__()


def test_before_and_after_stand_on_the_page_without_ids_style_or_title() -> None:
    picture = album_of(SWAP).both()
    text, looks = pair_still(replace(picture, title='Before "and" after'))
    assert text.startswith('<svg class="still"') and "<style" not in text and " id=" not in text
    assert 'aria-label="Before &quot;and&quot; after"' in text
    assert "BEFORE" not in text and "MATED" in text
    assert looks and set(looks) <= set(LOOKS)


def test_a_picture_is_cut_to_its_maps() -> None:
    """Every cell of both maps lies within the view, and the page's own margins do not."""
    picture = album_of(SWAP).both()
    text, _ = pair_still(picture)
    view = re.search(r'viewBox="([^"]+)"', text)
    assert view is not None
    left, top, width, height = (float(n) for n in view[1].split())
    scale, plate = picture.plate.scale, picture.plate
    for key, cell in plate.cells.items():
        if key[0] in ("before", "after") and key[-1] != "name" and key in picture.dress:
            assert left <= cell.left_x * scale and cell.right_x * scale <= left + width
            assert top <= cell.top * scale and cell.bottom * scale <= top + height
    assert height < plate.height * scale
