"""Found: what was really there, whatever the model thought possible."""

from __future__ import annotations

from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.attempt import CAP, COVER, HALF, LEG, Attempt
from cablewalk.replay.change import Field
from cablewalk.replay.standing import states_of, subject
from cablewalk.replay.wiring import NONE, STATEFUL

_PLACE, _BAG, _PERSON = frozenset({"place"}), frozenset({"bag"}), frozenset({"person"})
_WHERE: dict[str, dict[str, frozenset[str]]] = {
    "cap": {"held": _PERSON, "packed": _BAG, "tethered": frozenset({"half", "place"})},
    "leg": {
        "packed": _BAG,
        "in_hand": _PERSON,
        "stowed": _PLACE | _BAG,
        **dict.fromkeys(("loose", "restrained", "routed", "pulled_aside"), _PLACE),
    },
    **{kind: {"removed": _PLACE | _BAG | _PERSON} for kind in ("cover", "unit", "panel")},
    "bag": {"at_place": _PLACE, "carried": _PERSON, "at": _PLACE},
    "person": {"at": _PLACE | _PERSON},
}
"""Item kind and state to the kinds of thing it is then with; other states are with nothing."""


def _check_partner(attempt: Attempt, item: int, state: str, partner: int, words: str) -> None:
    """Refuse a place, bag or person that the state cannot have, or the lack of one."""
    kind = attempt.wiring.items[item].kind
    if kind == "half":
        return
    kinds = _WHERE.get(kind, {}).get(state, frozenset())
    link = attempt.config.link[item]
    if kind == "cap" and state == "fitted":
        kinds = frozenset({"half"})
    elif partner == NONE:
        stays = link != NONE and attempt.wiring.items[link].kind in kinds
        own = kind == "cap" and state == "tethered"
        free = kind in ("cover", "unit", "panel") or not kinds
        stays = stays and state != "at"
        if stays or own or free:
            return
    if partner == NONE and state == "fitted":
        return
    entry = attempt.wiring.items[partner] if partner != NONE else None
    rides = entry is not None and kind == "person" and entry.kind == "person"
    if (
        entry is None
        or entry.kind not in kinds
        or (rides and entry.role != "vehicle")
        or (partner == item)
    ):
        raise attempt.refuse(
            item,
            f"{attempt.named(item)} cannot be found {words!r}",
            f"'{state} ID' with the id of a {' or '.join(sorted(kinds))}" if kinds else state,
        )


def found(attempt: Attempt, name: str, words: str) -> None:
    """Set an item to what was found, and what it was joined to accordingly.

    Refuses only words that name no state of the item or no partner.
    """
    wiring = attempt.wiring
    item = subject(wiring, name, words)
    state, *rest = words.split() or [""]
    if item == NONE or state not in states_of(wiring, item):
        legal = states_of(wiring, item) if item != NONE else ()
        raise attempt.refuse(item, f"{name} cannot be found {words!r}", " or ".join(legal))
    partner = wiring.by_id.get(rest[0], NONE) if rest else NONE
    if rest and partner == NONE and not rest[0].isdigit():
        raise attempt.refuse(
            item, f"there is no {rest[0]} to find {name} with", "an id of the baseline"
        )
    attempt.claim(item, moves=False)
    kind = wiring.items[item].kind
    _check_partner(attempt, item, state, partner, words)
    if kind == "half":
        _half(attempt, item, state, partner)
    elif kind == "cap":
        _cap(attempt, item, state, partner)
    elif kind == "cover":
        _cover(attempt, item, state, rest, partner)
    else:
        _other(attempt, item, state, partner)


def _part(attempt: Attempt, item: int) -> None:
    """Undo whatever an item is joined to."""
    mate = attempt.config.link[item]
    if mate == NONE or attempt.config.link[mate] != item:
        return
    attempt.claim(mate, moves=False)
    if attempt.wiring.items[mate].kind == "half":
        attempt.set(Field.STATE, mate, HALF["bare"])
        attempt.link(mate, NONE)
    elif attempt.wiring.items[mate].kind == "cap":
        attempt.set(Field.STATE, mate, CAP["lost"])
        attempt.link(mate, NONE)


