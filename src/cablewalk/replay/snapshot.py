"""The inverse of the start: a configuration written out as a baseline's ``now``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from cablewalk.documents.now import Now
from cablewalk.replay.attempt import CAP, COVER, HALF, LEG, UNIT
from cablewalk.replay.configuration import ALIVE, RETIRED, Configuration
from cablewalk.replay.wiring import NONE, Wiring

_JOINED = {HALF[name]: name for name in ("mated", "unverified", "part_engaged")}
_LEGS = {index: name for name, index in LEG.items()}


def now_of(
    config: Configuration,
    clocks: Mapping[str, Mapping[str, object]] | None = None,
    found_down: Sequence[str] = (),
) -> Now:
    """Return what a baseline's ``now`` says of a configuration in which no action runs.

    Read back with the same hardware it gives an equal configuration. ``clocks`` is how clocks
    stand, for a configuration does not hold it: ``dark_min``, ``used_min``, ``demated_min``,
    ``up_min``, each to service to minutes; what is empty is left out. Nor does it hold which
    services were ``found_down``.

    Raises:
        ValueError: an action is at work on some item.
    """
    if any(claim != NONE for claim in config.claim):
        raise ValueError("a configuration with an action at work cannot be written out")
    table: dict[str, Any] = {}
    _switches(config, table)
    _hardware(config, table)
    _pairs(config, table)
    _caps(config, table)
    _legs(config, table)
    _services(config, table)
    table |= {key: dict(minutes) for key, minutes in (clocks or {}).items() if minutes}
    if found_down:
        table["found_down"] = list(found_down)
    return Now.model_validate(table)


def _put(table: dict[str, Any], key: str, name: str, value: object) -> None:
    table.setdefault(key, {})[name] = value


def _add(table: dict[str, Any], key: str, name: str) -> None:
    table.setdefault(key, []).append(name)


def _id(wiring: Wiring, item: int) -> str | None:
    return wiring.items[item].id if item != NONE else None


def _switches(config: Configuration, table: dict[str, Any]) -> None:
    for item in config.wiring.ids("switch"):
        state = config.state_name(item)
        if state != "unknown":
            _add(table, state, config.wiring.items[item].id)


def _hardware(config: Configuration, table: dict[str, Any]) -> None:
    wiring = config.wiring
    for item in wiring.ids("cover", "unit", "panel"):
        name, state = wiring.items[item].id, config.state_name(item)
        if wiring.items[item].kind == "cover":
            if config.state[item] == COVER["part_fastened"]:
                _put(table, "part_fastened", name, config.count[item])
            elif state in ("released", "open"):
                _add(table, state, name)
        elif config.state[item] == UNIT["absent"]:
            _add(table, "absent", name)
        if state == "removed":
            _put(table, "removed", name, _id(wiring, config.link[item]))
    for kind, key in (("bag", "bags"), ("person", "people")):
        for item in wiring.ids(kind):
            if config.link[item] != NONE:
                _put(table, key, wiring.items[item].id, _id(wiring, config.link[item]))


def _pairs(config: Configuration, table: dict[str, Any]) -> None:
    wiring = config.wiring
    for item in wiring.ids("half"):
        name, mate = wiring.items[item].id, config.link[item]
        if config.count[item]:
            _put(table, "cycles", name, config.count[item])
        if config.state[item] == HALF["bare"] and item in wiring.cap_of:
            _add(table, "bare", name)
        key = _JOINED.get(config.state[item])
        fixed = wiring.items[item].role != "free"
        if key is None or mate == NONE or fixed:
            continue
        if wiring.items[mate].role == "free" and mate < item:
            continue
        _put(table, key, name, wiring.items[mate].id)


def _caps(config: Configuration, table: dict[str, Any]) -> None:
    wiring = config.wiring
    for item in wiring.ids("cap"):
        name, state, link = wiring.items[item].id, config.state[item], config.link[item]
        own = wiring.cap_on.get(item, NONE)
        usual = own != NONE and link == own
        if state == CAP["fitted"] and not usual:
            _put(table, "fitted", name, _id(wiring, link))
        elif state == CAP["tethered"] and not (usual and wiring.cap_tethered[item]):
            _put(table, "tethered", name, _id(wiring, link))
        elif state in (CAP["held"], CAP["packed"]):
            _put(table, config.state_name(item), name, _id(wiring, link))
        elif state == CAP["lost"]:
            _add(table, "lost", name)


def _legs(config: Configuration, table: dict[str, Any]) -> None:
    wiring = config.wiring
    for item in wiring.ids("leg"):
        half = wiring.half_of.get(item, NONE)
        mate = config.link[half] if half != NONE else NONE
        link = config.link[item]
        if (
            config.state[item] == LEG["routed"]
            and mate != NONE
            and wiring.items[mate].owner != NONE
        ) and link == config.place_of(half):
            continue
        if link != NONE:
            _put(table, _LEGS[config.state[item]], wiring.items[item].id, _id(wiring, link))
    for item in wiring.ids("segment"):
        name = wiring.items[item].id
        for key, entries in (("along", config.along[item]), ("ties", config.ties[item])):
            if entries:
                _put(table, key, name, [wiring.items[n].id for n in entries])


def _services(config: Configuration, table: dict[str, Any]) -> None:
    wiring = config.wiring
    for n, service in enumerate(wiring.services):
        if config.life[n] == RETIRED:
            _add(table, "retired", service.id)
        elif config.life[n] == ALIVE and service.begins_established:
            _add(table, "established", service.id)
        disturbed = [wiring.strings[s].id for s in service.strings if config.disturbed[s]]
        if disturbed:
            keys = [
                "only" if s == service.id else s.removeprefix(f"{service.id}.") for s in disturbed
            ]
            _put(table, "unproven", service.id, keys)
