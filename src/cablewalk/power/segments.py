"""Segments: which of them a conductor of a harness runs through, how long and how thick."""

from __future__ import annotations

from cablewalk.documents.harness import Harness


def segment_ends(document: Harness) -> dict[str, tuple[str, str]]:
    """Return segment to its two ends (legs or breakouts), those left unsaid included."""
    if document.segments:
        return {key: segment.between for key, segment in document.segments.items()}
    if len(document.legs) == 2:
        a, b = document.legs
        return {"main": (a, b)}
    return {key: (key, "breakout") for key in document.legs}


def used_segments(document: Harness, legs: list[str]) -> dict[str, tuple[str, str]]:
    """Return the segments a conductor runs through to join these legs: the paths from the first."""
    ends = segment_ends(document)
    beside: dict[str, list[tuple[str, str]]] = {}
    for key, (a, b) in ends.items():
        beside.setdefault(a, []).append((b, key))
        beside.setdefault(b, []).append((a, key))
    via: dict[str, tuple[str, str]] = {}
    queue = [legs[0]]
    for end in queue:
        for other, key in beside.get(end, ()):
            if other not in via and other != legs[0]:
                via[other] = (end, key)
                queue.append(other)
    used: dict[str, tuple[str, str]] = {}
    for leg in legs[1:]:
        end = leg
        while end in via:
            end, key = via[end]
            used[key] = ends[key]
    return used


def gauge_and_length(document: Harness, segment: str) -> tuple[int | None, float | None]:
    """Return gauge and length (m) of a segment, where the document tells.

    A segment takes the gauge of its harness where it has none; the harness's length is that of
    its one segment only.
    """
    own = document.segments.get(segment)
    if own is not None:
        gauge = own.gauge_awg if own.gauge_awg is not None else document.gauge_awg
        return gauge, own.length_m
    leg = document.legs.get(segment)
    return document.gauge_awg, leg.length_m if leg is not None else document.length_m