def _unpack(attempt: Attempt, half: int) -> None:
    """A leg found mated is in no bag: it lies loose where the bag is."""
    leg = attempt.wiring.leg_of.get(half, NONE)
    if leg != NONE and attempt.state(leg) == "packed":
        attempt.claim(leg, moves=False)
        attempt.set(Field.STATE, leg, LEG["loose"])
        attempt.link(leg, attempt.config.place_of(leg))


def _half(attempt: Attempt, item: int, state: str, partner: int) -> None:
    mate = attempt.config.link[item]
    if state == "bare":
        _part(attempt, item)
        attempt.set(Field.STATE, item, HALF["bare"])
        attempt.link(item, NONE)
        return
    wanted = partner if partner != NONE else mate
    kinds = ("cap",) if state == "capped" else ("half",)
    known = wanted != NONE and attempt.wiring.items[wanted].kind in kinds
    if state == "parked" and partner == NONE and known:
        known = attempt.wiring.items[wanted].role == "parking"  # else it is where it was: mated
    if not known:
        raise attempt.refuse(
            item,
            f"{attempt.named(item)} is found {state}, but with what is not said",
            f"'{state} ID'" + (" with the id of a parking half" if state == "parked" else ""),
        )
    if wanted != mate:
        _part(attempt, item)
        _part(attempt, wanted)
    attempt.claim(wanted, moves=False)
    if state != "capped":
        for each in (item, wanted):
            _unpack(attempt, each)
    new = HALF["mated" if state == "parked" else state]
    attempt.set(Field.STATE, item, new)
    attempt.link(item, wanted)
    attempt.set(Field.STATE, wanted, CAP["fitted"] if state == "capped" else new)
    attempt.link(wanted, item)


def _cap(attempt: Attempt, item: int, state: str, partner: int) -> None:
    if state == "fitted":
        target = partner if partner != NONE else attempt.wiring.cap_on.get(item, NONE)
        if target == NONE or attempt.wiring.items[target].kind != "half":
            raise attempt.refuse(
                item, "the cap is fitted, but on what is not said", "'fitted HALF'"
            )
        if attempt.config.link[target] != item:
            _part(attempt, target)
        before = attempt.config.link[item]
        if before not in (NONE, target) and attempt.config.link[before] == item:
            attempt.claim(before, moves=False)
            attempt.set(Field.STATE, before, HALF["bare"])
            attempt.link(before, NONE)
        attempt.claim(target, moves=False)
        attempt.set(Field.STATE, target, HALF["capped"])
        attempt.link(target, item)
        partner = target
    else:
        mate = attempt.config.link[item]
        if mate != NONE and attempt.config.link[mate] == item:
            attempt.claim(mate, moves=False)
            attempt.set(Field.STATE, mate, HALF["bare"])
            attempt.link(mate, NONE)
        if state == "tethered" and partner == NONE:
            partner = attempt.wiring.cap_on.get(item, NONE)
    attempt.set(Field.STATE, item, CAP[state])
    attempt.link(item, partner)


def _cover(attempt: Attempt, item: int, state: str, rest: list[str], partner: int) -> None:
    total = attempt.wiring.fasteners[item]
    count = total if state == "fastened" else 0
    if state == "part_fastened":
        if not rest or not rest[0].isdigit() or not 0 < int(rest[0][:4]) < total:
            raise attempt.refuse(
                item,
                "how many fasteners are fastened is not said",
                f"'part_fastened 1' to {total - 1}",
            )
        count = int(rest[0])
    attempt.set(Field.STATE, item, COVER[state])
    attempt.set(Field.COUNT, item, count)
    attempt.link(item, partner if state == "removed" else NONE)


def _other(attempt: Attempt, item: int, state: str, partner: int) -> None:
    """Legs, switches, units, panels, bags and people: a state, and where."""
    kind = attempt.wiring.items[item].kind
    half = attempt.wiring.half_of.get(item, NONE)
    mate = attempt.config.link[half] if half != NONE else NONE
    if state == "packed" and mate != NONE and attempt.wiring.items[mate].kind == "half":
        attempt.claim(half, moves=False)
        _half(attempt, half, "bare", NONE)  # a packed leg is mated with nothing
    if state != "at":
        attempt.set(Field.STATE, item, COMPILED[STATEFUL[kind]].state_index[state])
    if partner != NONE:
        attempt.link(item, partner)
    elif kind in ("unit", "panel"):
        attempt.link(item, NONE)
