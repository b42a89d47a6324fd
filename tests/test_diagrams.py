"""``diagrams/`` is what the gallery would write now: by DOT and styles, never by bytes of SVG."""

from __future__ import annotations

import shutil
import sys
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pytest

from cablewalk.drawings import engine
from cablewalk.drawings.gallery import STEPS, STYLES, Exhibit, exhibits, main
from cablewalk.drawings.look import stylesheet
from cablewalk.machines.tables import TABLES

TOP = Path(__file__).resolve().parents[1]
DIAGRAMS = TOP / "diagrams"
AGAIN = "write it anew: python -m cablewalk.drawings.gallery diagrams"


@cache
def shown() -> tuple[Exhibit, ...]:
    return tuple(exhibits(TOP / "configs"))


def test_the_gallery_shows_the_demo_and_every_machine() -> None:
    names = {e.name for e in shown()}
    assert {"before", "after", "before-and-after"} <= names
    assert {f"machine-{kind}" for kind in TABLES} <= names
    assert sum(name.startswith("step-") for name in names) == len(STEPS)


def test_every_picture_is_current() -> None:
    for exhibit in shown():
        stored = (DIAGRAMS / f"{exhibit.name}.dot").read_text(encoding="utf-8")
        assert stored == exhibit.dot, f"{exhibit.name}.dot is not current; {AGAIN}"
    stored = (DIAGRAMS / STYLES).read_text(encoding="utf-8")
    assert stored == stylesheet() + "\n", f"{STYLES} is not current; {AGAIN}"


def test_nothing_is_left_over() -> None:
    expected = {f"{e.name}{ending}" for e in shown() for ending in (".dot", ".svg")} | {STYLES}
    assert {p.name for p in DIAGRAMS.iterdir()} == expected, AGAIN


def test_without_graphviz_the_command_says_so_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "_pygraphviz", lambda: None)
    monkeypatch.setattr(shutil, "which", lambda _: None)
    monkeypatch.setattr(sys, "argv", ["gallery", str(tmp_path), str(TOP / "configs")])
    with pytest.raises(SystemExit, match=r"^cannot draw: Graphviz is not here"):
        main()
    monkeypatch.setattr(sys, "argv", ["gallery", str(tmp_path), str(tmp_path)])
    with pytest.raises(SystemExit, match="cannot be read"):
        main()


def test_every_svg_is_a_picture() -> None:
    for exhibit in shown():
        root = ET.fromstring((DIAGRAMS / f"{exhibit.name}.svg").read_bytes())
        assert sum(1 for _ in root.iter("{http://www.w3.org/2000/svg}text")) > 3
