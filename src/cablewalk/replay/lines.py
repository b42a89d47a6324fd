"""Feeds, services, strings and lines, compiled to integers."""

from __future__ import annotations

from cablewalk.documents.hardware import Feed, Unit
from cablewalk.documents.service import Service, Strand
from cablewalk.findings import Path, nearest
from cablewalk.replay.draft import Draft
from cablewalk.replay.families import set_families
from cablewalk.replay.line_reader import LineReader
from cablewalk.replay.wiring import (
    NONE,
    STRUCTURE,
    Conductor,
    FeedLine,
    ServiceLine,
    StringLine,
)
from cablewalk.units import seconds


def compile_services(draft: Draft) -> None:
    """Fill the wiring's feeds, strings and services."""
    _feeds(draft)
    for name in draft.baseline.services:
        path: Path = ("services", name)
        if draft.names.add("service", name, path):
            draft.wiring.service_by_id[name] = len(draft.wiring.service_by_id)
    for name, service in draft.baseline.services.items():
        if name in draft.wiring.service_by_id and draft.names.kinds[name] == "service":
            _service(draft, name, service)
    _order(draft)
    set_families(draft.wiring)


def _feeds(draft: Draft) -> None:
    wiring = draft.wiring
    todo: list[tuple[int, Unit, Feed, str, Path]] = []
    for place_name, place in draft.baseline.places.items():
        for name, unit in place.units.items():
            owner = wiring.item("unit", name)
            for key, feed in unit.feeds.items():
                at: Path = ("places", place_name, "units", name, "feeds", key)
                feed_id = name if key == "self" else key
                if owner == NONE or (key != "self" and not draft.names.add("feed", key, at)):
                    continue
                wiring.feed_by_id[feed_id] = len(todo)
                todo.append((owner, unit, feed, feed_id, at))
    for owner, _unit, feed, feed_id, at in todo:
        name = wiring.items[owner].id
        switches = [
            draft.need(s, ("switch",), (*at, "switches", n)) for n, s in enumerate(feed.switches)
        ]
        terminal = wiring.terminal_by_name
        wiring.feeds.append(
            FeedLine(
                id=feed_id,
                unit=owner,
                hi=terminal[f"{name}.{feed.hi}"],
                ret=terminal[f"{name}.{feed.ret}"],
                volts=feed.volts,
                limit_a=feed.limit_a,
                switches=tuple(s for s in switches if s != NONE),
                input=(terminal[f"{name}.{feed.input[0]}"], terminal[f"{name}.{feed.input[1]}"])
                if feed.input
                else None,
                accepts=_feed_ids(draft, feed.accepts, (*at, "accepts")),
                parallel_with=_feed_ids(draft, feed.parallel_with, (*at, "parallel_with")),
                grounded=feed.grounded,
                path=at,
                limit_source=feed.limit_source,
            )
        )
    for number, feed_line in enumerate(wiring.feeds):
        for other in feed_line.parallel_with:
            twin = wiring.feeds[other]
            if number not in twin.parallel_with:
                twin.parallel_with = (*twin.parallel_with, number)


def _feed_ids(draft: Draft, names: tuple[str, ...], path: Path) -> tuple[int, ...]:
    known = draft.wiring.feed_by_id
    found = []
    for n, name in enumerate(names):
        if name in known:
            found.append(known[name])
        else:
            draft.error(
                "unknown-id",
                (*path, n),
                f"there is no feed {name}",
                expected="the id of a feed",
                way_out=nearest(name, list(known)),
            )
    return tuple(found)


def _service(draft: Draft, name: str, service: Service) -> None:
    wiring = draft.wiring
    number = wiring.service_by_id[name]
    path: Path = ("services", name)
    strings = []
    for key, strand in service.strings.items():
        at = (*path, "strings", key) if key != "only" else path
        string = _string(draft, number, name, key, strand, at)
        if string is not None:
            strings.append(len(wiring.strings))
            wiring.strings.append(string)
    needs = []
    for n, other in enumerate(service.needs):
        if draft.names.check(other, ("service",), (*path, "needs", n)):
            needs.append(wiring.service_by_id[other])
    arrives = NONE
    if service.arrives_with is not None:
        arrives = draft.need(service.arrives_with, ("unit", "panel"), (*path, "arrives_with"))
    wiring.services.append(
        ServiceLine(
            id=name,
            kind=service.kind,
            label=service.label,
            strings=tuple(strings),
            need=service.need if service.need is not None else len(service.strings),
            needs=tuple(needs),
            recovery_s=seconds(service.recovery_min),
            begins_established=service.begins == "established" or arrives != NONE,
            arrives_with=arrives,
            path=path,
        )
    )
    _tell_apart(draft, tuple(strings), path)


def _string(
    draft: Draft, service: int, name: str, key: str, strand: Strand, path: Path
) -> StringLine | None:
    reader = LineReader(draft, path)
    load = None
    if strand.load:
        load = _load(draft, reader, strand, path)
        if load is None:
            return None
    lines = tuple(reader.line(line, strand) for line in strand.lines)
    terminated = tuple(reader.end(text)[1] for text in strand.terminated_by)
    selected = NONE
    if strand.selected_by is not None:
        selected = draft.need(strand.selected_by, ("switch",), (*path, "selected_by"))
    feeds = _feed_ids(draft, strand.feeds, (*path, "feeds"))
    if reader.failed:
        return None
    return StringLine(
        id=f"{name}.{key}" if key != "only" else name,
        service=service,
        lines=lines,
        load=load,
        feeds=feeds,
        terminated=terminated,
        cold=strand.cold,
        selected_by=selected,
        path=path,
    )


