"""What comes off for a while, what waits on a dummy, what a cable carries, what is counted."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import small

from cablewalk.drawings.engine import draw
from cablewalk.drawings.pictures import Album, Picture
from cablewalk.drawings.plate import PAGES, Cell, Plate, Wear
from cablewalk.drawings.sheet import fitted
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.machines.diagram import machine_dot
from cablewalk.machines.tables import TABLES
from cablewalk.timeline.account import account

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
SVG = "{http://www.w3.org/2000/svg}"
SIDES = ("width", "height")


@cache
def album(baseline: str, *procedures: str) -> Album:
    base = load_baseline(CONFIGS / baseline).model
    assert base is not None
    loaded = [load_procedure(CONFIGS / name, n + 1).model for n, name in enumerate(procedures)]
    return Album(account(base, [p for p in loaded if p is not None]), PAGES["a4"])


def seabed() -> Album:
    return album("seabed.yaml", "seabed-1.yaml", "seabed-2.yaml")


def words(book: Album, picture: Picture, *key: str) -> str:
    """Return what stands in a cell, its last part an item's id."""
    *front, name = key
    return " ".join(picture.dress[(*front, book.cast.wiring.by_id[name])].lines)


def beside(picture: Picture) -> str:
    lines = [(k[1], w.lines[0]) for k, w in picture.dress.items() if k[0] == "side"]
    return " ".join(text for _, text in sorted(lines))


def legend(picture: Picture) -> list[str]:
    return [w.lines[0] for k, w in picture.dress.items() if k[0] == "key-words"]


def test_what_is_off_for_a_while_is_marked_before_and_after() -> None:
    # By hand: seabed-1, 1-10 demates W2-P1 from N-J2; seabed-2, 2-13 seats it there again.
    book = seabed()
    before, after, both = book.before(), book.after(), book.both()
    assert words(book, before, "half", "N-J2") == "N-J2 MATED✕"
    assert words(book, after, "half", "N-J2") == "N-J2 MATED↺"
    assert words(book, both, "before", "half", "N-J2") == "N-J2 MATED✕ W2-P1"
    assert words(book, both, "after", "half", "N-J2") == "N-J2 MATED↺ W2-P1"
    # Its other end, on V-J1, is never touched.
    assert words(book, before, "half", "V-J1") == "V-J1 MATED"
    assert words(book, before, "hub", "W2") == "↺ W2"
    assert "COMES OFF, GOES BACK ↺ W2: N-J2" in beside(before)
    assert "OFF, AND BACK AS BEFORE ↺ W2: N-J2" in beside(after)
    assert "comes off, goes back" in legend(before)
    assert {"off, back as before", "was off, is back"} <= set(legend(after))
    by_id = book.cast.wiring.by_id
    assert before.dress["pair", by_id["W2-P1"], by_id["N-J2"]].looks == ("line", "line-off")


def test_a_pair_apart_within_one_step_is_marked_too() -> None:
    book = Album(small.run("[[demate: P1], [mate: {P1: J1}]]"), PAGES["a4"])
    assert words(book, book.before(), "half", "J1") == "J1 MATED✕"
    (refused,) = [len(book.account.trace.refused)]
    assert refused == 0
    after = words(book, book.after(), "half", "J1")
    assert after in ("J1 MATED↺", "J1 LOCK?")
    quiet = Album(small.run("[[switch_off: SW1]]"), PAGES["a4"])
    assert words(quiet, quiet.before(), "half", "J1") == "J1 MATED"


def test_a_cable_that_waits_on_dummies_is_shown_to_go_on() -> None:
    book = seabed()
    before = book.before()
    for name in ("K-K1", "K-K2", "K-K3", "K-K4"):
        assert words(book, before, "half", name) == f"{name} PARKED✕"
    for name in ("W3", "W4"):
        assert words(book, before, "hub", name) == f"⇢ {name}"
    assert {"off its dummy", "will go on"} <= set(legend(before))
    # Dive 1 alone leaves W4 where it waits.
    first = album("seabed.yaml", "seabed-1.yaml")
    assert words(first, first.before(), "half", "K-K3") == "K-K3 PARKED"
    assert words(first, first.before(), "hub", "W4") == "W4"


def test_a_cable_wired_for_good_tells_what_it_carries() -> None:
    # 'cablewalk trace configs/seabed.yaml --of SEA': node-power (power), node-link (telemetry).
    book = seabed()
    assert words(book, book.before(), "carry", "SEA") == "power, telemetry"
    (dark,) = (n for n, m in enumerate(book.every) if m.step is not None and m.step.id == "2-10")
    assert words(book, book.step(dark), "carry", "SEA") == "not now: power, telemetry"


def test_switches_left_alone_are_counted() -> None:
    book = seabed()
    assert "1 more switch, untouched, not drawn: SH-MAIN ON" in beside(book.before())
    assert "1 more switch, untouched" in beside(book.after())
    assert "1 more switch, untouched" in beside(book.step(1))
    outpost = album("outpost.yaml", "outing-1.yaml")
    assert "8 more switches, untouched" in beside(outpost.step(1))
    assert "RPC-B1 BLOCKED" in beside(outpost.before())
    alone = Album(small.run("[[demate: P1]]"), PAGES["a4"])
    assert "2 switches, untouched, not drawn: SW1 ON; SW2 OFF" in beside(alone.before())


def test_no_service_is_dropped_without_a_word() -> None:
    book = album("outpost.yaml", "outing-1.yaml")
    assert words(book, book.before(), "carry", "L6") == "heater power, power, telemetry, data"
    plate = Plate(PAGES["a4"], 800, 500)
    plate.add(Cell(("carry", 1), "plain", 100, 100, 60, 20, 2))
    names = ("heater power", "power", "telemetry", "data", "video")
    (first, second) = fitted(plate, {("carry", 1): Wear(("soft",), (", ".join(names),))})[
        ("carry", 1)
    ].lines
    assert f"{first} {second}" == "heater power and 4 more"


def test_places_are_called_as_marked() -> None:
    book = seabed()
    assert words(book, book.before(), "place-name", "shore") == "Strandhall, shore station"


def test_machine_sheets_fit_a_page_and_begin_with_their_title() -> None:
    """ISO 216: A4 landscape is 297 x 210 mm."""

    for kind in TABLES:
        svg = draw(machine_dot(kind), "svg").decode("utf-8")
        root = ET.fromstring(svg)
        width, height = (float(root.attrib[side].removesuffix("pt")) for side in SIDES)
        assert width <= 297 / 25.4 * 72 and height <= 210 / 25.4 * 72, kind
        shown = [t for t in root.iter(f"{SVG}text") if (t.text or "").strip()]
        top = min(shown, key=lambda t: float(t.attrib["y"]))
        assert top.text == f"{kind}: states and events"
        # What is shrunk to the page can still be read.
        scale = width / float(root.attrib["viewBox"].split()[2])
        assert min(float(t.attrib["font-size"]) for t in shown) * scale >= 7, kind
