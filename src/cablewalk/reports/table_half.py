"""How every half stands at one moment."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.replay.configuration import AWAITED, RETIRED
from cablewalk.replay.wiring import NONE
from cablewalk.reports.base import Part
from cablewalk.reports.table_moment import Moment


class CapRow(Part):
    """A cap that is on a half or belongs to it."""

    cap: str = Field(description="Id of the cap.")
    label: str = Field(description="Its label as marked; may be empty.")
    own: bool = Field(description="Whether it is the half's own cap.")
    electrical: bool = Field(description="Whether it joins contacts while fitted.")
    state: str = Field(description="fitted, tethered, held, packed or lost.")
    where: str = Field(
        description="Id of the half, place, person or bag it is on, at or in; empty: not known."
    )


class LegRow(Part):
    """The leg a free half ends."""

    state: str = Field(
        description="packed, in_hand, loose, restrained, routed, stowed or pulled_aside."
    )
    where: str = Field(description="Id of the place, person or bag; empty: not known.")
    where_kind: Literal["place", "person", "bag", ""] = Field(description="What that is.")
    segment: str = Field(description="Id of the leg's own segment.")
    along: tuple[str, ...] = Field(description="Paths that segment is laid along.")
    ties: tuple[str, ...] = Field(description="Points where it is tied.")


class RideRow(Part):
    """A string of a service with conductors over this half."""

    service: str = Field(description="Id of the service.")
    string: str = Field(description="Id of the string; the service's id where it has but one.")
    standing: str = Field(
        description="up, available (a switch would bring it up), down, or retired with its service."
    )
    unproven: bool = Field(description="Up, but disturbed and not verified since.")
    contacts: tuple[str, ...] = Field(description="The contacts of this half it runs over.")


class HalfRow(Part):
    """One half."""

    place: str = Field(description="Id of the place where it is; empty: not known.")
    on: str = Field(description="Id of the panel or unit it is on, or of its harness.")
    on_kind: str = Field(description="panel, unit or harness.")
    on_label: str = Field(description="The label of that, as marked; may be empty.")
    there: str = Field(description="Whether that panel or unit is absent, installed or removed.")
    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label as marked; may be empty.")
    role: str = Field(description="fixed, free or parking.")
    state: str = Field(description="capped, bare, part_engaged, unverified (its lock) or mated.")
    parked: bool = Field(description="Mated with a parking half, or being one with a half on it.")
    under_way: bool = Field(description="An action that may alter it is at work at this moment.")
    mated_to: str = Field(description="Id of the half it is mated with; empty: none.")
    caps: tuple[CapRow, ...] = Field(description="The cap on it, and its own wherever that is.")
    leg: LegRow | None = Field(description="Its leg; null for a half that is fixed.")
    rides: tuple[RideRow, ...] = Field(
        description="What runs over it now. Services still awaited are left out."
    )


def half_rows(moment: Moment) -> tuple[HalfRow, ...]:
    """Return every half, by place, then by panel, unit or harness, as the baseline has them.

    Those at no known place come last; at one place fixed halves come before cable ends.
    """
    wiring = moment.scene.wiring
    carried = _carried(moment)
    order = []
    for half in wiring.ids("half"):
        place = moment.place(half)
        owner = owner_of(moment, half)
        free = wiring.items[half].role == "free"
        order.append((place == NONE, place, free, owner, half))
    return tuple(_row(moment, key[4], carried.get(key[4], {})) for key in sorted(order))


def owner_of(moment: Moment, half: int) -> int:
    """Return the panel or unit a half is on, or the harness it belongs to."""
    wiring = moment.scene.wiring
    leg = wiring.leg_of.get(half, NONE)
    return wiring.items[half if leg == NONE else leg].owner


def _carried(moment: Moment) -> dict[int, dict[int, set[int]]]:
    """Return half or cap to the strings that run over it, each with the contact positions."""
    found: dict[int, dict[int, set[int]]] = {}
    for course in moment.courses:
        for item, position in course.contacts:
            found.setdefault(item, {}).setdefault(course.string, set()).add(position)
    return found


def _id(moment: Moment, item: int) -> str:
    return "" if item == NONE else moment.scene.wiring.items[item].id


def _row(moment: Moment, half: int, strings: dict[int, set[int]]) -> HalfRow:
    config, wiring = moment.scene.config, moment.scene.wiring
    item = wiring.items[half]
    owner = owner_of(moment, half)
    mate = config.link[half]
    mated = mate != NONE and wiring.items[mate].kind == "half"
    return HalfRow(
        place=_id(moment, moment.place(half)),
        on=_id(moment, owner),
        on_kind=wiring.items[owner].kind,
        on_label=wiring.items[owner].label,
        there="installed" if item.role == "free" else config.state_name(owner),
        half=item.id,
        label=item.label,
        role=item.role,
        state=config.state_name(half),
        parked=mated and "parking" in (item.role, wiring.items[mate].role),
        under_way=config.moving(half) or (mated and config.moving(mate)),
        mated_to=wiring.items[mate].id if mated else "",
        caps=_caps(moment, half),
        leg=_leg(moment, half),
        rides=_rides(moment, half, strings),
    )


def _caps(moment: Moment, half: int) -> tuple[CapRow, ...]:
    config, wiring = moment.scene.config, moment.scene.wiring
    on, own = config.link[half], wiring.cap_of.get(half, NONE)
    caps = [on] if on != NONE and wiring.items[on].kind == "cap" else []
    if own != NONE and own not in caps:
        caps.append(own)
    return tuple(
        CapRow(
            cap=wiring.items[cap].id,
            label=wiring.items[cap].label,
            own=cap == own,
            electrical=bool(wiring.joints[cap]),
            state=config.state_name(cap),
            where=_id(moment, config.link[cap]),
        )
        for cap in caps
    )


def _leg(moment: Moment, half: int) -> LegRow | None:
    config, wiring = moment.scene.config, moment.scene.wiring
    leg = wiring.leg_of.get(half, NONE)
    if leg == NONE:
        return None
    where = config.link[leg]
    segment = wiring.segment_of_leg[leg]
    return LegRow.model_validate(
        {
            "state": config.state_name(leg),
            "where": _id(moment, where),
            "where_kind": "" if where == NONE else wiring.items[where].kind,
            "segment": wiring.items[segment].id,
            "along": tuple(_id(moment, path) for path in config.along[segment]),
            "ties": tuple(_id(moment, point) for point in config.ties[segment]),
        }
    )


def _rides(moment: Moment, half: int, strings: dict[int, set[int]]) -> tuple[RideRow, ...]:
    wiring = moment.scene.wiring
    names = (*wiring.contact_names.get(half, ()), "shell")
    rows = []
    for string in sorted(strings):
        service = wiring.strings[string].service
        view = moment.scene.views[service]
        if view.life == AWAITED:
            continue
        standing = view.strings[wiring.services[service].strings.index(string)]
        rows.append(
            RideRow(
                service=wiring.services[service].id,
                string=wiring.strings[string].id,
                standing="retired" if view.life == RETIRED else str(standing),
                unproven=string in view.unproven,
                contacts=tuple(names[n] for n in sorted(strings[string])),
            )
        )
    return tuple(rows)
