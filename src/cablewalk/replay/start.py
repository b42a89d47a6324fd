"""The starting configuration: what a baseline's ``now`` says, read into states and links."""

from __future__ import annotations

from cablewalk.documents.baseline import Baseline
from cablewalk.findings import Findings, Path, nearest
from cablewalk.replay.configuration import ALIVE, AWAITED, RETIRED, Configuration
from cablewalk.replay.now_reader import Reader
from cablewalk.replay.start_ends import caps, legs, pairs, segments
from cablewalk.replay.start_things import hardware, places, switches
from cablewalk.replay.wiring import NONE, Wiring


def start_configuration(baseline: Baseline, wiring: Wiring, findings: Findings) -> Configuration:
    """Return the configuration a baseline describes; contradictions are added to ``findings``."""
    reader = Reader(baseline, wiring, findings)
    switches(reader)
    hardware(reader)
    places(reader, only=len(baseline.places) == 1)
    pairs(reader)
    caps(reader)
    legs(reader)
    segments(reader)
    services(reader)
    return reader.config


def services(reader: Reader) -> None:
    """Set the life of every service, and which strings are unproven."""
    wiring, now = reader.wiring, reader.now
    for n, service in enumerate(wiring.services):
        reader.config.life[n] = AWAITED if service.begins_established else ALIVE
    for key, life in (("established", ALIVE), ("retired", RETIRED)):
        for n, name in enumerate(getattr(now, key)):
            if _service(reader, name, (key, n)) != NONE:
                reader.config.life[wiring.service_by_id[name]] = life
    for n, name in enumerate(now.found_down):
        _service(reader, name, ("found_down", n))
    for key in ("dark_min", "used_min", "demated_min", "up_min"):
        for name in getattr(now, key):
            if _service(reader, name, (key, name)) != NONE and key == "used_min":
                _one_each(reader, name)
    for name, strings in now.unproven.items():
        number = _service(reader, name, ("unproven", name))
        if number == NONE:
            continue
        own = {wiring.strings[s].id: s for s in wiring.services[number].strings}
        for key in strings or tuple(own):
            string = own.get(key, own.get(f"{name}.{key}", NONE))
            if key == "only" and len(own) == 1:
                string = next(iter(own.values()))
            if string == NONE:
                reader.error(
                    "unknown-id",
                    ("unproven", name),
                    f"{name} has no string {key}",
                    expected="the name of one of its strings, or nothing for all",
                    way_out=nearest(key, [one.removeprefix(f"{name}.") for one in own]),
                )
            else:
                reader.config.disturbed[string] = 1


def _one_each(reader: Reader, name: str) -> None:
    """Add an error where a service has some minutes used, and not one number for each clock."""
    given, clocks = len(reader.now.used_min[name]), len(reader.clocks[name])
    if given > 1 and given != clocks:
        reader.error(
            "bad-value",
            ("used_min", name),
            f"{name} has {given} numbers under used_min, for {clocks} "
            f"clock{'' if clocks == 1 else 's'}",
            expected="one number for all its clocks, or one for each in their order",
            way_out="give one number, or as many as it has clocks",
        )


def _service(reader: Reader, name: str, path: Path) -> int:
    service = reader.wiring.service_by_id.get(name, NONE)
    if service == NONE:
        reader.error(
            "unknown-id",
            path,
            f"there is no service {name}",
            expected="the id of a service",
            way_out=nearest(name, list(reader.wiring.service_by_id)),
        )
    return service