def _load(
    draft: Draft, reader: LineReader, strand: Strand, path: Path
) -> tuple[Conductor, Conductor] | None:
    ends = strand.load_terminals
    if ends is None or not ends[1]:
        unit = strand.load[0].partition(".")[0]
        draft.error(
            "bad-value",
            (*path, "load"),
            f"load {strand.load[0]!r} is neither a unit nor two terminals",
            expected="a unit with terminals hi and ret, or 'UNIT.high UNIT.return'",
            difference="it is one terminal: the return is missing",
            way_out=f"write '{unit}' alone, or '{strand.load[0]} {unit}.' with its return terminal",
        )
        return None
    through = reader.through(strand.through)
    made = []
    for text, role in zip(ends, ("hi", "ret"), strict=True):
        island, terminal = reader.end(text)
        entries = () if strand.parallel is None else getattr(strand.parallel, role)
        parallel = reader.conductors(entries)
        need = 0 if strand.parallel is None or not parallel else strand.parallel.need
        made.append(Conductor(text, island, STRUCTURE, terminal, NONE, through, parallel, need))
        if need > len(parallel):
            draft.error(
                "bad-value",
                (*path, "parallel", "need"),
                f"need is {need}, but {role} names {len(parallel)} conductors",
                expected=f"at most {len(parallel)}",
                difference=f"{need - len(parallel)} more than there are",
                way_out=f"name the other conductors in {role}, or lower need",
            )
    return made[0], made[1]


def _ends(string: StringLine) -> list[Conductor]:
    return [*(string.load or ()), *string.lines]


def _tell_apart(draft: Draft, strings: tuple[int, ...], path: Path) -> None:
    """Set what each line may not use: what a sibling with the same ends names as its own."""
    wiring = draft.wiring
    for s in strings:
        for line in _ends(wiring.strings[s]):
            for other in strings:
                if other == s:
                    continue
                for sibling in _ends(wiring.strings[other]):
                    if {sibling.a, sibling.b} != {line.a, line.b}:
                        continue
                    if not _same_source(wiring.strings[s], wiring.strings[other]):
                        continue
                    own = frozenset().union(*line.through, line.parallel)
                    its = frozenset().union(*sibling.through, sibling.parallel)
                    line.banned |= its - {line.a, line.b, STRUCTURE}
                    if not (own and its) and s < other:
                        lacking = [n for n, names in ((s, own), (other, its)) if not names]
                        _warn_alike(draft, (s, other), lacking, line.name, path)


def _same_source(one: StringLine, two: StringLine) -> bool:
    """Return whether two strings are not told apart by their feeds already."""
    return not (one.feeds and two.feeds) or not set(one.feeds).isdisjoint(two.feeds)


def _warn_alike(
    draft: Draft, pair: tuple[int, int], lacking: list[int], line: str, path: Path
) -> None:
    strings = draft.wiring.strings
    one, other = pair
    ids = " and ".join(strings[n].id for n in lacking)
    draft.error(
        "strings-not-told-apart",
        path,
        f"strings {strings[one].id} and {strings[other].id} have common ends and do not both "
        "say what they go through",
        expected="each names, with 'through', a half or contact of its own path",
        difference=f"{line} is in both, and {ids} {'say' if len(lacking) > 1 else 'says'} nothing",
        way_out=f"add 'through' to {ids}",
    )


def _order(draft: Draft) -> None:
    """Order the services so that needs come first; a cycle is a finding."""
    services = draft.wiring.services
    order: list[int] = []
    mark = [0] * len(services)
    for start in range(len(services)):
        stack = [(start, 0)]
        while stack:
            node, at = stack.pop()
            if mark[node] == 2:
                continue
            mark[node] = 1
            needs = services[node].needs
            if at < len(needs):
                stack.append((node, at + 1))
                below = needs[at]
                if mark[below] == 1:
                    mark[below] = 2
                    way = [services[n].id for n, _ in stack]
                    _circle(draft, way[way.index(services[below].id) :], services[node].path)
                elif mark[below] == 0:
                    stack.append((below, 0))
            else:
                mark[node] = 2
                order.append(node)
    draft.wiring.service_order = tuple(order)


def _circle(draft: Draft, ids: list[str], path: Path) -> None:
    """Note services that need one another in a circle; the last of them stands at ``path``."""
    pairs = zip(ids, [*ids[1:], ids[0]], strict=True)
    draft.error(
        "needs-cycle",
        (*path, "needs"),
        f"{' and '.join(ids)} need each other in a circle" if ids[1:] else f"{ids[0]} needs itself",
        expected="needs that form no circle",
        difference=", ".join(f"{one} needs {other}" for one, other in pairs) if ids[1:] else "",
        way_out=f"take one of these needs out, for instance that of {ids[-1]} for {ids[0]}",
    )
