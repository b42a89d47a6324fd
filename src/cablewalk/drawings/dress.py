"""What each thing of the cast shows at a moment: its looks and its words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from cablewalk.drawings.cast import Cast, stray
from cablewalk.drawings.fate import is_back
from cablewalk.drawings.label import plain
from cablewalk.drawings.load import NAME_LIMIT, load_words
from cablewalk.drawings.look import LOOKS
from cablewalk.drawings.moments import Moment
from cablewalk.drawings.pairs import pair_key
from cablewalk.drawings.plate import Dress, Key, Wear
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring

Kind = Literal["before", "after", "step"]

_PAIR_LOOK: Final = {"mated": "mated", "unverified": "unverified", "part_engaged": "part-engaged"}
_RING: Final = Wear(("halo",))
_MATED_LOOKS: Final = ("mated", "comes-off", "goes-on", "back")
_PARKED_LOOKS: Final = ("parked", "park-comes-off", "parked", "park-back")
_CAP_LOOKS: Final = ("capped", "cap-comes-off", "cap-goes-on", "cap-back")
"""Looks of a half whose mate or cap stays, comes off, was put on, or is back."""
_COMES_OFF: Final = ("comes-off", "park-comes-off")
_CAPPED: Final = {"capped": "", "cap-comes-off": "✕", "cap-goes-on": "✚", "cap-back": "↺"}
"""Looks of a half with a cap on it to the sign behind the cap's name."""


