"""Caps, bags and covers, from the document to wiring."""

from __future__ import annotations

from cablewalk.files.wording import spoken
from cablewalk.findings import Path
from cablewalk.replay.draft import Draft, set_interface
from cablewalk.replay.wiring import NONE


def add_caps_and_bags(draft: Draft) -> None:
    """Add the bags, and the caps with the halves they belong to and fit."""
    wiring = draft.wiring
    for name, bag in draft.baseline.bags.items():
        draft.add("bag", name, ("bags", name), label=bag.label, where=bag.where)
    for name, cap in draft.baseline.caps.items():
        at: Path = ("caps", name)
        index = draft.add("cap", name, at, label=cap.label, where=cap.where)
        if index == NONE:
            continue
        wiring.cap_tethered[index] = cap.tethered and cap.on is not None
        if cap.on is not None:
            half = draft.need(cap.on, ("half",), (*at, "on"))
            if half != NONE:
                wiring.cap_on[index] = half
                if half in wiring.cap_of:
                    draft.error(
                        "two-caps",
                        (*at, "on"),
                        f"{name} is a second cap on {cap.on}",
                        expected="one cap of its own for each half",
                        difference=f"{cap.on} already has the cap "
                        f"{wiring.items[wiring.cap_of[half]].id}, at "
                        f"{spoken(wiring.items[wiring.cap_of[half]].path)}",
                        way_out="give the second cap 'fits' instead of 'on'",
                    )
                else:
                    wiring.cap_of[half] = index
                wiring.cap_fits[index] = (wiring.interface_key[half], wiring.gender[half])
                wiring.contact_names[index] = wiring.contact_names[half]
        elif cap.fits is not None:
            interface, gender = cap.fits
            set_interface(draft, index, interface, gender, (*at, "fits"))
            wiring.cap_fits[index] = (wiring.interface_key[index], gender)


def add_covers(draft: Draft) -> None:
    """Add the covers, with the halves and segments beneath them."""
    wiring = draft.wiring
    over: dict[int, list[int]] = {}
    for place_name, place in draft.baseline.places.items():
        for name, cover in place.covers.items():
            at: Path = ("places", place_name, "covers", name)
            index = draft.add(
                "cover",
                name,
                at,
                label=cover.label,
                where=cover.where,
                owner=wiring.by_id.get(place_name, NONE),
            )
            if index == NONE:
                continue
            wiring.fasteners[index] = cover.fasteners
            for n, half_name in enumerate(cover.over):
                half = draft.need(half_name, ("half",), (*at, "over", n))
                if half != NONE:
                    over.setdefault(half, []).append(index)
            beneath = [
                draft.need(segment, ("segment",), (*at, "over_segments", n))
                for n, segment in enumerate(cover.over_segments)
            ]
            wiring.cover_segments[index] = tuple(s for s in beneath if s != NONE)
    wiring.covers_over.update({half: tuple(covers) for half, covers in over.items()})
