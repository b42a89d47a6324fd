"""How segments lie after an action the model holds impossible: paths, ties, and their legs."""

from __future__ import annotations

from cablewalk.documents.actions import Action
from cablewalk.replay.attempt import LEG
from cablewalk.replay.change import Change, Field, Value
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE


def segments_of(action: Action) -> list[tuple[str, tuple[str, ...]]]:
    """Return the segments an action lays or ties, with the paths or points it names."""
    if action.verb not in ("tie", "cut_tie", "route"):
        return []
    return [
        (name, (value,) if isinstance(value, str) else tuple(value))
        for name, value in action.argument.items()
    ]


def laid(config: Configuration, action: Action, workers: tuple[int, ...]) -> list[Change]:
    """Return the changes of paths and ties, which nothing can be found in, and of what is laid.

    What the action needs is so: no tie holds a segment elsewhere than where it lies, and what
    is packed is neither laid nor tied.
    """
    wiring = config.wiring
    changes: list[Change] = []

    def put(field: Field, item: int, new: Value) -> None:
        changes.append(Change(field, item, config.value(field, item), new))

    for name, values in segments_of(action):
        segment = wiring.item("segment", name)
        if segment == NONE:
            segment = wiring.segment_of_leg[wiring.item("leg", name)]
        items = tuple(wiring.by_id[value] for value in values)
        ties = config.ties[segment]
        if action.verb == "route":
            put(Field.TIES, segment, tuple(p for p in ties if wiring.point_path[p] in items))
            put(Field.ALONG, segment, items)
            place = _end(config, items, workers)
            for leg in wiring.segment_legs[segment]:
                _lay(config, leg, place, workers, changes)
        elif action.verb == "tie":
            paths = dict.fromkeys(wiring.point_path[point] for point in items)
            along = config.along[segment]
            put(Field.ALONG, segment, (*along, *(p for p in paths if p not in along)))
            put(Field.TIES, segment, tuple(sorted({*ties, *items})))
        else:
            put(Field.TIES, segment, tuple(p for p in ties if p not in items))
    for name in action.pack or ():
        harness = wiring.item("harness", name)
        for leg in wiring.legs_of[harness] if harness != NONE else (wiring.item("leg", name),):
            segment = wiring.segment_of_leg.get(leg, NONE)
            if segment != NONE and (harness == NONE or config.state[leg] == LEG["in_hand"]):
                put(Field.TIES, segment, ())
                put(Field.ALONG, segment, ())
    return [change for change in changes if change.old != change.new]


def _end(config: Configuration, paths: tuple[int, ...], workers: tuple[int, ...]) -> int:
    """Return the end of some paths at which the workers are, or one of those ends."""
    ends = [end for path in paths for end in config.wiring.path_ends[path]]
    here = [config.place_of(worker) for worker in workers]
    return next((place for place in here if place in ends), ends[0] if ends else NONE)


def _lay(
    config: Configuration, leg: int, place: int, workers: tuple[int, ...], changes: list[Change]
) -> None:
    """Add what becomes of a leg whose segment is laid: routed, unless another holds it."""
    kinds, holder, state = config.wiring.items, config.link[leg], config.state[leg]
    if state == LEG["in_hand"] and holder not in workers:
        return
    changes.append(Change(Field.STATE, leg, state, LEG["routed"]))
    if holder == NONE or kinds[holder].kind in ("person", "bag"):
        changes.append(Change(Field.LINK, leg, holder, place))