@dataclass(slots=True)
class Wardrobe:
    """Dresses a cast.

    ``terse``: the legs have no cells of their own; what is mated stands in the fixed half, what
    is not beneath the cable's tag.
    """

    cast: Cast
    first: Moment
    last: Moment
    terse: bool = False
    wiring: Wiring = field(init=False)
    _names: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.wiring = self.cast.wiring

    def dress(self, moment: Moment, kind: Kind) -> Dress:
        """Return what is shown at a moment.

        ``before`` marks what will be demated, ``after`` what was mated in the work, ``step`` what
        the step changed.
        """
        found: Dress = {}
        for place in self.cast.places:
            self.put_place(found, place, moment)
        for half in self.cast.halves:
            found["half", half] = self.half(moment.config, half, kind)
            self.put_panel(found, moment.config, self.wiring.items[half].owner)
        for harness in self.cast.harnesses:
            self.put_harness(found, moment, harness, kind)
        if kind == "step":
            found |= self.halos(found.__contains__, moment)
        return found

    def halos(self, is_shown: Callable[[Key], bool], moment: Moment) -> Dress:
        """Return a halo for each cell that tells of what a step changed: of a leg, its end's."""
        rings: Dress = {}
        half_of = self.wiring.half_of
        for item in {half_of.get(item, item) for item in moment.changed} | moment.changed:
            chips: list[Key] = [("chip", place, item) for place in self.cast.places]
            for key in (("half", item), ("hub", item), *chips):
                if is_shown(key):
                    rings["halo", *key] = _RING
        return rings

    def name(self, item: int) -> str:
        """Return an item's id, fit to stand in a cell."""
        if item not in self._names:
            self._names[item] = plain(self.wiring.items[item].id, NAME_LIMIT)
        return self._names[item]

    def called(self, item: int) -> str:
        """Return id and label, where the label says more."""
        entry = self.wiring.items[item]
        shown = plain(entry.label, NAME_LIMIT)
        own = self.name(item)
        return shown if own in shown else f"{own} {shown}".strip()

    # -- places and what is there -------------------------------------------------------

    def put_place(self, found: Dress, place: int, moment: Moment) -> None:
        """Dress a place and the tags of what is there."""
        found["place", place] = Wear(("place",))
        entry = self.wiring.items[place]
        name = plain(entry.label or entry.id, 40)
        found["place-name", place] = Wear(("words",), (name,))
        if place in self.cast.folded and not self.terse:
            count = self.cast.folded[place]
            found["fold", place] = Wear(("rest",), (f"+ {count} halves folded",))
        for item in self.cast.chips.get(place, ()):
            if self.is_tagged(moment, place, item):
                found["chip", place, item] = self.chip(moment.config, item)

    def is_tagged(self, moment: Moment, place: int, item: int) -> bool:
        """Return whether a thing has a tag at a place: it is there, and a cap is off its half."""
        fixed = self.wiring.items[item].kind in ("switch", "cover")
        return fixed or (moment.config.place_of(item) == place and self.is_loose(moment, item))

    def is_loose(self, moment: Moment, item: int) -> bool:
        """Return whether a thing is no cap, or a cap that is off its half and its tether."""
        return self.wiring.items[item].kind != "cap" or stray(moment, item)

    def chip(self, config: Configuration, item: int) -> Wear:
        """Return what the tag of a switch, cover, bag, person or cap wears."""
        kind, name = self.wiring.items[item].kind, self.name(item)
        tells = self.wiring.items[item].named
        if kind in ("bag", "person"):
            look = "vehicle" if self.wiring.items[item].role == "vehicle" else kind
            if not name.upper().startswith(LOOKS[look].mark):
                name = f"{LOOKS[look].mark} {name}"
            carried = kind == "bag" and config.state_name(item) == "carried"
            inside = self._cables_in(config, item) if kind == "bag" else []
            if inside:
                tells = f"{tells} holds {', '.join(inside)}"
            count = f" x{len(inside)}" if inside else ""
            tail = " CARRIED" if carried else ""
            return Wear((look,), (f"{name}{count}{tail}",), tells)
        if kind == "cap":
            return Wear(("loose-cap",), (f"CAP {name} {config.state_name(item).upper()}",), tells)
        look = config.state_name(item).replace("_", "-")
        mark = LOOKS[look].mark
        if look == "part-fastened":
            mark = f"{config.count[item]}/{self.wiring.fasteners[item]}"
        return Wear((look,), (f"{name} {mark}",), f"{tells}: {LOOKS[look].meaning}")

    def _cables_in(self, config: Configuration, bag: int) -> list[str]:
        """Return the ids of the harnesses all of whose legs are packed in a bag."""
        return [self.name(h) for h in self.wiring.legs_of if self.is_packed(config, h, bag)]

    def is_packed(self, config: Configuration, harness: int, bag: int) -> bool:
        """Return whether all legs of a harness are packed in a bag."""
        legs = self.wiring.legs_of[harness]
        return all(config.link[g] == bag and config.state_name(g) == "packed" for g in legs)

    def put_panel(self, found: Dress, config: Configuration, panel: int) -> None:
        """Dress a panel's frame and name, once."""
        if ("panel", panel) in found:
            return
        state = config.state_name(panel)
        look = "panel" if state == "installed" else f"panel-{state}"
        found["panel", panel] = Wear((look,))
        words = (LOOKS[look].mark, self.name(panel) if self.terse else self.called(panel))
        found["panel-name", panel] = Wear(("soft",), (" ".join(w for w in words if w),))

    # -- halves -------------------------------------------------------------------------

    def _look(self, config: Configuration, half: int, kind: Kind) -> str:
        state, mate = config.state_name(half), config.link[half]
        if state == "capped" and mate != NONE and self.cast.wired(mate):
            return self._turned(half, kind, _CAP_LOOKS)
        if state not in _PAIR_LOOK:
            return state
        if state != "mated":
            return _PAIR_LOOK[state]
        if "parking" in (self.wiring.items[half].role, self.wiring.items[mate].role):
            return self._turned(half, kind, _PARKED_LOOKS)
        return self._turned(half, kind, _MATED_LOOKS)

    def _turned(self, half: int, kind: Kind, looks: tuple[str, str, str, str]) -> str:
        """Return the look of a half that stays as it is, comes off, was put on, or is back."""
        stays, off, on, back = looks
        first, last = self.first.config, self.last.config
        if kind == "before":
            return off if half in self.cast.demated else stays
        if kind == "after" and is_back(first, last, half, self.cast.demated):
            return back
        return on if kind == "after" and first.link[half] != last.link[half] else stays

    def _tag(self, config: Configuration, half: int, look: str) -> str:
        cap = config.link[half]
        if look in _CAPPED and cap != NONE and (look != "capped" or self._stranger(half, cap)):
            return f"CAP {self.name(cap)}{_CAPPED[look]}"
        return LOOKS[look].mark

    def _stranger(self, half: int, cap: int) -> bool:
        return self.wiring.cap_of.get(half) != cap

    def half(self, config: Configuration, half: int, kind: Kind) -> Wear:
        """Return what a half wears."""
        look = self._look(config, half, kind)
        mate = config.link[half]
        tag = self._tag(config, half, look)
        partner = self.name(mate) if mate != NONE else ""
        tells = f"{self.called(half)}: {tag.lower()} {partner} - {self.cast.kinds(half)}"
        if self.terse:
            other = partner if mate != NONE and self.wiring.items[mate].kind == "half" else " "
            if tag.startswith("CAP "):
                tag, other = LOOKS["capped"].mark, tag.removeprefix("CAP ")
            return Wear((look,), (self.name(half), tag, other), tells)
        return Wear((look,), (f"{self.name(half)} {tag}",), tells)

    def _leg_words(self, config: Configuration, leg: int) -> str:
        state, link = config.state_name(leg), config.link[leg]
        mark = LOOKS[state.replace("_", "-")].mark
        # On the map a laid leg ends where it lies; in a list the place must be said.
        if link == NONE or (state == "routed" and not self.terse):
            return mark
        return f"{mark} {self.name(link)}"

    # -- cables -------------------------------------------------------------------------

    def _role(self, config: Configuration, harness: int, kind: Kind) -> str:
        """Return whether a cable is shown as old, new, next (to go on), moved or back.

        Before the work none is new, and what is packed is shown as packed; a step's picture shows
        only what has been done by then.
        """
        role = self.cast.role[harness]
        if kind == "before":
            packed = all(config.state_name(g) == "packed" for g in self.cast.legs[harness])
            return {"new": "" if packed else "next"}.get(role, role)
        if kind == "step" and role and not any(self._differs(config, harness)):
            return ""
        return role

    def _differs(self, config: Configuration, harness: int) -> Iterator[bool]:
        """Yield for each end of a cable whether it is mated otherwise than at the start."""
        for leg in self.cast.legs[harness]:
            half = self.wiring.half_of.get(leg, NONE)
            if half != NONE:
                yield self._mate(config, half) != self._mate(self.first.config, half)

    def _mate(self, config: Configuration, half: int) -> int:
        mate = config.link[half]
        return mate if mate != NONE and self.wiring.items[mate].kind == "half" else NONE

    def put_harness(self, found: Dress, moment: Moment, harness: int, kind: Kind) -> None:
        """Dress a cable: its tag, what it carries, its legs and what they are mated with."""
        config = moment.config
        role, legs = self._role(config, harness, kind), self.cast.legs[harness]
        look = f"cable-{role}" if role else "cable"
        entry = self.wiring.items[harness]
        mark = LOOKS[look].mark
        name = plain(entry.label or entry.id, NAME_LIMIT)
        first = f"{self.name(harness)} {name}" if name != entry.id else name
        packed = all(config.state_name(leg) == "packed" for leg in legs)
        looks = (look, "ghost") if packed else (look,)
        found["hub", harness] = Wear(
            looks, (f"{mark} {first}".strip(),), f"{entry.named} carries {self.cast.kinds(harness)}"
        )
        found["carry", harness] = Wear(
            ("soft",), (load_words(self.cast, moment, harness, self.terse),)
        )
        for leg in legs:
            self._leg(found, config, harness, leg, kind, packed)

    def _leg(
        self, found: Dress, config: Configuration, harness: int, leg: int, kind: Kind, packed: bool
    ) -> None:
        role = self._role(config, harness, kind)
        overlay = (f"line-{role}",) if role in ("old", "new") else ()
        half = self.wiring.half_of.get(leg, NONE)
        if half == NONE:
            found["half", leg] = Wear(("mated",), (f"{self.name(leg)} {LOOKS['hard-wired'].mark}",))
            found["leg", leg] = Wear(("hard-wired",))
            return
        wear = self.half(config, half, kind)
        mate = config.link[half]
        if kind == "step" and mate == self.first.config.link[half]:
            overlay = ()  # this end has not been touched yet
        joined = mate != NONE and self.wiring.items[mate].kind == "half"
        fixed = joined and self.wiring.items[mate].role != "free"
        state = config.state_name(leg).replace("_", "-")
        line = overlay if joined and state == "routed" else ()
        if self.terse:
            words = f"{self.name(half)} {self._tag(config, half, wear.looks[0])}"
            rest = f"TO {self.name(mate)}" if joined else self._leg_words(config, leg)
            if not (fixed or packed):
                found["half", half] = Wear(wear.looks, (words, rest), wear.tells)
        else:
            looks, words = wear.looks, wear.lines[0]
            if fixed and looks[0] in _MATED_LOOKS:
                # The fixed half says the rest.
                looks, words = ("mated", "quiet"), f"{self.name(half)} {LOOKS['mated'].mark}"
            elif state == "packed":
                looks = (*looks, "ghost")
            found["half", half] = Wear(looks, (words, self._leg_words(config, leg)), wear.tells)
            found["leg", leg] = Wear((state, *line))
        if joined:
            sure = config.state_name(half) == "mated"
            looks = ("line", *overlay) if sure else ("line-weak",)
            if kind == "before" and wear.looks[0] in _COMES_OFF:
                looks = ("line", "line-off")
            found[pair_key(self.wiring, half, mate)] = Wear(looks)
